"""What a post only sets up as a case: "if the plug is white I'll go up two", and questions it answers: "wet plug, no".

Such words hold a sign or what a check found, but tell of none: the first is a plan for what may be found, the second
says by its answer that it was not.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post
from carbdiag.reading.wordlist import any_of

#: Characters before a statement in which its "if" stands, and behind it in which what would be done then stands.
_BEFORE: Final = 24
_BEHIND: Final = 90
#: Words of a sign that its phrase left out, before the mark that leads to "none".
_MORE: Final = 5
_WORD: Final = re.compile(r"[\w'’]+")
_SENTENCE_END: Final = re.compile(r"[.;!?\n]")


def _answer(words: Sequence[str], before: str) -> re.Pattern[str] | None:
    said = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    mark = r"\s*(?:[,;?:\u2013\u2014\u2026=-]+|\.{2,}|\()\s*"
    return re.compile(rf"{before}{mark}(?:{said})\s*(?=[.,;:!)\n]|$)") if said else None


class Answered:
    """Tells which statements are cases that may be, or are answered with no."""

    def __init__(self, post: Post) -> None:
        self._post = post
        looks = post.book.language.looks
        self._between = looks.if_between | looks.determiners
        self._then = any_of(looks.if_so_then)
        self._no = _answer(looks.answers_no, "")
        more = rf"(?:\s+[\w'/]+){{0,{_MORE}}}"
        self._none = _answer(looks.answers_none, more)
        self._none_or_no = _answer((*looks.answers_none, *looks.answers_no), more)

    def no(self, hit: Hit) -> bool:
        """Whether "no" stands alone right behind: "water in the gas, no"."""
        end = self._post.symbols.ends[hit.last]
        return self._no is not None and self._no.match(self._post.small, end) is not None

    def none(self, hit: Hit) -> bool:
        """Whether a sign is told not to be there behind a mark and what its phrase leaves out: "hiss at idle: none"."""
        end = self._post.symbols.ends[hit.last]
        # of a check or a circumstance "no" may answer something else: "cleared the cap vent as well, nope"
        words = self._none_or_no if hit.meaning.kind == "finding" else self._none
        return words is not None and words.match(self._post.small, end) is not None

    def a_case(self, hit: Hit) -> bool:
        """Whether it is what may be found, with what would be done then: "if (the plug is white) I'll go up"."""
        if self._then is None:
            return False
        small, sentence = self._post.small, self._post.sentence(hit)
        start, end = self._post.symbols.starts[hit.first], self._post.symbols.ends[hit.last]
        said = _WORD.findall(small[max(sentence.start, start - _BEFORE) : start])
        while said and said[-1] in self._between:
            said.pop()
        if not said or said[-1] not in self._post.book.language.looks.conditions:
            return False
        behind = _SENTENCE_END.split(small[end : end + _BEHIND].replace("’", "'"), maxsplit=1)[0]
        return self._then.search(behind) is not None
