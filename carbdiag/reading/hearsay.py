"""What others think or say is wrong, which the poster did not find: "my dad swears it's a stuck float".

A guess of somebody else is no finding, whoever he is. What somebody saw or heard is one ("my wife says it smokes"), and
so is what a workshop measured, so the verb tells how much of what follows it is set aside.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from typing import Final, NamedTuple

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit

#: Characters before a verb in which those stand of whom it tells.
_BEFORE: Final = 60
#: Characters before a sign in which the word stands that tells it is known: "says (the) popping is normal".
_NEAR: Final = 8
#: Characters behind it over which what he says goes on: a text may be one sentence.
_BEHIND: Final = 400
#: Words of those of whom it tells.
_SPEAKER: Final = 8
_WORD: Final = re.compile(r"[^\W_][\w'’]*")


class Heard(NamedTuple):
    """What somebody else is told to think or to say, from one character up to another."""

    start: int
    end: int
    thinks: bool
    """He only thinks so; otherwise he says it, which may be what he saw."""
    names: bool
    """He names a thing ("says a stuck float") and does not tell what it does ("says it smokes")."""
    knows: bool
    """He looked at the machine, or knew it before: what he found counts, what he would do is not done."""


class Hearsay:
    """What in a post others think or say."""

    def __init__(self, post: Found) -> None:
        self._post = post
        self._heard = list(self._find())
        self._starts = [heard.start for heard in self._heard]

    def __call__(self, hit: Hit) -> bool:
        """Whether a statement is only somebody else's guess: "(another) one says (crank seals)"."""
        start = self._post.symbols.starts[hit.first if hit.meaning.kind in ("finding", "check") else hit.parts[-1][0]]
        n = bisect_right(self._starts, start) - 1
        if n < 0 or self._heard[n].end < self._post.symbols.ends[hit.last]:
            return False
        heard, kind, book = self._heard[n], hit.meaning.kind, self._post.book.hearsay
        if heard.knows:
            return heard.names and kind != "check" and hit in self._post.told
        if kind == "finding":
            there = _WORD.findall(self._post.small[max(start - _NEAR, 0) : start])[-1:]
            known = hit.first == hit.last and not book.known_by.isdisjoint(there)
            return not known and (heard.thinks or heard.names)  # "says (the) popping is normal"
        return heard.thinks or heard.names or kind != "context"

    def _find(self) -> Iterator[Heard]:
        """What others are told to think or say, in order."""
        book, small = self._post.book.hearsay, self._post.small
        for kind, start, end in sorted(book.verbs.standing(small), key=lambda found: found[1]):
            speaker = self._speaker(start, kind == "many")
            if not speaker:
                continue
            sentence = self._post.symbols.sentences[max(bisect_right(self._post.sentence_starts, start) - 1, 0)]
            furthest = min(sentence.end, end + _BEHIND)
            stop = book.ends.search(small, end, furthest) if book.ends else None
            last = stop.start() if stop else furthest
            said = [word for word in _words(small[end:last])[:_SPEAKER] if word not in book.links]
            tells = said[:1] and said[0] in book.tells and not book.names.intersection(said[1:2])
            yield Heard(end, last, kind != "says", not tells, not book.knows.isdisjoint(speaker))

    def _speaker(self, verb: int, many: bool) -> list[str]:
        """The words before a verb that name somebody else who thinks or says so; none where nobody does."""
        book, before = self._post.book.hearsay, self._post.small[max(verb - _BEFORE, 0) : verb]
        marks = [mark.end() for mark in book.marks.finditer(before)]
        speaker = _words(before[marks[-1] :] if marks else before)[-_SPEAKER:]
        near = next((word for word in reversed(speaker) if word not in book.between), "")
        if not near or near in book.nobody or (many and book.many.isdisjoint(speaker)):
            return []
        return speaker if not before.rstrip().endswith(",") or not book.whose.isdisjoint(speaker) else []


def _words(text: str) -> list[str]:
    return [word.replace("’", "'") for word in _WORD.findall(text)]
