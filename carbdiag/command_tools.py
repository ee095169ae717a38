"""What all commands share: reading what comes in, writing what goes out, and refusing what cannot be used."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from carbdiag.answers.untrusted import printable
from carbdiag.errors import CarbdiagError, CaseError
from carbdiag.field_problems import field_problems, refused_yaml
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

#: The exit statuses of commands.
FINE, OUR_FAULT, BAD_INPUT = 0, 1, 2
STANDARD_INPUT: Final = "-"
_MOST_BYTES = 64 * 1024


class BadInputError(CarbdiagError):
    """What was given cannot be used; one problem a line."""

    def __init__(self, problems: Iterable[object]) -> None:
        self.problems = tuple(str(p) for p in problems)
        super().__init__("\n".join(self.problems))


def read_named(name: str) -> str:
    """The text of a case file, or of standard input.

    Raises:
        BadInputError: there is no such file, or it cannot be read, is too large or is not UTF-8.
    """
    where = "standard input" if name == STANDARD_INPUT else name
    try:
        if name == STANDARD_INPUT:
            raw = sys.stdin.buffer.read(_MOST_BYTES + 1)
        else:
            with Path(name).open("rb") as file:
                raw = file.read(_MOST_BYTES + 1)
    except FileNotFoundError:
        raise BadInputError([f"{where}: there is no such file"]) from None
    except IsADirectoryError:
        raise BadInputError([f"{where}: is a folder; give a case file"]) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise BadInputError([f"{where}: cannot be read ({why})"]) from None
    if len(raw) > _MOST_BYTES:
        raise BadInputError([f"{where}: is larger than 64 KiB, the most that is read"])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInputError([f"{where}: is not UTF-8 text (byte {error.start})"]) from None


def parsed(text: str) -> object:
    """The data of a request file.

    Raises:
        CaseError: it is not YAML that carbdiag takes.
    """
    try:
        return parse_yaml(text)
    except YamlRefusedError as error:
        raise CaseError([refused_yaml(error, "request")]) from None


def valid(data: object, model: type[Any]) -> Any:
    """A request from its data.

    Raises:
        CaseError: listing every problem of it.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise CaseError(field_problems(error.errors(include_url=False), model, "request")) from None


def write_json(value: object) -> None:
    """Print a value as JSON."""
    # Plain ASCII: no text inside can steer a terminal, and no encoding can break it.
    print(json.dumps(value, indent=2, ensure_ascii=True, default=str))


def tell(line: str) -> None:
    """Print a line for a person to standard error."""
    print(printable(line), file=sys.stderr)
