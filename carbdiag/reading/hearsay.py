"""What others think or say is wrong, which the poster did not find: "my dad swears it's a stuck float".

A guess of somebody else is no finding, whoever he is. What somebody saw or heard is one ("my wife says it smokes"), and
so is what a workshop measured, so the verb tells how much of what follows it is set aside.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from typing import Final, NamedTuple

from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post

#: Characters before a verb in which those stand of whom it tells.
_BEFORE: Final = 60
#: Characters before a sign in which the word stands that tells it is known: "says (the) popping is normal".
_NEAR: Final = 8
#: Words of them.
_SPEAKER: Final = 8
_MARK: Final = re.compile(r"[.;:!?\n(]|--|,(?= *(?:and|but|so) )")
_WORD: Final = re.compile(r"[^\W_][\w'’]*")


class Heard(NamedTuple):
    """What somebody else is told to think or to say, from one character up to another."""

    start: int
    end: int
    thinks: bool
    """He only thinks so; otherwise he says it, which may be what he saw."""
    names: bool
    """He names a thing ("says a stuck float") and does not tell what it does ("says it smokes")."""


class Hearsay:
    """What in a post others think or say."""

    def __init__(self, post: Post) -> None:
        self._post = post
        self._heard = list(self._find())
        self._starts = [heard.start for heard in self._heard]

    def __call__(self, hit: Hit) -> bool:
        """Whether a statement is only somebody else's guess."""
        start = self._post.symbols.starts[hit.first]
        n = bisect_right(self._starts, start) - 1
        if n < 0 or self._heard[n].end < self._post.symbols.ends[hit.last]:
            return False
        heard, meaning, words = self._heard[n], hit.meaning, self._post.book.language.hearsay
        if meaning.kind == "finding":
            # whoever knows engines may judge the mixture: that is what the sign asks; and "the bog" is there
            there = _WORD.findall(self._post.small[max(start - _NEAR, 0) : start])[-1:]
            own = meaning.record in words.judged or any(word in words.known_by for word in there)
            return not own and (heard.thinks or heard.names)
        return heard.thinks or heard.names or meaning.kind != "context"

    def _find(self) -> Iterator[Heard]:
        words, small = self._post.book.language.hearsay, self._post.small
        known = {word for phrase in words.knows for word in phrase.split()}
        for kind, start, end in sorted(self._post.book.hearsay.standing(small), key=lambda found: found[1]):
            before = small[max(start - _BEFORE, 0) : start].replace("’", "'")
            marks = [mark.end() for mark in _MARK.finditer(before)]
            speaker = _WORD.findall(before[marks[-1] :] if marks else before)[-_SPEAKER:]
            near = [word for word in speaker if word not in words.between]
            if not near or near[-1] in words.oneself or near[-1] in words.no_speaker or not known.isdisjoint(speaker):
                continue
            left_out = before.rstrip().endswith(",") and not any(word in words.whose for word in speaker)
            if left_out or (kind == "many" and near[-1] not in words.many):
                continue
            stop = self._post.book.hearsay_ends.search(small, end) if self._post.book.hearsay_ends else None
            sentence = self._post.symbols.sentences[self._sentence_at(start)]
            last = min(stop.start() if stop else len(small), sentence.end)
            said = _WORD.findall(small[end:last].replace("’", "'"))[:3]
            while said and said[0] in words.links:
                said.pop(0)
            tells = bool(said) and said[0] in words.tells and not (len(said) > 1 and said[1] in words.names)
            yield Heard(end, last, kind != "says", not tells)

    def _sentence_at(self, at: int) -> int:
        return max(bisect_right(self._post.sentence_starts, at) - 1, 0)
