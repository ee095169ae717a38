"""Parts that are named and are not on the machine: on order, wished for, somebody else's, or out again.

A name alone ("pods", "slip on") tells that a part is fitted, so this has to be seen from what stands beside it, with
nothing between but small words: "pods, jet kit is on order" has the pods on.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cached_property
from typing import Final

from carbdiag.reading.deed_text import CUT, WORD
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit

#: Characters around a part in which these words stand.
_AROUND: Final = 70
#: The last small words before an owner's verb, and the words in which he is named.
_OWNER: Final = 4


class PartsNotOnIt:
    """The parts of one post that are not on its machine."""

    def __init__(self, found: Found) -> None:
        self.found, self._book = found, found.book.parts_not_on
        self._firsts = sorted({h.first for h in (*found.content, *found.told) if self._is_a_part(h)})

    def why(self, hit: Hit) -> str:
        """Why a circumstance of a part does not hold, nor a look at one; empty where nothing says so."""
        if hit.meaning.kind == "check":
            return next((why for at in range(hit.first, hit.last + 1) if (why := self._off.get(at, ""))), "")
        return self._why(hit) if hit.meaning.kind == "context" and self.of_a_part(hit) else ""

    def fitted_after(self, hit: Hit) -> bool:
        """Whether a part is told as fitted after all, whatever leads to it: "ordered pods and fitted them"."""
        words, sentence = self._book.fitted_after, self.found.sentence(hit)
        if words is None or hit.meaning.kind != "context" or sentence.quoted or not self.of_a_part(hit):
            return False
        start, end = self.found.symbols.starts[hit.first], self.found.symbols.ends[hit.last] + _AROUND
        return words.search(self.found.small, start, min(end, sentence.end)) is not None

    @cached_property
    def _off(self) -> dict[int, str]:
        """By symbol, why the part named there is not on it: nor is it what a look found."""
        parts = (h for h in self.found.content if h.meaning.kind == "context" and self.of_a_part(h))
        told = ((h, self._why(h)) for h in parts if not h.meaning.more)
        return {at: why for h, why in told if why for at in range(h.first, h.last + 1)}

    @cached_property
    def _others_left_out(self) -> str:
        """The post with blanks where parts are named, over which words reach: "ordered a slip on and (a jet kit)"."""
        symbols, small = self.found.symbols, self.found.small.replace("\u2019", "'")
        pieces, upto = [], 0
        for hit in sorted(self.found.content, key=lambda h: (h.first, h.last)):
            start, end = symbols.starts[hit.first], symbols.ends[hit.last]
            named = hit.meaning.kind == "context" and hit not in self.found.told and self.of_a_part(hit)
            if named and start >= upto:
                pieces += [small[upto:start], " " * (end - start)]
                upto = end
        return "".join([*pieces, small[upto:]])

    def _why(self, hit: Hit) -> str:
        sentence, symbols = self.found.sentence(hit), self.found.symbols
        start, end = symbols.starts[hit.first], symbols.ends[hit.last]
        behind = self._others_left_out[end : min(end + _AROUND, sentence.end)]
        before = self._others_left_out[max(start - _AROUND, sentence.start) : start]
        if self._not_on(behind):
            return "supposed"
        if self._out_again(behind[: self._next_part(hit) - end]):
            return "past"
        if self._taken(CUT.split(self.found.small[max(start - _AROUND, sentence.start) : start])[-1]):
            return "past"
        if hit.meaning.more and self._was_on_before(hit, sentence.start):
            return "past"
        return self._before(CUT.split(before)[-1], behind)

    def _was_on_before(self, hit: Hit, begin: int) -> bool:
        """Whether a stock part is told as what was on until then: "pods on, (had the) stock airbox (before)"."""
        symbols, book, small = self.found.symbols, self._book, self.found.small
        start, end = symbols.starts[hit.first], symbols.ends[hit.last]
        before = CUT.split(small[max(start - _AROUND, begin) : start])[-1]
        if book.had.search(before) is None or book.until_then is None:
            return False
        behind = CUT.split(small[end : end + _AROUND])[0]
        return any(book.until_then.search(said) for said in (before, behind))

    def _next_part(self, hit: Hit) -> int:
        """The character at which what is said next begins: what is put back then may be that."""
        n = bisect_right(self._firsts, hit.last)
        return self.found.symbols.starts[self._firsts[n]] if n < len(self._firsts) else len(self.found.small)

    def _is_a_part(self, hit: Hit) -> bool:
        return hit in self.found.told or (
            hit.meaning.kind == "context" and not hit.meaning.more and self.of_a_part(hit)
        )

    def of_a_part(self, hit: Hit) -> bool:
        """Whether a circumstance is told by a part that is on the machine, or by work on one."""
        context, words = self.found.k.contexts[hit.meaning.record], self.found.book.deeds.words
        fitted = {*words.fitting, words.replacing}
        deeds = (deed for deeds in context.deeds.values() for deed in deeds)
        return not context.told_by_air and (context.set_up or any(not fitted.isdisjoint(d.did) for d in deeds))

    def _not_on(self, behind: str) -> bool:
        """Whether what follows says that it lies ready: "is on order", "but haven't fitted it yet"."""
        book = self._book
        for words, marks in ((book.not_on, ""), (book.later, ",")):
            said = words.search(behind) if words else None
            if said is not None and not (gap := behind[: said.start()]).count(marks or "\n") and self._between(gap):
                return True
        return False

    def _out_again(self, behind: str) -> bool:
        """Whether what follows says that all is as it was: "on, back to all stock now", no "back to stock jets"."""
        book = self._book
        said = book.out_again.search(behind) if book.out_again else None
        if said is None:
            return False
        rest = behind[said.end() :].lstrip()
        return not rest[:1].isalpha() or WORD.findall(rest)[0] in book.between

    def _before(self, before: str, behind: str) -> str:
        """Whether what leads to a part says that it is wished for, or is on another's machine."""
        book = self._book
        if book.planned.search(before) or (
            book.before_doing.search(before) and book.wanted is not None and book.wanted.search(behind)
        ):
            return "supposed"
        wishes = book.wished.finditer(before) if book.wished else ()
        fitted = book.fitted_after is not None and book.fitted_after.search(behind) is not None
        if not fitted and any(self._between(before[wish.end() :]) for wish in wishes):
            return "supposed"
        words = WORD.findall(before)
        while words and words[-1] in book.between and words[-1] not in book.owns:
            words.pop()
        others = words and words[-1] in book.owns and not book.owners.isdisjoint(words[-_OWNER:-1])
        return "other_machine" if others else ""

    def _taken(self, before: str) -> bool:
        """Whether the part is the very thing that was taken off: "took the (pods) off", "after trying (pods)"."""
        taken = self._book.taken.search(before) if self._book.taken else None
        if taken is None:
            return False
        # "took it off and put (pods) on" is no taking of pods
        words = WORD.findall(before[taken.end() :])
        return self._between(before[taken.end() :]) and self.found.deeds.book.joins.isdisjoint(words)

    def _between(self, said: str) -> bool:
        return self._book.between.issuperset(WORD.findall(said))
