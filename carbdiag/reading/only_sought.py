"""Whether what a check would show is only looked for: planned, advised or told as a rule, and not found.

"See if the revs change", "check the float for fuel inside" and "a loose main jet would do that" hold the words of an
outcome, but nobody looked.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Final

from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post
from carbdiag.reading.wordlist import any_of, one_of

#: Characters before a hit in which the words that make it a plan stand.
_BEFORE: Final = 40
#: Characters behind it in which those that make it a rule, or a conclusion, stand.
_BEHIND: Final = 16
#: Characters on either side of it in which the rest of its sentence is looked at: a text may be one sentence.
_AROUND: Final = 240
_WORD: Final = re.compile(r"[\w'’/]+")
_LAST_WORDS: Final = 2


class OnlySought:
    """What of a post's checks was only looked for."""

    def __init__(self, post: Post) -> None:
        self._post = post
        words = post.book.language.looks
        self._words = words
        self._to_see, self._until = any_of(words.to_see), any_of(words.until)
        self._clause_end = re.compile(rf"[,;:(]| (?:{one_of(words.clause_ends)}) ")
        self._intends = tuple(f" {plan} " for plan in words.intends)
        self._guesses = tuple(f" {guess} " for guess in words.guesses)
        self._another, self._oneself = any_of(words.to_another), any_of(words.of_oneself)

    def __call__(self, hit: Hit) -> bool:
        """Whether a check is told, but not what came of it."""
        start, end = self._post.symbols.starts[hit.first], self._post.symbols.ends[hit.last]
        sentence = self._post.sentence(hit)
        before = self._post.small[max(sentence.start, start - _BEFORE) : start]
        behind = self._post.small[end : min(sentence.end, end + _BEHIND)]
        inside = self._between(hit)
        return (
            (hit.last not in self._post.symbols.values and self._doubted(inside))
            or self._to_be_seen(before, self._post.small[start:end])
            or self._ordered(hit, inside)
            or self._searched(before, inside)
            or self._intended(before)
            or self._guessed(before)
            or self._a_rule(before, behind)
            or self._concluded(hit, behind)
            or self._to_another(max(sentence.start, start - _AROUND), min(sentence.end, end + _AROUND))
        )

    def _between(self, hit: Hit) -> str:
        """What stands within a hit and is no word of the statement."""
        symbols, text = self._post.symbols, self._post.small
        own = [at for first, last in hit.parts for at in range(first, last + 1)]
        return " ".join(text[symbols.ends[a] : symbols.starts[b]] for a, b in pairwise(own))

    def _to_another(self, low: int, high: int) -> bool:
        """Whether a sentence speaks of somebody else's machine: "sounds like your hose is cracked"."""
        told = self._another is not None and self._another.search(self._post.small, low, high) is not None
        return told and (self._oneself is None or self._oneself.search(self._post.small, low, high) is None)

    def _doubted(self, inside: str) -> bool:
        """Whether it only should be so: "watch the squirt, it should be strong", but "opens as it should"."""
        said = _WORD.findall(inside)
        return any(
            word in self._words.doubts and not self._words.as_it_should.intersection(said[max(n - 2, 0) : n])
            for n, word in enumerate(said)
        )

    def _to_be_seen(self, before: str, said: str) -> bool:
        """Whether the outcome is what there is to see: "spray it and see if the revs change"."""
        if self._to_see is None:
            return False
        if any(tested in said for tested in self._words.tests):
            return True  # "take it out and shake it, if it sloshes it's bad"
        for text, reach in ((before, _LAST_WORDS), (said, len(said))):
            for found in self._to_see.finditer(text):
                rest = text[found.end() :]
                if "," not in rest and " and " not in rest and len(_WORD.findall(rest)) <= reach:
                    return True
        return False

    def _ordered(self, hit: Hit, inside: str) -> bool:
        """Whether the clause tells somebody to look: "check that the plunger seats", "turn it in until it drops"."""
        symbols, text = self._post.symbols, self._post.small
        first = self._post.clause_first(hit)
        start, end = symbols.starts[first], symbols.ends[hit.last]
        if end - start > 2 * _AROUND:
            return False
        begins = max(self._post.sentence(hit).start, symbols.ends[first - 1] if first else 0)
        opening = _WORD.findall(text[begins : symbols.ends[first]])
        if not opening or opening[0] not in self._words.orders or "," in text[start:end]:
            return bool(
                opening
                and hit.first == self._post.sentence(hit).first == first
                and opening[0] in self._words.deeds
                and self._until is not None
                and self._until.search(inside)
            )
        return not self._words.found_so.intersection(_WORD.findall(text[start:end]))

    def _searched(self, before: str, inside: str) -> bool:
        """Whether it is what somebody looked for: "checked the float for fuel inside"."""
        said, within = _WORD.findall(before), _WORD.findall(inside)
        if not self._words.looking.intersection((*said, *within)):
            return False
        return bool(self._words.sought.intersection((*said[-_LAST_WORDS:], *within)))

    def _intended(self, before: str) -> bool:
        """Whether somebody means to do it: "I will (swap the coils ...)"."""
        words = _WORD.findall(before)
        while words and words[-1] in self._words.determiners:
            words.pop()
        said = " ".join(words).replace("’", "'")
        return f" {said} ".endswith(self._intends)

    def _guessed(self, before: str) -> bool:
        """Whether it is what somebody took it to be before anybody looked: "probably a (gummed up jet)"."""
        clause = f" {' '.join(_WORD.findall(self._clause_end.split(before)[-1]))} ".replace("’", "'")
        return any(guess in clause for guess in self._guesses)

    def _a_rule(self, before: str, behind: str) -> bool:
        """Whether it is said of engines at large: "a (worn needle jet) makes it rich"."""
        if self._words.doubts.intersection(_WORD.findall(behind)[:1]):
            return True  # "no air should pass"
        article = bool(self._words.articles.intersection(_WORD.findall(before)[-1:]))
        return article and bool(self._words.rules.intersection(_WORD.findall(behind)[:1]))

    def _concluded(self, hit: Hit, behind: str) -> bool:
        """Whether it is what a condition would tell: "if it (runs better with choke) it's lean"."""
        symbols, text = self._post.symbols, self._post.small
        sentence = self._post.sentence(hit)
        start = symbols.starts[hit.first]
        said = _WORD.findall(text[max(sentence.start, start - _AROUND) : start])
        if not self._words.conditions.intersection(said):
            return False
        if not self._words.of_oneself.isdisjoint(said):
            return False  # "if I (pull the choke it picks up)"
        then = bool(self._words.then.intersection(said))
        told = " ".join(_WORD.findall(behind)).replace("’", "'")
        return then or any(told.startswith(conclusion) for conclusion in self._words.concludes)
