"""The verbs, parts and verdicts that stand in a text, where its clauses end, and the words around them."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Container, Iterable, Sequence
from typing import Final

from carbdiag.reading.deed_book import DeedBook, How
from carbdiag.reading.matcher import Hit
from carbdiag.reading.spans import PLACE
from carbdiag.reading.symbols import SymbolText
from carbdiag.reading.wordlist import small_letters

LISTED: Final = 2
#: Effects that a colon may lead to from a part, though they count only as a clause of their own.
GRADED: Final = ("better", "worse")
#: Words after a verb and its part that may say which way.
AFTER: Final = 4
#: Characters and words looked back over for "going to", "should have", "since I".
BACK: Final = 70
LOOK_BACK: Final = 8
#: Numbers that tell a change of size.
PAIR: Final = 2
#: Characters behind a word in which a colon still ends it.
_COLON: Final = 2
WORD: Final = re.compile(r"[^\W\d_]+(?:['’`´][^\W\d_]+)*")
_NEXT: Final = re.compile(rf" *({WORD.pattern})")
BLANK: Final = re.compile(r"\s*")
CUT: Final = re.compile(r"[,;:.!?()\n]")


class Item:
    """A part as it stands in a list of parts, and what is said of it."""

    def __init__(self, hits: list[Hit]) -> None:
        self.hits = hits
        self.first, self.last = hits[0].first, hits[0].last
        self.verbs: list[Hit] = []
        self.before: list[Hit] = []
        self.behind: list[Hit] = []
        """The verdicts before and behind it."""

    @property
    def verdicts(self) -> list[Hit]:
        """All verdicts, those before it first."""
        return [*self.before, *self.behind]


class DeedText:
    """The words of deeds in one text."""

    def __init__(self, book: DeedBook, text: str, symbols: SymbolText, hits: dict[str, list[Hit]]) -> None:
        self.book, self.text, self.symbols = book, text, symbols
        self.breaks = sorted(symbols.breaks)
        small = small_letters(text)
        self._said = [small[start:end] for start, end in zip(symbols.starts, symbols.ends, strict=True)]
        """The words of each symbol as written, in small letters."""
        told = self._find_effects(hits)
        self._find_words(hits, told)
        self._keep_words_of_deeds()
        self.negators: Sequence[int] = ()
        """Where words of denial stand, in order."""
        self._planned: set[int] = set()
        """Where verbs stand that the words before their part make a plan."""
        self._undone: dict[int, bool] = {}
        self._words_of: dict[int, set[str]] = {}
        self._backs: dict[int, list[str]] = {}
        self._hows: dict[tuple[int, int], How] = {}
        self.meant: dict[tuple[int, int], Item] = {}
        """The part of a deed whose own words do not name it: "it", or a number alone."""
        self.named: list[Item] = []
        """The parts in the order of the text, once it is told what was done to them."""

    def _find_effects(self, hits: dict[str, list[Hit]]) -> list[Hit]:
        # "no change" is an effect, and nothing was changed in it
        judged = self._judged(hits)
        told = [h for h in hits.get("effect", ()) if not (h.meaning.more and h.first in judged)]
        self._moving = {v.first for v in hits.get("verb", ()) if v.meaning.record in self.book.moving}
        told = [h for h in told if not (self._goes_on_to(h) or self.moves_a_size(h))]
        self.effects = {at for h in told for at in range(h.first, h.last + 1)}
        #: Where effects begin; where those begin and end that a colon may lead to from a part alone.
        self.results = frozenset(h.first for h in told)
        plain = (h for h in told if not h.meaning.more or h.meaning.record in GRADED)
        self.plain_results = {h.first: h.last for h in sorted(plain, key=PLACE)}
        return told

    def _find_words(self, hits: dict[str, list[Hit]], told: Iterable[Hit]) -> None:
        """Find verbs, parts and verdicts; `told`: the effects, which are none of these."""
        self.verbs, self.parts, self.verdicts = (
            sorted((h for h in hits.get(kind, ()) if h.first not in self.effects), key=PLACE)
            for kind in ("verb", "part", "verdict")
        )
        # but "spark: none" tells of the spark, where nothing was done to it
        looked = {v.last + 1 for v in self.verbs if v.meaning.record == self.book.words.looking}
        labels = {p.last + 1 for p in self.parts if p.first in looked or self.begins_a_clause(p.first)}
        longer = {at for h in told if h.first < h.last for at in range(h.first, h.last + 1)}
        masked = self.effects & labels - longer
        of_label = [v for v in hits.get("verdict", ()) if v.first in masked]
        self.verdicts = sorted([*self.verdicts, *of_label], key=PLACE)

    def _keep_words_of_deeds(self) -> None:
        """Keep the verbs, parts and verdicts that tell of a deed or look."""
        self.part_firsts = frozenset(p.first for p in self.parts)
        self.verbs = [v for v in self.verbs if not self._is_no_deed(v)]
        self.verb_firsts = [v.first for v in self.verbs]
        # "oiled" and "gapped" are no part
        deeds = {v.first for v in self.verbs if self._form(v) != "bare"}
        self.parts = [p for p in self.parts if p.first < p.last or p.first not in deeds]
        self.part_lasts = frozenset(p.last for p in self.parts)
        begin = {p.first for p in self.parts}
        self.parts = [p for p in self.parts if not self._names(p, begin)]
        parts = (None, *self.parts)
        self.parts = [p for p, before in zip(self.parts, parts, strict=False) if not self._is_an_amount(p, before)]
        # the last word of "gave the filter a quick clean" is no verdict on it
        spread = {at for v in self.verbs if len(v.parts) > 1 for at in range(v.parts[-1][0], v.parts[-1][1] + 1)}
        self.verdicts = [v for v in self.verdicts if v.first not in spread and self._word(v) not in self.book.not_verbs]
        self.verdict_firsts = [v.first for v in self.verdicts]
        self.adjectives = {v.first: v for v in self.verbs if v.meaning.record in self.book.adjectives}

    def _judged(self, hits: dict[str, list[Hit]]) -> set[int]:
        """Where a verdict stands right behind a part that it can judge: "spark: nil" tells of the spark."""
        found, kinds = self.book.found, dict[int, set[str]]()
        for verdict in hits.get("verdict", ()):
            kinds.setdefault(verdict.first, set()).add(verdict.meaning.record)
        return {
            part.last + 1
            for part in hits.get("part", ())
            if part.last + 1 in kinds
            and any(not e.kinds.isdisjoint(kinds[part.last + 1]) for e in found.get(part.meaning.record, ()))
        }

    def _goes_on_to(self, effect: Hit) -> bool:
        """Whether what looks like an effect is the verb of a move: "had gone from a 135 to", "gone up a size"."""
        if effect.meaning.more != "alone":
            return False
        following = self._word_right_behind(effect.last)
        return following in self.book.moves.came_from or self.book.moves.tells_a_way(following)

    def moves_a_size(self, effect: Hit) -> bool:
        """Whether the verb in an effect moved a setting, by a number in its gap: "(went) to a 42 pilot, (cleaner)"."""
        inside = {at for first, last in effect.parts for at in range(first, last + 1)}
        gap = {*range(effect.first, effect.last)} - inside
        sizes = [at for at in gap if self.symbols.values.get(at, 0.0) >= self.book.limits.jet_number_from]
        return bool(sizes) and effect.first in self._moving

    def _is_an_amount(self, part: Hit, before: Hit | None) -> bool:
        """Whether a part only says how far the one before it was moved: "dropped the needle a clip"."""
        if before is None or part.first != part.last or not 0 < part.first - before.last <= LISTED:
            return False
        if self._word(part) not in self.book.amounts or self._break(before.last, part.first):
            return False
        counted = part.first - 1 in self.symbols.values
        return counted or bool(self.book.articles & self._words_between(before.last, part.first))

    def _names(self, part: Hit, begin: Container[int]) -> bool:
        """Whether a part only names the one right behind it: "the slide vent", "the carb float"."""
        after = part.last + 1
        if after not in begin or after in self.symbols.breaks:
            return False
        end = self.symbols.ends[part.last]
        several = self.text.endswith(self.book.words.present_ending, 0, end)
        return not several and self.text[end : self.symbols.starts[after]] == " "

    def _is_no_deed(self, verb: Hit) -> bool:
        word = self._word(verb)
        if verb.meaning.record == self.book.words.looking:
            after = WORD.search(self.text, self.symbols.ends[verb.last])
            if after and after[0].lower() in self.book.similes:
                return True  # "it looked like it got air"
        words = self.book.words
        end = self.symbols.ends[verb.last]
        if word in words.list_heads and self.text[end : end + _COLON].lstrip().startswith(":"):
            return True  # "tried: pilot cleaned" only announces what was done
        if verb.meaning.record in words.comparative:
            return not word.endswith(words.comparing)
        ends = word.endswith(words.present_ending) and not word.endswith("ss")
        part = verb.last + 1
        governs = part in self.part_firsts and self.book.determiners & self._words_between(verb.last, part)
        no_verb = word in self.book.not_verbs and verb.first == verb.last and not governs  # "leaning out the low"
        return no_verb or (ends and verb.meaning.record not in self.book.adjectives)

    def _word(self, hit: Hit) -> str:
        """The first word of a hit, as written, in small letters."""
        return self._said[hit.first]

    def word_at(self, at: int) -> str:
        """The word of a symbol, in small letters; nothing outside the text."""
        return self._said[at] if 0 <= at < len(self._said) else ""

    def _break(self, first: int, last: int) -> int:
        """The strongest end of a clause after `first`, at or before `last`; 0 for none."""
        low = bisect_right(self.breaks, first)
        if low == len(self.breaks) or self.breaks[low] > last:
            return 0
        high = bisect_right(self.breaks, last)
        return max(map(self.symbols.breaks.__getitem__, self.breaks[low:high]))

    def _said_between(self, first: int, last: int) -> list[str]:
        return WORD.findall(self.text[self.symbols.ends[first] : self.symbols.starts[last]].lower())

    def _words_between(self, first: int, last: int) -> set[str]:
        return {*self._said_between(first, last)}

    def _back(self, hit: Hit) -> list[str]:
        """The words before a hit in its clause, as written, the nearest first."""
        known = self._backs.get(hit.first)
        if known is None:
            start = self.symbols.starts[hit.first]
            sentence = self.symbols.sentences[self.symbols.sentence_of[hit.first]]
            before = CUT.split(self.text[max(sentence.start, start - BACK) : start].lower())[-1]
            words = WORD.findall(before.replace("\u2019", "'"))
            known = self._backs[hit.first] = words[: -LOOK_BACK - 1 : -1]
        return known

    def _form(self, verb: Hit) -> str:
        word = self._word(verb)
        if word in self.book.bare:
            return "bare"
        return "ing" if word.endswith(self.book.words.ending_ing) else "past"

    def governs(self, at: int) -> bool:
        """Whether something was done to what begins here: a verb stands right before it, "turned the screw"."""
        n = bisect_right(self.verb_firsts, at) - 1
        if n >= 0 and self.verb_firsts[n] == at and at in self.part_firsts:
            n -= 1  # "the low screw" was not lowered
        return n >= 0 and 0 <= at - self.verbs[n].last <= 1 and not self._break(self.verbs[n].last, at)

    def begins_a_clause(self, at: int) -> bool:
        """Whether a symbol is the first of its clause."""
        return at == self.symbols.sentences[self.symbols.sentence_of[at]].first or at in self.symbols.breaks

    def _effect_at(self, at: int) -> bool:
        return at in self.effects

    def _behind_words(self, last: int, most: int = AFTER) -> list[str]:
        """The words right behind a symbol, in its clause."""
        end = self.symbols.ends[last]
        return WORD.findall(CUT.split(self.text[end : end + BACK].lower())[0])[:most]

    def _word_right_behind(self, at: int) -> str:
        """The word behind a symbol with nothing but blanks between, in small letters; nothing where none is."""
        found = _NEXT.match(self.text, self.symbols.ends[at])
        return found[1].lower() if found else ""

    def _after(self, verb: Hit, item: Item) -> set[str]:
        """The words right behind a verb and its part, in their clause."""
        last = max(verb.last, item.last)
        end, n = self.symbols.ends[last], bisect_right(self.breaks, last)
        ends = self.breaks[n] if n < len(self.breaks) else len(self.symbols.starts)
        clause = self.symbols.starts[ends] if ends < len(self.symbols.starts) else end + BACK
        until = min(clause, end + BACK)
        return {*WORD.findall(CUT.split(self.text[end:until].lower())[0])[:AFTER]}
