"""What can go wrong, as a tree.

CarbdiagError
├── KnowledgeError      a knowledge file is broken; carries every mistake found
├── CaseError           a case says something the knowledge cannot take; carries every problem found
├── OutOfRangeError     a number is outside its range: a quantity a formula does not hold for, more steps than there are
└── ReadingMissingError the extra that reads posts is not installed

Every error keeps the offending values as attributes, so the service and other programs can use them.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace


class CarbdiagError(Exception):
    """Base of everything this library raises on purpose."""


def must_be(value: object, kind: type, hint: str = "") -> None:
    """Refuse what is of another type before it fails deep inside, where nobody sees why.

    Args:
        hint: what to pass instead; without it, how a model of this kind is made of a dict.

    Raises:
        TypeError: with the hint.
    """
    if not isinstance(value, kind):
        name = kind.__name__
        hint = hint or f"it takes a {name}: {name}.model_validate(data) makes one of a dict"
        article = "an" if type(value).__name__[:1] in "aeiou" else "a"
        raise TypeError(f"{hint}; this is {article} {type(value).__name__}")


@dataclass(frozen=True)
class Mistake:
    """One mistake in a knowledge file: where, which rule, what was found, what would be right."""

    file: str
    field: str
    rule: str
    found: str = ""
    nearest: str = ""
    line: int | None = None
    allowed: tuple[str, ...] = ()

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        text = f"{place}: {self.field}: {self.rule}"
        if self.found:
            text += f"; found {self.found}"
        return text + _what_is_right(text, self.nearest, self.allowed)


_MOST_ALLOWED = 12


def _what_is_right(text: str, near: str, allowed: tuple[str, ...]) -> str:
    """The end of a message: the nearest right word and those allowed; a long list only where none of it is near."""
    out = f"; did you mean {near}?" if near else ""
    if allowed and (len(allowed) <= _MOST_ALLOWED or not near):
        more = f" and {len(allowed) - _MOST_ALLOWED} more" if len(allowed) > _MOST_ALLOWED else ""
        stop = "" if (text + out).endswith(("?", ".")) else "."
        out += f"{stop} Allowed: {', '.join(allowed[:_MOST_ALLOWED])}{more}."
    return out


class KnowledgeError(CarbdiagError):
    """The knowledge cannot be used; `mistakes` lists all that is wrong with it."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("\n".join(str(m) for m in self.mistakes))


@dataclass(frozen=True)
class Problem:
    """One problem in a case: the field, the value, what is allowed, the nearest match."""

    field: str
    message: str
    value: str = ""
    allowed: tuple[str, ...] = ()
    nearest: str = ""

    def __str__(self) -> str:
        text = f"{self.field}: {self.message}"
        told = {*re.findall(r"[\w.+-]+", self.message), self.field.rpartition(".")[2]}
        if self.value and self.value not in told and repr(self.value) not in self.message:
            text += f", got {self.value!r}"
        return text + _what_is_right(text, self.nearest, self.allowed)


class CaseError(CarbdiagError, ValueError):
    """A case, or a request, cannot be answered as it stands; `problems` lists all that is wrong with it.

    It is a ValueError too. `str(error)` has one line a problem.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


@contextmanager
def inside(field: str) -> Iterator[None]:
    """Name the field of a request in which a part stands that cannot be used."""
    try:
        yield
    except CaseError as error:
        raise CaseError(replace(p, field=f"{field}.{p.field}") for p in error.problems) from None


class OutOfRangeError(CarbdiagError, ValueError):
    """A number lies outside its range, such as that of a formula: `quantity`, `value`, `low`, `high`, `unit`."""

    def __init__(self, quantity: str, value: float, low: float, high: float, unit: str) -> None:
        self.quantity, self.value, self.low, self.high, self.unit = quantity, value, low, high, unit
        space = f" {unit}" if unit else ""
        super().__init__(f"{quantity} must be from {low:g} to {high:g}{space}, got {value:g}{space}")


def nearest(value: str, allowed: Iterable[str], names: Mapping[str, str] | None = None) -> str:
    """Return the allowed word most like `value`, or an empty string when none is near.

    By spelling first; then, where `names` says what each word stands for, by words in any order.

    >>> nearest("Pilot_jet_bloked", ["pilot_jet_blocked", "intake_leak"])
    'pilot_jet_blocked'
    >>> nearest("hanging", ["hard_to_start", "revs_hang"], {"hard_to_start": "Hard to start", "revs_hang": "Revs hang"})
    'revs_hang'
    >>> nearest("mostly", ["almost_always", "usually"])  # a word that begins otherwise must be more alike
    ''
    """
    words, value = list(allowed), value[:200].lower()
    by_spelling = _like(value, words)
    if names is None or (by_spelling and difflib.SequenceMatcher(None, value, by_spelling).ratio() >= _SURELY):
        return by_spelling
    return _by_words(value, {w: names.get(w, "") for w in words}) or by_spelling


def _like(value: str, words: list[str]) -> str:
    """The word spelled most like `value`, or an empty string; one that begins otherwise must be more alike."""
    for word in difflib.get_close_matches(value, words, n=3, cutoff=_ALIKE):
        if word[:1] == value[:1] or difflib.SequenceMatcher(None, value, word).ratio() >= _ALIKE_BUT_BEGINS_OTHERWISE:
            return word
    return ""


_ALIKE, _ALIKE_BUT_BEGINS_OTHERWISE, _SURELY = 0.6, 0.7, 0.85


def _by_words(value: str, names: Mapping[str, str]) -> str:
    """The id that shares at least half the words of `value`, itself or by its name; a word is its beginning.

    Rare words count more, words of the id more than those of the name, and then the spelling.
    """
    wanted = _beginnings(value)
    own = {identity: wanted & _beginnings(identity) for identity in names}
    shared = {identity: own[identity] | (wanted & _beginnings(name)) for identity, name in names.items()}
    worth = {w: sum(w in s for s in shared.values()) ** -0.5 for w in wanted if any(w in s for s in shared.values())}
    near = {
        i: sum(worth[w] * (3 if w in own[i] else 1) for w in s) + difflib.SequenceMatcher(None, value, i).ratio()
        for i, s in shared.items()
        if 2 * len(s) >= len(wanted) > 0
    }
    return max(near, key=lambda i: near[i], default="")


def _beginnings(text: str) -> set[str]:
    return {w[:4] for w in re.findall("[a-z]+", text.lower()) if len(w) > 2}


class ReadingMissingError(CarbdiagError):
    """The libraries that reading posts needs are not installed: pip install 'carbdiag[reading]'."""
