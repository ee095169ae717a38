"""A case as a file: written whole or not at all, so that a walk can stop at any moment and go on later."""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import yaml

from carbdiag.case_schema import Case
from carbdiag.knowledge import load_case
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

_STATEMENTS = ("contexts", "findings", "checks", "readings", "trials")


def case_text(case: Case, *, as_json: bool, heading: str = "", width: int = 120) -> str:
    """A case as YAML or JSON, with nothing in it that is left out by default; it reads back as the same case."""
    data: dict[str, Any] = case.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    if as_json:
        text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    else:
        style: dict[str, Any] = {"sort_keys": False, "allow_unicode": True, "width": width, "default_flow_style": None}
        text = heading + (yaml.dump(_in_lines(data), Dumper=_Dumper, **style) if data else "{}\n")
    if load_case(text) != case:
        raise ValueError("the case does not read back as it was written")
    return text


class _Line(dict[str, Any]):
    """A statement, written in one line."""


class _Dumper(yaml.SafeDumper):
    """As the safe one, with statements in one line each."""


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    """Quoted where our strict reader takes more for a number or a surprise than the writer thinks ("n", "1e3")."""
    try:
        plain = parse_yaml(text) == text
    except YamlRefusedError:
        plain = False
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=None if plain else '"')


_Dumper.add_representer(str, _text)
_Dumper.add_representer(_Line, lambda dumper, line: dumper.represent_mapping("tag:yaml.org,2002:map", line, True))


def _in_lines(data: dict[str, Any]) -> dict[str, Any]:
    """The same, with every statement of every epoch marked to stand in one line."""
    out = {**data, **{kind: [_Line(s) for s in data[kind]] for kind in _STATEMENTS if kind in data}}
    return {**out, "epochs": [_in_lines(e) for e in data["epochs"]]} if "epochs" in data else out


def heading_of(text: str) -> str:
    """The comment lines at the head of a case file; they are kept when it is written anew."""
    lines = []
    for line in text.splitlines(keepends=True):
        if not line.startswith("#") and line.strip():
            break
        lines.append(line if line.endswith("\n") else line + "\n")
    return "".join(lines) if any(line.startswith("#") for line in lines) else ""


def write_whole(file: Path, text: str) -> None:
    """Put a text in place of a file in one move: whoever reads it sees the old or the new, never a part.

    Raises:
        OSError: the folder or the file cannot be written; what was there is untouched.
    """
    target = file.resolve()
    descriptor, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_mask())
        os.replace(temporary, target)
    except BaseException:
        with suppress(OSError):
            os.unlink(temporary)
        raise
    with suppress(OSError):  # not every file system lets a folder be synced
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
