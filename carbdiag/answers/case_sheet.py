"""A reading as a case file to put right by hand: one statement a line, with the words it was read from beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from carbdiag.case_file import case_text
from carbdiag.reading import case_of
from carbdiag.reading_schema import Said, TextReading

_HEADING = (
    "# Read from a post. Strike out or put right what is wrong, add what is missing (carbdiag list findings WORD),\n"
    "# then: carbdiag diagnose THIS_FILE, or carbdiag walk THIS_FILE\n"
)
_STATEMENT = re.compile(r"\s*- \{(?:finding|context|check|do|change): (\w+)\b")
_LONGEST = 160


def case_sheet(reading: TextReading) -> str:
    """The case of a reading as YAML, with comments: what to do with it, the words of the post, what was not understood.

    The comments change nothing: it reads back as `case_of(reading)`.
    """
    said = {record: list(words) for record, words in _words(reading).items()}
    lines = []
    for line in case_text(case_of(reading), as_json=False, heading=_HEADING, width=10_000).splitlines():
        told = _STATEMENT.match(line)
        words = said.get(told[1]) if told else None
        lines.append(f"{line}  # {words.pop(0)}" if words else line)
    lines += [f"# not understood: {_quoted([part])}" for part in reading.not_understood]
    return "\n".join(lines) + "\n"


def _words(reading: TextReading) -> Mapping[str, list[str]]:
    """Record -> the words of each statement about it, in the order of the case."""
    out: dict[str, list[str]] = {}
    for record, said in _statements(reading):
        out.setdefault(record, []).append(_quoted(said))
    return out


def _statements(reading: TextReading) -> Iterator[tuple[str, tuple[Said, ...]]]:
    for epoch in range(reading.epochs):
        yield from ((f.finding, f.said) for f in reading.findings if f.epoch == epoch)
        yield from ((c.check, c.said) for c in reading.checks if c.epoch == epoch)
        yield from ((t.do or t.change or "", t.said) for t in reading.trials if t.epoch == epoch)
    yield from ((c.context, c.said) for c in reading.contexts)


def _quoted(said: Iterable[Said]) -> str:
    """Words of the post in one line that no parser trips over."""
    words = max((part.words for part in said), key=len, default="")
    plain = "".join(c for c in " ".join(words.split()) if c.isprintable())
    return f"“{plain if len(plain) <= _LONGEST else plain[: _LONGEST - 1] + '…'}”"
