"""The commands `carbdiag bands` and `carbdiag list`: what the knowledge says."""

from __future__ import annotations

import argparse
import re
import sys
import textwrap
from collections.abc import Callable
from typing import Any

from carbdiag.answers.band_text import bands_to_text
from carbdiag.answers.layout import WIDTH
from carbdiag.answers.untrusted import printable
from carbdiag.band_view import band_table
from carbdiag.command_tools import FINE, BadInputError, write_json
from carbdiag.knowledge import Knowledge, shipped_knowledge


def bands(chosen: argparse.Namespace) -> int:
    """Print the table of a kind of carburetor; the status is the command's."""
    table = band_table(chosen.family, chosen.strokes)
    if chosen.json:
        write_json(table.model_dump(mode="json", by_alias=True))
    else:
        sys.stdout.write(bands_to_text(table))
    return FINE


def ids(chosen: argparse.Namespace) -> int:
    """Print the ids a case is written with; the status is the command's."""
    k = shipped_knowledge()
    records = _records(k, chosen.what)
    if chosen.word:
        word = chosen.word.casefold()
        records = _saying(records, word) or _read_from(k, chosen.what, records, word)
        if not records:
            all_of_them = f"carbdiag list {chosen.what} shows all of them"
            raise BadInputError([f"nothing among the {chosen.what} says {chosen.word!r}; {all_of_them}"])
    if chosen.json:
        write_json(records)
        return FINE
    widest = max(len(str(r["id"])) for r in records)
    for record in records:
        print(f"{record['id']:<{widest}}  {printable(str(record['name']))}")
        for key, value in record.items():
            if key not in ("id", "name"):
                said = ", ".join(str(v) for v in value) if isinstance(value, list) else str(value)
                indent = " " * (widest + 4)
                print(
                    textwrap.fill(
                        printable(f"{key}: {said}"),
                        WIDTH,
                        initial_indent=indent,
                        subsequent_indent=indent + "  ",
                    )
                )
    return FINE


def _saying(records: list[dict[str, Any]], word: str) -> list[dict[str, Any]]:
    """The records with a word that begins so; where there is none, those that have it anywhere."""
    for pattern in (_from_its_beginning(word), re.escape(word)):
        found = [r for r in records if any(re.search(pattern, str(v).casefold()) for v in r.values())]
        if found:
            return found
    return []


def _read_from(k: Knowledge, what: str, records: list[dict[str, Any]], word: str) -> list[dict[str, Any]]:
    """The records that a post is read as which says this word: riders say pipe and altitude."""
    read, pattern = getattr(k, what), _from_its_beginning(word)

    def told(identity: str) -> str:
        record = read[identity]
        return f"{getattr(record, 'phrases', '')} {getattr(record, 'spoken', '')}".casefold()

    return [r for r in records if re.search(pattern, told(r["id"]))]


def _from_its_beginning(word: str) -> str:
    return rf"(?<![^\W_]){re.escape(word)}"


def _records(k: Knowledge, what: str) -> list[dict[str, Any]]:
    """What a person needs to write a case: id, name, and the words that go with it."""
    more: dict[str, Callable[[Any], dict[str, Any]]] = {
        "findings": lambda r: {"ask": r.ask, "at": list(r.at)},
        "contexts": lambda r: {"ask": r.ask},
        "checks": lambda r: {"outcome": list(r.outcomes)} | ({"at": [*r.at, *r.weak_at]} if r.at else {}),
        "causes": lambda r: {"group": r.group},
        "circuits": lambda r: {"step": r.step},
        "families": lambda r: {"strokes": list(r.strokes), "circuits": list(r.circuits)},
    }
    say = more.get(what, lambda _: {})
    return [{"id": r.id, "name": r.name, **say(r)} for r in getattr(k, what).values()]
