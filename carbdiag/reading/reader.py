"""Read a post: find the phrases, weigh how each is meant, and put together what a case can take."""

from __future__ import annotations

import importlib.util
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from carbdiag import reading_schema as out
from carbdiag import schema
from carbdiag.band_view import directions
from carbdiag.case_check import impossible
from carbdiag.diagnosis import shipped_knowledge
from carbdiag.errors import CaseError, Problem, ReadingMissingError, nearest
from carbdiag.knowledge import Knowledge
from carbdiag.reading.deeds import Deeds, How, Told
from carbdiag.reading.effects import Doing, Outcome, outcomes
from carbdiag.reading.effects import Said as EffectSaid
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.new_air import NewAir
from carbdiag.reading.order import Border, Order, Seen
from carbdiag.reading.phrasebook import Phrasebook, phrasebook
from carbdiag.reading.spans import covered, ends_between, furthest, longest, unless_taken, without_decoys
from carbdiag.reading.symbols import BUT, COMMA, CONTRAST, Sentence, SymbolText, clauses
from carbdiag.reading.wordlist import small_letters, standing
from carbdiag.terms import UNKNOWN_FAMILY, Certainty, Change, Direction, Effect, Status

_KIND = {
    **dict.fromkeys(("finding", "context", "check", "do", "change"), "content"),
    **dict.fromkeys(("kept", "fact", "quantity"), "fact"),
}
_OF_DEEDS = ("verb", "part", "verdict", "effect")
#: A hedge, a plan or a "used to" reaches over so many words that count.
_CUE_REACH = 6
_SUPPOSED_REACH = 2
_GONE_REACH = 3
_PLACE_REACH = 8
_NEXT_TO = 2
#: Parts of a sign that is told as a part of the machine and how it is.
_PART_AND_STATE = 2
#: Words behind a measured number in which those of the other cylinders may stand.
_MORE_NUMBERS = 4
#: Words between a turn of speech and the sign right beside it, and the turns that are looked at.
_TURN_REACH = 2
_MOST_TURNS = 4
#: Effects that may hold at one time and not at another.
_GRADED = (Effect.BETTER.value, Effect.WORSE.value)
#: Characters behind a hit in which the next word stands.
_NEXT_WORD = 16
#: Characters before a word in which the word before it is looked for.
_NEAR = 12


def read_text(
    text: str, knowledge: Knowledge | None = None, language: str = "en", machine: schema.Machine | None = None
) -> out.TextReading:
    """Read a post into findings, circumstances, checks, trials and facts, each with the words it came from.

    Args:
        text: the post, at most 48 kB of UTF-8; markup is taken as plain text, quoted parts are left out.
        knowledge: the records with their phrases; without it, the shipped ones.
        language: code of a language the knowledge has, such as `en`.
        machine: what is known of the machine already; it counts before what the post says of it.

    Raises:
        CaseError: the text is too long or holds half of a surrogate pair, or the language is not known.
        ReadingMissingError: the extra `reading` is not installed.
        KnowledgeError: a phrase of the knowledge breaks the notation.
    """
    k = knowledge or shipped_knowledge()
    _check(text, language, k)
    book = phrasebook(k, language)
    symbols = book.reader.read(text)
    return _Reading(k, book, text, symbols).answer(machine or schema.Machine())


def _check(text: str, language: str, k: Knowledge) -> None:
    if language not in k.reading:
        known = tuple(k.reading)
        raise CaseError(
            [Problem("language", f"unknown language {language[:40]!r}", language[:40], known, nearest(language, known))]
        )
    for module in ("ahocorasick", "rapidfuzz"):
        if importlib.util.find_spec(module) is None:
            raise ReadingMissingError(
                f"reading a post needs {module}; install it with: pip install 'carbdiag[reading]'"
            )
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        raise CaseError(
            [Problem("text", f"holds half of a surrogate pair at character {error.start}")]
        ) from None
    if size > out.MOST_BYTES:
        raise CaseError(
            [Problem("text", f"may have at most {out.MOST_BYTES // 1024} kB, this one has {size / 1024:.0f} kB")]
        )


class _Meant(NamedTuple):
    """How a statement is meant."""

    denied: bool = False
    certainty: Certainty = Certainty.SURE
    unknown: bool = False
    aside: str = ""


class _Statements(NamedTuple):
    """What is said of the machine, in the order of the post."""

    findings: list[tuple[out.FindingRead, Hit]]
    past: list[tuple[out.FindingRead, Hit]]
    """Signs told as past."""
    contexts: dict[str, list[tuple[Status, Hit]]]
    before: list[Hit]
    """Circumstances that hold only because they were told before any trouble."""
    checks: list[tuple[out.CheckRead, Hit]]
    done: list[Doing]
    present: list[Hit]
    """The signs that show."""


class _Reading:
    def __init__(self, k: Knowledge, book: Phrasebook, text: str, symbols: SymbolText) -> None:
        self.k, self.book, self.text, self.symbols, self.small = k, book, text, symbols, small_letters(text)
        self._part_clauses()
        found = book.matcher.find(symbols)
        by_kind = _by_kind(found)
        self.breaks = sorted(symbols.breaks)
        self.sentence_starts = [s.start for s in symbols.sentences]
        self.commas = sorted(at for at, strength in symbols.breaks.items() if strength >= COMMA)
        self.strong = sorted(at for at, strength in symbols.breaks.items() if strength >= BUT)
        self.apart = sorted(at for at, strength in symbols.breaks.items() if strength in (COMMA, CONTRAST))
        self.contrasts = sorted(at for at, strength in symbols.breaks.items() if strength == CONTRAST)
        self._find_turns()
        # A circumstance may be told inside a sign ("harder and harder to start"), so the two do not hide each other.
        decoys = by_kind.get("decoy", [])
        hidden = {at for h in decoys for first, last in h.parts for at in range(first, last + 1) if first < last}
        self.negators = [m.start() for m in book.negators.finditer(symbols.symbols) if m.start() not in hidden]
        helped = {h.first: h.last for h in by_kind.get("helper", []) if not self.broken(h.first, h.last)}
        helped.update(self._helping())
        content = [
            h
            for h in without_decoys([*by_kind.get("content", []), *self._measured(found.get("measured", []))], decoys)
            if not self._torn(h)
            and not self._denied_inside(h)
            and not self._in_a_compound(h)
            and not self._apart(h)
            and not self._own_deed(h)
            and not self._out_of_bounds(h)
            and not any(helped.get(first, 0) > last for first, last in h.parts)
        ]
        self.spoken = book.expressions.find(text)
        contexts = [h for h in content if h.meaning.kind == "context"]
        contexts += self._spoken("context")
        self.deed_ends: frozenset[int] = frozenset()
        self._verb_firsts = frozenset(h.first for h in by_kind.get("verb", ()))
        self.deeds = Deeds(
            book.deeds,
            text,
            symbols,
            {kind: longest([h for h in by_kind.get(kind, []) if self._counts(h)]) for kind in _OF_DEEDS},
        )
        self.told = _surest(self.deeds.told(self.negators))
        done = [h for h in self.told if h.meaning.kind != "context"]
        self.deed_ends = frozenset(h.last for h in done if h.meaning.kind != "check")
        self.done_lasts = sorted(h.last for h in done if h.meaning.kind != "check" and _done(self.told[h]))
        self._set_up = {h.first for h, t in self.told.items() if h.meaning.kind == "context" and not t.only_before}
        contexts += [h for h in self.told if h.meaning.kind == "context"]
        # "no spark at the plug" tells of none
        done += [h for h in self._spoken("check") if h.first - 1 not in self.negators]
        # "spark is good when cold" tells of the spark, and not how it runs when cold
        judged = {h.parts[-1][0] for h in done if h.meaning.kind == "check" and len(h.parts) > 1}
        # "leaned out the screw" tells what was done, and not how it runs
        moved = [part for h in done if h.meaning.kind == "change" for part in h.parts]
        judged |= {at for first, last in moved for at in range(first, last + 1)}
        content = [h for h in content if h.meaning.kind != "finding" or h.first not in judged]
        content = [*done, *longest([h for h in content if h.meaning.kind != "context"])]
        content = sorted([*content, *longest(contexts, by_record=True)], key=lambda h: (h.first, -h.last, h.meaning))
        self.content = list(self._narrowed(unless_taken(content, set(self.negators))))
        self.places = longest(without_decoys(filter(self._is_a_place, by_kind.get("place", [])), decoys))
        self.others = by_kind.get("fact", [])
        self.change_lasts = sorted(h.last for h in done if h.meaning.kind == "change" and _done(self.told[h]))
        effects = by_kind.get("effect", [])
        self.effects = longest([h for h in effects if h.meaning.more != "brought" or self._brought(h)])
        self.cues = _by_record(longest(by_kind.get("cue", []), by_record=True))
        self.cue_lasts = {name: [h.last for h in found] for name, found in self.cues.items()}
        self.inside = covered(self.content, len(symbols.symbols))
        self.place_firsts = [p.first for p in self.places]
        self.aside: list[out.SetAside] = []
        self.low: list[out.FactRead] = []  # what is a height only on the way to another: "from 500 ft to 8500 ft"
        self.possible: dict[str, bool] = {}
        self.complaints: list[int] = []

    def _find_turns(self) -> None:
        """Find the turns of speech that set signs aside, and those that put deeds long ago."""
        turns = self.book.turns.find(self.text, self.symbols)
        self.long_ago = set(self._long_ago(t.before for t in turns if t.reach == "deed"))
        self.turns = [turn for turn in turns if turn.reach != "deed"]
        self.turn_firsts = [turn.before for turn in self.turns]

    def _part_clauses(self) -> None:
        """End a clause where words begin another one: "bogs off idle (so I) went up"."""
        for start, _ in standing(self.book.clause_openers, self.small):
            at = bisect_left(self.symbols.starts, start)
            if 0 < at < len(self.symbols.starts):
                self.symbols.breaks[at] = max(self.symbols.breaks.get(at, 0), COMMA)

    def _long_ago(self, told: Iterable[int]) -> Iterator[int]:
        """Sentences whose deeds are long past: "a year ago ..." and, where it opens a paragraph, that paragraph."""
        sentences = self.symbols.sentences
        for at in told:
            n = self.symbols.sentence_of[at] if at < len(self.symbols.sentence_of) else len(sentences)
            first = n
            opens = n == 0 or (0 < n < len(sentences) and self._parted(n - 1))
            while opens and n + 1 < len(sentences) and not self._parted(n):
                n += 1
            # the last paragraph goes on to what is now
            yield from range(first, (n if n + 1 < len(sentences) else first) + 1)

    def _parted(self, n: int) -> bool:
        """Whether a sentence ends a paragraph."""
        after = self.symbols.sentences[n + 1]
        end = self.symbols.starts[after.first] if after.first < len(self.symbols.starts) else len(self.text)
        begin = self.symbols.ends[self.symbols.sentences[n].last - 1] if self.symbols.sentences[n].last else 0
        return "\n" in self.text[begin:end]

    def _measured(self, hits: Iterable[Hit]) -> Iterator[Hit]:
        """Hits that tell a number, as the outcome it makes, or not at all."""
        for hit in hits:
            measured = self.k.checks[hit.meaning.record].measured
            end = min(hit.last + 1 + _MORE_NUMBERS, self.sentence(hit).last)
            numbers = [self.symbols.values[i] for i in range(hit.first, end) if i in self.symbols.values]
            for outcome, span in measured.outcomes.items() if measured else ():
                # of several cylinders one bad number makes the outcome that is listed first
                if any(span.at_least <= n <= span.at_most for n in numbers):
                    yield hit._replace(meaning=Meaning("check", hit.meaning.record, outcome))
                    break

    # -- what was said where

    def said(self, first: int, last: int) -> out.Said:
        start, end = self.symbols.starts[first], self.symbols.ends[last]
        return out.Said.trusted(start=start, end=end, words=self.text[start:end])

    def sentence(self, hit: Hit) -> Sentence:
        return self.symbols.sentences[self.symbols.sentence_of[hit.first]]

    def broken(self, first: int, last: int, *, strong: bool = False) -> bool:
        """Whether a clause ends after `first`, at or before `last`."""
        return ends_between(self.strong if strong else self.breaks, first, last)

    def _spoken(self, kind: str) -> Iterator[Hit]:
        """What set expressions tell, where the words in them that count stand."""
        for found in self.spoken:
            if found.meaning.kind == kind:
                first = bisect_left(self.symbols.starts, found.start)
                last = bisect_left(self.symbols.starts, found.end) - 1
                if first <= last and self._much(first, last, found.meaning.record):
                    yield Hit(first, last, found.meaning, ((first, last),))

    def _much(self, first: int, last: int, record: str) -> bool:
        """Whether the number at or before a set expression is enough: "60,000 miles on it"."""
        least = self.book.language.spoken_least.get(record)
        said = [self.symbols.values[at] for at in range(max(first - 1, 0), last + 1) if at in self.symbols.values]
        return least is None or not said or max(said) >= least

    def _torn(self, hit: Hit) -> bool:
        """Whether words that belong together are spread over two clauses ("varies at idle, fine in gear")."""
        if len(hit.parts) > 1 or hit.meaning.kind not in ("do", "change", "check", "finding", "context"):
            return False
        sure = hit.meaning.kind in ("finding", "context") and not hit.meaning.more
        if ends_between(self.apart if sure else self.commas, hit.first, hit.last):
            return True
        told = hit.meaning.kind in ("finding", "context", "check")
        return told and not hit.flows and self.broken(hit.first, hit.last)

    def _denied_inside(self, hit: Hit) -> bool:
        """Whether a denial stands in a gap of a check told by a phrase: "the reeds look fine, no (chips)"."""
        if hit.meaning.kind == "finding" and not hit.meaning.more and len(hit.parts) > _PART_AND_STATE - 1:
            # "let it cool, and it would not start": the last word of the sign is what is denied
            last = hit.parts[-1][0] - 1
            return last in self.negators and last > hit.parts[-2][1] and not self._denied_at_its_end(hit)
        told = hit.meaning.kind == "check"
        return told and any(ends_between(self.negators, a[1], b[0] - 1) for a, b in pairwise(hit.parts))

    def _denied_at_its_end(self, hit: Hit) -> bool:
        """Whether nothing but a denial stands between a part and its state: "the plug is not black"."""
        if hit.meaning.kind != "finding" or hit.meaning.more or len(hit.parts) != _PART_AND_STATE or hit.flows:
            return False
        part, state = hit.parts[0][1], hit.parts[1][0]
        return state - part == _NEXT_TO and ends_between(self.negators, part, state - 1)

    def _in_a_compound(self, hit: Hit) -> bool:
        """Whether a word of a hit names another thing with the word behind it: "open the gas (cap)"."""
        symbols, compounds = self.symbols.symbols, self.book.compounds
        for _, last in hit.parts:
            behind = compounds.get(symbols[last])
            after = last + 1
            if behind is None or after >= len(symbols) or symbols[after] not in behind:
                continue
            if self.symbols.breaks.get(after) not in (None, BUT):  # "right after" is none
                continue
            if all(first != after for first, _ in hit.parts):
                return True
        return False

    def _is_a_place(self, hit: Hit) -> bool:
        """Whether a place is one: "half throttle, pin it" names no "throttle pinned"."""
        return not self._in_a_compound(hit) and not ends_between(self.commas, hit.first, hit.last)

    def _helping(self) -> Iterator[tuple[int, int]]:
        """Where "start" only helps the verb behind it, and that verb: "starts to smoke", "starts mowing"."""
        language, symbols = self.book.language, self.symbols
        for at, symbol in enumerate(symbols.symbols[:-1]):
            if symbol not in self.book.helped or at + 1 in symbols.breaks:
                continue
            words = self.text[symbols.ends[at] : symbols.ends[at + 1]].lower().split()
            verb = words[-1] if words else ""
            joined = len(words) == 2 and words[0] in self.book.helped_by
            ending = len(words) == 1 and bool(language.helped_ending) and verb.endswith(language.helped_ending)
            if (joined or ending) and verb not in self.book.not_helped:
                yield at, at + 1

    def _out_of_bounds(self, hit: Hit) -> bool:
        """Whether a number is an ordinary one: "idles at 1,100" is no high idle."""
        if hit.meaning.more:
            return False
        least = self.book.least_of.get(hit.meaning.record, -1.0)
        most = self.book.most_of.get(hit.meaning.record, float("inf"))
        if least < 0 and most == float("inf"):
            return False
        values, symbols, speeds = self.symbols.values, self.symbols.symbols, self.book.speeds
        said = [values[i] for i in range(hit.first, hit.last + 1) if i in values and symbols[i] in speeds]
        return bool(said) and max(said) > 1 and not least <= max(said) <= most

    def _counts(self, hit: Hit) -> bool:
        """Whether a verb, a part, a verdict or an effect is one: "plug, cap" is no plug cap."""
        kind = hit.meaning.kind
        if kind == "effect" and hit.meaning.more:
            return hit.meaning.more == "alone" and self._alone(hit)
        if kind == "part" and hit.first < hit.last and hit.first in self._verb_firsts:
            # "lowered the needle" tells of no low needle
            words = self.book.language.deeds
            first = self.text[self.symbols.starts[hit.first] : self.symbols.ends[hit.first]].lower()
            if first.endswith((words.ending_past, words.ending_ing)):
                return False
        if kind in ("part", "verdict") and self._in_a_compound(hit):
            return False
        return hit.first == hit.last or len(hit.parts) > 1 or not ends_between(self.commas, hit.first, hit.last)

    def _own_deed(self, hit: Hit) -> bool:
        """Whether the rider did what is a sign only when the engine does it: "I stopped at the lights"."""
        if not hit.acts:
            return False
        symbols = self.symbols
        for symbol in (i for first, last in hit.parts for i in range(first, min(first + 1, last) + 1)):
            if symbols.symbols[symbol] in self.book.own_deeds:
                at = symbols.starts[symbol]
                before = self.text[max(at - _NEAR, 0) : at].lower().split()
                if before and before[-1] in self.book.persons:
                    return True
        return False

    def _apart(self, hit: Hit) -> bool:
        """Whether parts that belong together stand in two clauses, the first not saying when the second holds."""
        n = bisect_right(self.apart, hit.first)
        first = max(self.apart[n - 1] if n else 0, self.sentence(hit).first)
        if hit.flows:
            return any(b[0] - a[1] > _NEXT_TO and self._contrast(a[1], b[0]) for a, b in pairwise(hit.parts))
        if hit.meaning.kind != "finding" or self.symbols.openers.get(first, "") in self.book.conditions:
            return False
        return any(ends_between(self.apart, a[1], b[0]) for a, b in pairwise(hit.parts))

    def _narrowed(self, content: Iterable[Hit]) -> Iterator[Hit]:
        """Hits without the broader signs that share words with a narrower one: "pops when I let off" is no bang."""
        every = list(self._one_way(content))
        ends: dict[str, list[tuple[int, int]]] = {}
        for hit in every:
            if hit.meaning.kind == "finding" and not hit.meaning.more:
                for broader in self.k.findings[hit.meaning.record].narrows:
                    ends.setdefault(broader, []).append((hit.first, hit.last))
        reach = {broader: furthest(spans) for broader, spans in ends.items()}
        for hit in every:
            firsts, lasts = reach.get(hit.meaning.record, ((), ()))
            n = bisect_right(firsts, hit.last) - 1
            if n < 0 or lasts[n] < hit.first:
                yield hit

    def _one_way(self, content: Iterable[Hit]) -> Iterator[Hit]:
        """Hits without a move up that is only the beginning of one down: "(from the mountains) to the sea"."""
        every = list(content)
        moves = [(h, self.k.contexts[h.meaning.record].moved) for h in every if h.meaning.kind == "context"]
        moves = [(h, way) for h, way in moves if way]
        begun = {
            h for h, way in moves for o, other in moves if way != other and o.first - 1 <= h.last < o.last
        }
        return (h for h in every if h not in begun)

    def clause_first(self, hit: Hit) -> int:
        n = bisect_right(self.breaks, hit.first)
        return max(self.breaks[n - 1] if n else 0, self.sentence(hit).first)

    def put_aside(self, hit: Hit, why: str) -> None:
        self.aside.append(
            out.SetAside.trusted(record=hit.meaning.record, why=why, said=self.said(hit.first, hit.last))
        )

    # -- how it is meant

    def meant(self, hit: Hit) -> _Meant:
        sentence = self.sentence(hit)
        if sentence.quoted:
            return _Meant(aside="quoted")
        if sentence.asks and (self._asked(hit, sentence) or self._deed_asked(hit, sentence)):
            return _Meant(aside="question")
        if self._cue_before(hit, "supposed", _SUPPOSED_REACH):
            return _Meant(aside="supposed")
        if hit.meaning.kind == "finding" and self._cue_near(hit, "past"):
            return _Meant(aside="past")
        turn = self._turn(hit) if hit.meaning.kind in ("finding", "check", "context") else ""
        if turn and (hit.meaning.kind == "finding" or turn != "past"):
            return _Meant(aside=turn)
        certainty = Certainty.SURE
        for cue, certain in _HEDGES:
            if self._cue_near(hit, cue):
                certainty = certain
        return _Meant(self._denied(hit), certainty, self._cue_before(hit, "unknown"))

    def _turn(self, hit: Hit) -> str:
        """Why a turn of speech near a sign sets it aside, if one does."""
        n = bisect_right(self.turn_firsts, hit.first)
        for turn in reversed(self.turns[max(n - _MOST_TURNS, 0) : n]):
            if turn.before < self.sentence(hit).first:
                continue
            reach = self.symbols.sentences[-1].last if turn.reach == "sentence" else _TURN_REACH
            if turn.why == "past" and self._back_in_the_present(turn.after, hit.first):
                continue
            if turn.reach != "before" and hit.first - turn.after <= reach and not self._contrast(turn.after, hit.first):
                return turn.why
        for turn in self.turns[n : n + _MOST_TURNS]:
            near = turn.before > hit.last and turn.before - hit.last <= _TURN_REACH + 1
            if turn.reach == "before" and near and turn.before < self.sentence(hit).last and not self._was_never(hit):
                return turn.why
        return ""

    def _was_never(self, hit: Hit) -> bool:
        """Whether a sign is told as what never was before: "never bogged until I cleaned it"."""
        n = bisect_right(self.negators, hit.first)
        near = n > 0 and hit.first - self.negators[n - 1] <= self.book.language.negation.reach + 1
        return near and self._turned(self.negators[n - 1], hit)

    def _back_in_the_present(self, first: int, last: int) -> bool:
        """Whether words lead back from the past: "last year it was slow, this year it is slower"."""
        if first > last:
            return False
        starts = self.symbols.starts
        between = f" {self.text[starts[first - 1] if first else 0 : starts[last]].lower()} "
        return any(f" {words} " in between for words in self.book.language.present)

    def _contrast(self, first: int, last: int) -> bool:
        """Whether a word like "but" stands after `first`, at or before `last`."""
        return ends_between(self.contrasts, first, last)

    def _asked(self, hit: Hit, sentence: Sentence) -> bool:
        if any(sentence.first <= h.first < sentence.last for h in self._between("why", sentence)):
            return False
        first = self.clause_first(hit)
        opener = self.symbols.openers.get(first, "")
        return opener in self.book.openers

    def _deed_asked(self, hit: Hit, sentence: Sentence) -> bool:
        """Whether a deed or a check is asked about: "how do I clean the jet?"."""
        told = self.told.get(hit)
        if (told is None and hit.meaning.kind == "do") or (told is not None and told.how is How.NAMED):
            return True
        opener = self.symbols.openers.get(sentence.first, "")
        return hit.meaning.kind not in ("finding", "context") and opener in self.book.deeds.asking

    def _between(self, cue: str, sentence: Sentence) -> Sequence[Hit]:
        lasts = self.cue_lasts.get(cue, [])
        return self.cues.get(cue, [])[bisect_left(lasts, sentence.first) : bisect_left(lasts, sentence.last)]

    def _cue_before(self, hit: Hit, cue: str, reach: int = _CUE_REACH) -> bool:
        """Whether a cue stands before a hit in its sentence, within reach and in no other strong clause."""
        lasts = self.cue_lasts.get(cue, [])
        n = bisect_right(lasts, hit.first)
        if not n or self.cues[cue][n - 1].first >= hit.first:
            return False
        last = lasts[n - 1]
        near = hit.first - last <= reach and last >= self.sentence(hit).first
        return near and not self.broken(last, hit.first, strong=True)

    def _cue_near(self, hit: Hit, cue: str) -> bool:
        """Whether a cue stands before a hit, inside it, or right behind it in its clause."""
        lasts = self.cue_lasts.get(cue, [])
        n = bisect_left(lasts, hit.first)
        if n:
            last = lasts[n - 1]
            near = hit.first - last <= _CUE_REACH and last >= self.sentence(hit).first
            if near and not self.broken(last, hit.first):
                return True
        if n < len(lasts):
            found = self.cues[cue][n]
            near = found.last - hit.last <= _GONE_REACH and found.last < self.sentence(hit).last
            return near and not self.broken(hit.last, found.first)
        return False

    def _denied(self, hit: Hit) -> bool:
        if self._denied_at_its_end(hit):
            return True
        negation = self.book.language.negation
        symbols = self.symbols.symbols
        first = self.sentence(hit).first
        n = bisect_left(self.negators, hit.first)
        while n:
            n -= 1
            at = self.negators[n]
            if at < first or hit.first - at > negation.reach + 1 or self.broken(at, hit.first):
                break
            if self.inside[at] and not self._carried(hit):
                break
            if hit.meaning.kind in ("do", "change") and at in self.deeds.effects:
                break  # "no luck with a new pump" tells that it was fitted
            between = symbols[at + 1 : hit.first]
            own = symbols[hit.first] in self.book.not_before and hit.meaning.kind != "finding"
            if own or any(s in self.book.not_before for s in between):
                break
            return not self._turned(at, hit)
        if hit.meaning.kind in ("do", "change", "check"):
            return False
        lasts = self.cue_lasts.get("gone", [])
        n = bisect_right(lasts, hit.last)
        if n < len(lasts):
            gone = self.cues["gone"][n]
            close = gone.first > hit.last and gone.first - hit.last <= _GONE_REACH
            close = close and not ends_between(self.negators, hit.last, gone.first)  # "the bog hasn't gone away"
            if close and gone.last < self.sentence(hit).last and not self.broken(hit.last, gone.first):
                return True
        n = bisect_left(lasts, hit.first)
        if n:
            gone = self.cues["gone"][n - 1]
            same = gone.first >= first and hit.first - gone.last <= _NEXT_TO
            return same and not self.broken(gone.last, hit.first)
        return False

    def _conditional(self, hit: Hit) -> bool:
        """Whether "pulling hard" only says when something else happens, as in "smokes when pulling hard"."""
        low = max(self.clause_first(hit), hit.first - _NEXT_TO)
        return any(s in self.book.condition_symbols for s in self.symbols.symbols[low : hit.first])

    def _carried(self, hit: Hit) -> bool:
        """Whether a denial before this hit goes on to it, as in "no misfire or bucking"."""
        if not hit.first:
            return False
        between = self.text[self.symbols.ends[hit.first - 1] : self.symbols.starts[hit.first]].lower()
        return bool(set(between.split()) & set(self.book.language.negation.carried_by))

    def _turned(self, at: int, hit: Hit) -> bool:
        """Whether a negator is undone by what follows, as in "never bogged until"."""
        if self.text[self.symbols.starts[at] : self.symbols.ends[at]].lower() not in self.book.turned_by:
            return False
        end = min(hit.last + 1 + 2 * _CUE_REACH, self.sentence(hit).last)
        return any(s in self.book.turned_words for s in self.symbols.symbols[hit.last + 1 : end])

    # -- places

    def at(self, hit: Hit, allowed: Sequence[str]) -> tuple[str, ...]:
        """Where a finding was seen: the nearest place words of its clause that the finding knows."""
        if len(allowed) == 1:
            return tuple(allowed)
        found = [
            (self._distance(hit, p), p)
            for p in self._places_near(hit)
            if any(place in allowed for place in p.meaning.record.split())
        ]
        if not found:
            return ()
        found.sort(key=lambda pair: (pair[0], pair[1].first))
        nearest_hit = found[0][1]
        chosen = [nearest_hit]
        for _, place in found[1:]:
            near = self._gap(nearest_hit, place) <= _NEXT_TO and place.meaning != nearest_hit.meaning
            if near and not self._done_next(nearest_hit, place):
                chosen.append(place)
        places = {p for h in chosen for p in h.meaning.record.split() if p in allowed}
        return tuple(p for p in allowed if p in places)

    def _done_next(self, first: Hit, place: Hit) -> bool:
        """Whether a place is what is done after a comma, and no more of a list: "at half, pin it and it clears"."""
        if place.first < first.first or not ends_between(self.commas, first.last, place.first):
            return False
        start, end = self.symbols.starts[place.first], self.symbols.ends[place.last]
        words = self.text[start : end + _NEAR].lower().split()
        return not self.book.deeds.pronouns.isdisjoint(words[: len(self.text[start:end].split()) + 1])

    def _places_near(self, hit: Hit) -> Iterator[Hit]:
        sentence = self.sentence(hit)
        low = bisect_left(self.place_firsts, max(sentence.first, hit.first - 2 * _PLACE_REACH))
        high = bisect_left(self.place_firsts, min(sentence.last, hit.last + _PLACE_REACH + 1))
        for place in self.places[low:high]:
            if place.first >= hit.first and place.last <= hit.last:
                yield place
                continue
            before = place.last < hit.first or place.first < hit.first
            between = (place.last, hit.first) if before else (hit.last, place.first)
            if self._gap(hit, place) <= _PLACE_REACH and not self.broken(*between, strong=True):
                # another statement in between owns the place, or shares it: "it stutters and blubbers"
                within = [
                    h
                    for h in self._content_between(between[0] + 1, between[1] - 1)
                    if h.meaning.kind == "finding" and h.meaning.record != hit.meaning.record
                ]
                shared = before and _in_a_row(within, hit)
                if within and not shared:
                    continue
                if not self.broken(*between) or (within and shared) or not self._owned(place):
                    yield place

    def _owned(self, place: Hit) -> bool:
        """Whether the clause of a place has a sign of its own."""
        n = bisect_right(self.breaks, place.first)
        first = max(self.breaks[n - 1] if n else 0, self.sentence(place).first, place.first - _PLACE_REACH)
        end = self.breaks[n] if n < len(self.breaks) else self.sentence(place).last
        last = min(end - 1, place.last + _PLACE_REACH)
        return any(h.meaning.kind == "finding" for h in self._content_between(first, last))

    def _content_between(self, first: int, last: int) -> Iterator[Hit]:
        n = bisect_left(self.content, first, key=lambda h: h.first)
        while n < len(self.content) and self.content[n].first <= last:
            if self.content[n].last <= last:
                yield self.content[n]
            n += 1

    @staticmethod
    def _gap(a: Hit, b: Hit) -> int:
        return max(a.first - b.last, b.first - a.last, 0)

    def _distance(self, hit: Hit, place: Hit) -> int:
        gap = self._gap(hit, place)
        if not gap:
            return 0
        between = (place.last, hit.first) if place.first < hit.first else (hit.last, place.first)
        return gap + (_CUE_REACH if self.broken(*between) else 0)

    # -- putting together

    def answer(self, stated: schema.Machine) -> out.TextReading:
        """The reading, statements in the order of the post."""
        facts = self._facts(stated)
        machine = known_machine(stated, facts)
        t = self._statements(machine)
        t = t._replace(findings=list(self._of_the_same(t.findings)))
        order = self._order(t.findings)
        told_of = self._trials(t.done, t.present, order)
        borders = order.borders(told_of)
        trials = tuple(self._trial(o, order.epoch_of_deed(borders, o.doing.hit)) for o in told_of)
        for hit in self._without_a_trial(t.before, trials):
            t.contexts.setdefault(hit.meaning.record, []).append((Status.PRESENT, hit))
        circumstances = tuple(self._merge_contexts(self._untried(t.contexts, trials)))
        placed = self._in_order(order, borders, t.findings, t.past)
        moves = {self.k.contexts[c.context].moved for c in circumstances if c.status is Status.PRESENT} - {None}
        reading = out.TextReading.trusted(
            edition=self.k.edition,
            language=self.book.language.id,
            findings=tuple(self._merge_findings(placed)),
            contexts=circumstances,
            checks=tuple(self._merge_checks(self._beside(t.checks, trials), order, borders)),
            trials=trials,
            facts=facts,
            air=NewAir(self.text, self.book.language).told(facts, self.low, moves),
            set_aside=tuple(sorted(self.aside, key=lambda a: (a.said.start, a.said.end, a.record))),
            not_understood=tuple(self._not_understood()),
            please_say=(),
        )
        return reading.model_copy(update={"please_say": tuple(_please_say(reading, self.k))})

    def _statements(self, machine: schema.Machine) -> _Statements:
        """Everything said, by what it is; what is no statement about the machine now is put aside."""
        t = _Statements([], [], {}, [], [], [], [])
        for hit in self.content:
            meant = self.meant(hit)
            told = self.told.get(hit)
            how = told.how if told else self._how(hit)
            if told and told.only_before and not told.before:
                # done after the trouble was told of: a trial
                if not t.present and how is How.DONE and not (meant.aside or meant.denied):
                    t.before.append(hit)
                continue
            looked = hit.meaning.kind == "check"
            planned = how is How.PLANNED or (looked and (how is How.NAMED or self.deeds.likened(hit)))
            if meant.aside == "past" and hit.meaning.kind == "finding":
                read = self._finding(hit, meant._replace(denied=self._denied(hit)), machine)
                if read is not None:
                    t.past.append((read, hit))
            elif meant.aside or planned:
                self.put_aside(hit, meant.aside or "supposed")
            elif hit.meaning.more == "denied" and self._conditional(hit):
                self.put_aside(hit, "supposed")
            elif hit.meaning.kind == "finding":
                read = self._finding(hit, meant, machine)
                if read is not None:
                    t.findings.append((read, hit))
                    if read.status is Status.PRESENT:
                        t.present.append(hit)
            elif hit.meaning.kind == "context":
                if meant.unknown:
                    self.put_aside(hit, "supposed")
                else:
                    denied = meant.denied != bool(hit.meaning.more)
                    t.contexts.setdefault(hit.meaning.record, []).append(
                        (Status.DENIED if denied else Status.PRESENT, hit)
                    )
            elif meant.denied or meant.unknown or meant.certainty is Certainty.MAYBE:
                self.put_aside(hit, "denied" if meant.denied else "supposed")
            elif hit.meaning.kind == "check":
                certainty = Certainty.PROBABLY if told and told.by_look else meant.certainty
                check = self._check(hit, certainty, machine)
                if check is not None:
                    t.checks.append((check, hit))
            elif hit.meaning.kind == "change" and not self._has(machine, hit.meaning.record):
                self.put_aside(hit, "not_on_this_machine")
            else:
                t.done.append(self._doing(hit, how, told))
        return t

    def _impossible(self, machine: schema.Machine, record: schema.Finding | schema.Check) -> bool:
        if record.id not in self.possible:
            self.possible[record.id] = not impossible(machine, record.applies, self.k)
        return not self.possible[record.id]

    def _has(self, machine: schema.Machine, circuit: str) -> bool:
        family = self.k.families.get(machine.family)
        return family is None or circuit in family.circuits

    def _finding(self, hit: Hit, meant: _Meant, machine: schema.Machine) -> out.FindingRead | None:
        record = self.k.findings[hit.meaning.record]
        if self._impossible(machine, record):
            self.put_aside(hit, "not_on_this_machine")
            return None
        denied = meant.denied != (bool(hit.meaning.more) and not self._turned(hit.first, hit))
        if meant.denied and self.broken(hit.first, hit.last):
            # "it won't run right and it stalls": what is denied is not the whole
            self.put_aside(hit, "denied")
            return None
        if meant.denied and hit.meaning.more:
            # "does not idle fine": the opposite of a denial is too weak to state the sign
            self.put_aside(hit, "denied")
            return None
        status = Status.UNKNOWN if meant.unknown else Status.DENIED if denied else Status.PRESENT
        return out.FindingRead.trusted(
            finding=record.id,
            at=self.at(hit, record.at),
            status=status,
            certainty=meant.certainty if status is Status.PRESENT else Certainty.SURE,
            cylinders=self._cylinders(hit, machine) if status is Status.PRESENT else None,
            said=(self.said(hit.first, hit.last),),
        )

    def _cylinders(self, hit: Hit, machine: schema.Machine) -> str | None:
        if machine.cylinders == 1:
            return None
        return next((to for cue, to in _CYLINDERS if self._cue_near(hit, cue)), None)

    def _check(self, hit: Hit, certainty: Certainty, machine: schema.Machine) -> out.CheckRead | None:
        record = self.k.checks[hit.meaning.record]
        if self._impossible(machine, record):
            self.put_aside(hit, "not_on_this_machine")
            return None
        at = None
        if record.reads == "mixture":
            known = self.at(hit, (*record.at, *record.weak_at))
            at = known[0] if len(known) == 1 else None
        return out.CheckRead.trusted(
            check=record.id,
            outcome=hit.meaning.more,
            at=at,
            certainty=certainty,
            said=(self.said(hit.first, hit.last),),
        )

    def _of_the_same(
        self, findings: Iterable[tuple[out.FindingRead, Hit]]
    ) -> Iterator[tuple[out.FindingRead, Hit]]:
        """Denials of a broader sign as those of the one told before: "pops on decel ... the popping is gone"."""
        narrower: dict[str, out.FindingRead] = {}
        for read, hit in findings:
            if read.status is Status.PRESENT:
                narrower.update(dict.fromkeys(self.k.findings[read.finding].narrows, read))
            known = narrower.get(read.finding) if read.status is Status.DENIED else None
            yield (read.model_copy(update={"finding": known.finding, "at": known.at}) if known else read), hit

    def _order(self, findings: Iterable[tuple[out.FindingRead, Hit]]) -> Order:
        told = ((read, hit) for read, hit in findings if read.status is not Status.UNKNOWN)
        seen = (Seen(hit, read.status is Status.DENIED, read.finding) for read, hit in told)
        circuits = self.k.circuits.keys()
        contexts = sorted((h for h in self.content if h.meaning.kind == "context"), key=lambda h: h.first)
        about = ((h, self.k.contexts[h.meaning.record].told_by) for h in contexts if h in self.told)
        fitted = [h.first for h, deeds in about if circuits.isdisjoint(deeds)]
        places = [h.first for h in contexts]
        return Order(self.book.order, self.text, self.symbols, seen, self._goes_with, fitted, places)

    def _goes_with(self, finding: str, change: str) -> bool:
        """Whether a sign is one of the mixture that a setting moved that way leads to, and of no other."""
        record = self.k.findings[finding]
        way = Direction.RICH if change == Change.RICHER else Direction.LEAN
        return record.mixture is not None and directions(self.k, record) == (way,)

    def _in_order(
        self,
        order: Order,
        borders: Sequence[Border],
        findings: Iterable[tuple[out.FindingRead, Hit]],
        past: Iterable[tuple[out.FindingRead, Hit]],
    ) -> Iterator[tuple[out.FindingRead, Hit]]:
        """The signs with the stretch of time each was seen in."""
        known: dict[Hit, out.FindingRead] = {}
        for read, hit in findings:
            known[hit] = read
            yield read.model_copy(update={"epoch": order.epoch(borders, hit)}) if borders else read, hit
        for read, hit in past:
            epoch = order.epoch_of_past(borders, hit)
            if epoch is None:
                self.put_aside(hit, "past")
            else:
                yield read.model_copy(update={"epoch": epoch}), hit
        for hit, epoch in order.there_before(borders):
            yield known[hit].model_copy(update={"status": Status.PRESENT, "epoch": epoch}), hit
        for hit, epoch in order.not_before(borders):
            update = {"status": Status.DENIED, "epoch": epoch, "certainty": Certainty.SURE, "cylinders": None}
            yield known[hit].model_copy(update=update), hit

    def _merge_findings(self, placed: Iterable[tuple[out.FindingRead, Hit]]) -> Iterator[out.FindingRead]:
        epochs: dict[int, dict[tuple[str, tuple[str, ...]], list[tuple[out.FindingRead, Hit]]]] = {}
        for read, hit in placed:
            epochs.setdefault(read.epoch, {}).setdefault((read.finding, read.at), []).append((read, hit))
        for _, found in sorted(epochs.items()):
            yield from self._merge_of_epoch(found)

    def _merge_of_epoch(
        self, found: dict[tuple[str, tuple[str, ...]], list[tuple[out.FindingRead, Hit]]]
    ) -> Iterator[out.FindingRead]:
        located: dict[tuple[str, Status], tuple[str, ...]] = {}
        for (finding, at), reads in found.items():
            if at:
                for read, _ in reads:
                    located.setdefault((finding, read.status), at)
        # What was said without a place joins what was said of the same sign, the same way, at one.
        for finding, at in [key for key in found if not key[1]]:
            stay = []
            for read, hit in found[finding, at]:
                twin = located.get((finding, read.status))
                if twin is None:
                    stay.append((read, hit))
                else:
                    found[finding, twin].append((read, hit))
            found[finding, at] = stay
        for reads in found.values():
            firm = [(r, h) for r, h in reads if r.status is not Status.UNKNOWN] or reads
            statuses = {r.status for r, _ in firm}
            if len(statuses) > 1:
                for _, hit in firm:
                    self.put_aside(hit, "contradicted")
            elif firm:
                surest = max((r for r, _ in firm), key=lambda r: (_SURE[r.certainty], -r.said[0].start))
                said = tuple(sorted({r.said[0] for r, _ in firm}, key=lambda s: (s.start, s.end)))
                cylinders = next((r.cylinders for r, _ in firm if r.cylinders), None)
                yield surest.model_copy(
                    update={"said": said, "cylinders": cylinders, "at": next(r.at for r, _ in firm)}
                )

    def _merge_contexts(self, found: dict[str, list[tuple[Status, Hit]]]) -> Iterator[out.ContextRead]:
        present = {c for c, told in found.items() if {status for status, _ in told} == {Status.PRESENT}}
        for context, told in found.items():
            special = present.intersection(self.k.contexts[context].settled_by)
            if any(context not in self.k.contexts[s].settled_by for s in special):
                continue  # the special says it all
            if len({status for status, _ in told}) > 1:
                for _, hit in told:
                    self.put_aside(hit, "contradicted")
                continue
            yield out.ContextRead.trusted(
                context=context, status=told[0][0], said=tuple(self.said(h.first, h.last) for _, h in told)
            )

    def _merge_checks(
        self, checks: Iterable[tuple[out.CheckRead, Hit]], order: Order, borders: Sequence[Border]
    ) -> Iterator[out.CheckRead]:
        found: dict[tuple[int, str, str | None], list[tuple[out.CheckRead, Hit]]] = {}
        for read, hit in checks:
            epoch = order.epoch(borders, hit)
            update = {"epoch": epoch}
            put = read.model_copy(update=update) if epoch else read
            found.setdefault((epoch, read.check, read.at), []).append((put, hit))
        for told in found.values():
            if len({read.outcome for read, _ in told}) > 1:
                for _, hit in told:
                    self.put_aside(hit, "contradicted")
                continue
            yield told[0][0].model_copy(update={"said": tuple(s for read, _ in told for s in read.said)})

    # -- trials

    def _trials(self, done: list[Doing], present: list[Hit], order: Order) -> list[Outcome]:
        self.complaints = sorted(h.first for h in present)
        said = [*self._stated_effects(), *self._still(present)]
        said = order.effects([d for d in done if not d.past], said)
        trials: dict[tuple[str, str, str], Outcome] = {}
        left: list[Doing] = []
        ends = sorted(h.last for h in present)
        known = covered([d.hit for d in done], len(self.symbols.symbols))
        said = [s for s in said if not self._of_another(s, known)]
        for told in outcomes(done, said, self.symbols.sentence_of, self._in_vain, ends, self._led, self._commented):
            if isinstance(told, Doing):
                left.append(told)
            elif not told.unsaid or _trial_key(told.doing.hit) not in trials:
                trials[_trial_key(told.doing.hit)] = told
        for doing in left:
            if _trial_key(doing.hit) not in trials:
                self.put_aside(doing.hit, "no_effect" if doing.how is How.DONE else "supposed")
        return sorted(trials.values(), key=lambda t: t.doing.hit.first)

    def _of_another(self, said: EffectSaid, known: Sequence[bool]) -> bool:
        """Whether an effect belongs to a deed that was not made out: a verb in its sentence has no part known here."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[said.first]]
        first = max(sentence.first, said.first - 2 * _PLACE_REACH)
        return not any(known[first : said.first]) and self.deeds.does_in(first, said.first)

    def _untried(
        self, contexts: dict[str, list[tuple[Status, Hit]]], trials: Iterable[out.TrialRead]
    ) -> dict[str, list[tuple[Status, Hit]]]:
        """The circumstances without what was tried after the trouble began: it is none of its circumstances."""
        tried = [t for t in trials if not t.unsaid]
        kept = {c: {*self._without_a_trial((h for _, h in found), tried)} for c, found in contexts.items()}
        left = {c: [(s, h) for s, h in f if h not in self.told or h in kept[c]] for c, f in contexts.items()}
        return {context: found for context, found in left.items() if found}

    @staticmethod
    def _beside(
        checks: Iterable[tuple[out.CheckRead, Hit]], trials: Iterable[out.TrialRead]
    ) -> Iterator[tuple[out.CheckRead, Hit]]:
        """The checks without what is a trial in the same words: "new plug" tells once that it is new.

        A setting moved is no look at the setting, nor a step tried for a moment: "L screw out a bit, better".
        """
        tried = {s for t in trials for s in t.said[:1]}
        moved = [t.said[0] for t in trials if t.change]
        for read, hit in checks:
            said = read.said[0]
            if said not in tried and not any(m.start < said.end and said.start < m.end for m in moved):
                yield read, hit

    def _doing(self, hit: Hit, how: How, told: Told | None) -> Doing:
        before, in_vain = (told.before, told.in_vain) if told else (False, False)
        past = self.symbols.sentence_of[hit.first] in self.long_ago
        return Doing(hit, how, before or past, in_vain, hit.first in self._set_up, past)

    def _without_a_trial(self, deeds: Iterable[Hit], trials: Iterable[out.TrialRead]) -> Iterator[Hit]:
        """Deeds whose effect is not said: told before any trouble, they are circumstances."""
        tried = {(s.start, s.end) for t in trials for s in t.said}
        for hit in deeds:
            if (self.symbols.starts[hit.first], self.symbols.ends[hit.last]) not in tried:
                yield hit

    def _commented(self, hit: Hit) -> bool:
        """Whether what follows a deed goes on about it: "cleaned the jet, that did ...", "... It idles"."""
        start = self.symbols.ends[hit.last]
        words = self.text[start : start + 2 * _NEXT_WORD].lower().replace("’", "'").split()
        return any(word.strip(".,;:!?()-") in self.book.comments for word in words[:4])

    def _led(self, said: EffectSaid, hit: Hit) -> bool:
        """Whether words lead from an effect to the deed behind it: "better with a new plug", "cured by"."""
        between = self.text[self.symbols.starts[said.last] : self.symbols.ends[hit.last]].lower()
        if said.effect is Effect.NO_CHANGE:
            return not self.book.order.ends_trouble(between)  # "made no difference cleaning it", but not "until"
        words = between.replace(",", " ").split()
        doing = any(word.endswith(self.book.language.deeds.ending_ing) for word in words)
        return ":" in between or doing or bool(self.book.deeds.led_by & set(words))

    def _in_vain(self, hit: Hit) -> bool:
        """Whether the words beside a deed say that it was in vain."""
        tried = self.cue_lasts.get("tried", [])
        n = bisect_right(tried, hit.last)
        first = self.sentence(hit).first
        near = bool(n) and tried[n - 1] >= first and hit.first - tried[n - 1] <= _CUE_REACH
        return near or (n < len(tried) and tried[n] < self.sentence(hit).last and tried[n] - hit.last <= _NEXT_TO)

    def _how(self, hit: Hit) -> How:
        """How what a phrase of its own says was done."""
        return How.DONE if hit.meaning.kind == "finding" else self.deeds.how_of(hit)

    def _stated_effects(self) -> Iterator[EffectSaid]:
        spoken = list(self._spoken_effects())
        yield from spoken
        taken = {at for s in spoken for at in range(s.first, s.last + 1)}
        for hit in self.effects:
            if not taken.isdisjoint(range(hit.first, hit.last + 1)):
                continue
            sentence = self.sentence(hit)
            opener = self.symbols.openers.get(self.clause_first(hit), "")
            asked = sentence.asks and opener in self.book.openers
            if hit.meaning.more == "alone" and (not self._alone(hit) or self._never(hit)):
                continue
            if hit.meaning.record == Effect.CAME_BACK and self.book.order.is_habit(self._words(hit)):
                continue
            if (hit.meaning.more == "beside" and not self._behind_a_deed(hit)) or self._only_so(hit):
                continue
            if not sentence.quoted and not asked and not self._cue_before(hit, "supposed", _SUPPOSED_REACH):
                yield EffectSaid(hit.first, hit.last, self._effect(hit), hit.meaning.more == "beside")

    def _spoken_effects(self) -> Iterator[EffectSaid]:
        """The effects told by set words: "been fine ever since"."""
        text = self.small.replace("’", "'")
        for effect, said in self.book.effects_spoken.items():
            for start, end in standing(said, text):
                first = bisect_left(self.symbols.starts, start)
                last = bisect_left(self.symbols.starts, end) - 1
                n = bisect_right(self.sentence_starts, start) - 1
                sentence = self.symbols.sentences[n]
                # of words that all carry nothing, the one before them stands for them
                first = min(first, max(last, sentence.first)) if last < first else first
                if first < sentence.last and not sentence.quoted and not sentence.asks:
                    yield EffectSaid(first, max(first, last), self._unless_denied(effect, first))

    def _unless_denied(self, effect: Effect, first: int) -> Effect:
        """A cure, or no change where it is denied: "it didn't do the trick"."""
        n = bisect_left(self.negators, first)
        denied = n > 0 and first - self.negators[n - 1] <= _NEXT_TO and not self.broken(self.negators[n - 1], first)
        return Effect.NO_CHANGE if denied and effect in (Effect.CURED, Effect.BETTER) else effect

    def _effect(self, hit: Hit) -> Effect:
        """The effect as meant: what is nearly gone is better."""
        effect = Effect(hit.meaning.record)
        if effect is not Effect.CURED or self.book.partly is None:
            return effect
        start = max(self.symbols.starts[hit.first] - _NEXT_WORD, self.sentence(hit).start)
        partly = self.book.partly.search(self.text, start, self.symbols.ends[hit.last] + _NEXT_WORD)
        return effect if partly is None else Effect.BETTER

    def _words(self, hit: Hit) -> str:
        return self.text[self.symbols.starts[hit.first] : self.symbols.ends[hit.last]]

    def _never(self, hit: Hit) -> bool:
        """Whether a clause tells what never was, and no effect: "it never did that before"."""
        return self.text[self.symbols.starts[hit.first] : self.symbols.ends[hit.first]].lower() in self.book.turned_by

    def _alone(self, hit: Hit) -> bool:
        """Whether a hit is a clause of its own."""
        sentence, breaks = self.sentence(hit), self.symbols.breaks
        begins = hit.first == sentence.first or hit.first in breaks or hit.first - 1 in self.deed_ends
        return begins and (hit.last + 1 == sentence.last or hit.last + 1 in breaks)

    def _behind_a_deed(self, hit: Hit) -> bool:
        """Whether a deed stands shortly before, in the same sentence, and nothing sets the two against each other.

        In the next sentence, alone there, it must say that it is so now, or end the trouble: "Replaced the coil. Runs
        great now."
        """
        n = bisect_left(self.done_lasts, hit.first) - 1
        last = self.done_lasts[n] if n >= 0 else -1
        sentence = self.sentence(hit)
        if last >= 0 and self.symbols.sentence_of[hit.first] - self.symbols.sentence_of[last] == 1 and self._alone(hit):
            if self.book.order.says_now(self.text[sentence.start : sentence.end]):
                return True
            n = bisect_left(self.complaints, last)
            return n > 0 and (n == len(self.complaints) or self.complaints[n] >= sentence.last + _PLACE_REACH)
        near = last >= self.sentence(hit).first and hit.first - last <= _PLACE_REACH
        return near and not self._contrast(last, hit.first)

    def _brought(self, hit: Hit) -> bool:
        """Whether a setting moved shortly before, in the same sentence, brought some trouble: "and now it stalls"."""
        n = bisect_left(self.change_lasts, hit.first) - 1
        last = self.change_lasts[n] if n >= 0 else -1
        if last < self.sentence(hit).first or hit.first - last > _PLACE_REACH or self._contrast(last, hit.first):
            return False
        n = bisect_left(self.negators, last)
        denied = n < len(self.negators) and self.negators[n] <= hit.last
        between = self.text[self.symbols.ends[last] : self.symbols.starts[hit.first]]
        return not denied and self.book.order.says_now(between)

    def _only_so(self, hit: Hit) -> bool:
        """Whether an effect only holds at a time or with a thing, and no deed follows: "runs better with choke"."""
        if hit.meaning.more != "beside" and hit.meaning.record not in _GRADED:
            return False
        sentence = self.sentence(hit)
        if self.symbols.openers.get(sentence.first, "") in self.book.conditions:
            n = bisect_left(self.done_lasts, sentence.first)
            if not (n < len(self.done_lasts) and self.done_lasts[n] < hit.first):
                return True  # "if I pull the choke it goes better"
        end = self.symbols.starts[hit.last + 1] if hit.last + 1 < sentence.last else sentence.end
        start = self.symbols.ends[hit.last]
        following = self.text[start : start + _NEXT_WORD].lower().replace("’", "'").split()
        if not following or following[0].strip(",.;:!?") not in self.book.effect_unless or start > end:
            return False
        n = bisect_left(self.done_lasts, hit.last + 1)
        return not (n < len(self.done_lasts) and self.done_lasts[n] - hit.last <= _CUE_REACH)

    def _still(self, present: list[Hit]) -> Iterator[EffectSaid]:
        """"Still" before a sign, or at the head of a clause: what was done before changed nothing."""
        lasts = self.cue_lasts.get("still", [])
        for hit in present:
            n = bisect_right(lasts, hit.first)
            if n and 0 <= hit.first - lasts[n - 1] <= _GONE_REACH and lasts[n - 1] >= self.sentence(hit).first:
                yield EffectSaid(lasts[n - 1], hit.last, Effect.NO_CHANGE)
        good = sorted(v.first for v in self.deeds.verdicts if v.meaning.record == "good")
        for cue in self.cues.get("still", []):
            n = bisect_left(good, cue.last)
            well = n < len(good) and good[n] - cue.last <= _GONE_REACH
            own = cue.last + 1 in self.deeds.part_firsts  # "kept the main jet"
            if cue.first - self.clause_first(cue) <= _NEXT_TO and not (self.sentence(cue).quoted or well or own):
                yield EffectSaid(cue.first, cue.last, Effect.NO_CHANGE)

    def _trial(self, told: Outcome, epoch: int) -> out.TrialRead:
        hit, where = told.doing.hit, told.said
        said = (self.said(hit.first, hit.last), *((self.said(*where),) if where else ()))
        return out.TrialRead.trusted(
            do=hit.meaning.record if hit.meaning.kind == "do" else None,
            change=hit.meaning.record if hit.meaning.kind == "change" else None,
            direction=Change(hit.meaning.more) if hit.meaning.kind == "change" else None,
            effect=told.effect,
            unsaid=told.unsaid,
            put_back=hit.meaning.kind == "change" and self._put_back(hit),
            epoch=epoch,
            said=said,
        )

    def _put_back(self, hit: Hit) -> bool:
        """Whether the post says behind a setting moved, before the next, that it is as it was."""
        n = bisect_right(self.change_lasts, hit.last)
        sentence = min(self.symbols.sentence_of[hit.last] + 2, len(self.symbols.sentences) - 1)
        end = self.symbols.sentences[sentence].end or len(self.text)
        if n < len(self.change_lasts):
            end = min(end, self.symbols.starts[self.change_lasts[n]])
        words = self.book.deeds.put_back
        return words is not None and words.search(self.text, self.symbols.ends[hit.last], max(end, 0)) is not None

    # -- facts

    def _facts(self, stated: schema.Machine) -> tuple[out.FactRead, ...]:
        found: dict[tuple[str, object], list[out.Said]] = {}
        for spoken in self.spoken:
            n = bisect_right(self.sentence_starts, spoken.start) - 1
            if spoken.meaning.kind == "fact" and not self.symbols.sentences[n].quoted:
                words = out.Said.trusted(start=spoken.start, end=spoken.end, words=self.text[spoken.start : spoken.end])
                found.setdefault((spoken.meaning.record, spoken.meaning.more), []).append(words)
        for hit in longest(self.others, by_record=True):
            if self.sentence(hit).quoted:
                continue
            if "," in self.text[self.symbols.ends[hit.first] : self.symbols.starts[hit.last]]:
                continue  # "172 main, 48 pilot" tells of no main of 48
            said = self.said(hit.first, hit.last)
            if hit.meaning.kind == "quantity":
                number = self._number(hit)
                least = self.book.least.get(hit.meaning, number)
                if number is not None and least is not None and number < least:
                    if hit.meaning.record == "elevation_m":
                        self.low.append(out.FactRead.trusted(fact="elevation_m", value=number, said=(said,)))
                    continue
                if number is not None and number > self.book.most.get(hit.meaning, number):
                    continue
                if number is not None and _in_range(hit.meaning.record, number):
                    found.setdefault((hit.meaning.record, number), []).append(said)
            elif hit.meaning.kind == "kept":
                found.setdefault((hit.meaning.record, said.words), []).append(said)
            elif not self._denied(hit):
                more = hit.meaning.more
                found.setdefault((hit.meaning.record, float(more) if more.isdecimal() else more), []).append(said)
        outright = any(fact == "strokes" for fact, _ in found)
        found = {
            ("strokes" if fact == _HINTED else fact, value): said
            for (fact, value), said in found.items()
            if fact != _HINTED or not outright
        }
        values: dict[str, set[object]] = {}
        for fact, value in found:
            values.setdefault(fact, set()).add(value)
        facts = tuple(
            out.FactRead.trusted(fact=fact, value=value, said=tuple(said))
            for (fact, value), said in sorted(found.items(), key=lambda item: (item[1][0].start, item[0][0]))
            if len(values[fact]) == 1 or fact in ("engine_speed", "load", "elevation_m", "temperature_c")
        )
        return tuple(f for f in facts if self._fits(f, facts, stated))

    def _fits(self, fact: out.FactRead, facts: Iterable[out.FactRead], stated: schema.Machine) -> bool:
        """A family and a stroke that do not go together are left out; what was stated before the post counts."""
        if fact.fact == "strokes":
            family = self.k.families.get(stated.family)
            return family is None or fact.value in family.strokes
        if fact.fact != "family":
            return True
        said = next((f.value for f in facts if f.fact == "strokes"), None)
        strokes = stated.strokes or said
        return strokes is None or strokes in self.k.families[str(fact.value)].strokes

    def _number(self, hit: Hit) -> float | None:
        found = [self.symbols.values[i] for i in range(hit.first, hit.last + 1) if i in self.symbols.values]
        return round(found[0], 4) if len(found) == 1 else None

    # -- what stays

    def _not_understood(self) -> Iterator[out.Said]:
        length = len(self.symbols.symbols)
        # A word alone ("Hi all") is not worth a question.
        known = covered([*self.content, *self.effects, *self.others, *self.places], length)
        for sentence in self.symbols.sentences:
            begun: int | None = None
            last = -1
            for first, stop in clauses(self.symbols, sentence):
                understood = sentence.quoted or any(known[first:stop])
                if not understood and stop - first > 1:
                    begun = first if begun is None else begun
                    last = stop - 1
                if understood and begun is not None:
                    yield self.said(begun, last)
                    begun = None
            if begun is not None:
                yield self.said(begun, last)


_HEDGES = (("probably", Certainty.PROBABLY), ("maybe", Certainty.MAYBE))
_HOW_SURE = {How.PLANNED: 0, How.NAMED: 1, How.DONE: 2}
_CYLINDERS = (("one_cylinder", "one"), ("all_cylinders", "all"))
_SURE = {Certainty.MAYBE: 0, Certainty.PROBABLY: 1, Certainty.SURE: 2}

_RANGES = {
    "displacement_cc": (15.0, 3000.0),
    "elevation_m": (-500.0, 6000.0),
    "temperature_c": (-45.0, 55.0),
    "main_jet": (20.0, 1500.0),
    "pilot_jet": (5.0, 300.0),
    "screw_turns": (0.0, 12.0),
    "clip_groove": (1.0, 12.0),
}


def known_machine(stated: schema.Machine, facts: Iterable[out.FactRead]) -> schema.Machine:
    """The machine as stated, and for the rest as a post says."""
    said: dict[str, object] = {
        f.fact: f.value if isinstance(f.value, str) else int(f.value)
        for f in facts
        if f.fact in schema.Machine.model_fields
    }
    marked = [f.value for f in facts if f.fact == "main_jet"]
    if len(marked) == 1:  # a post hardly ever says how its jets are numbered
        said["parts"] = {"main_jet_marked": marked[0]}
    given = {n: v for n, v in stated.model_dump(exclude_unset=True).items() if v not in (None, UNKNOWN_FAMILY)}
    return schema.Machine.model_validate({**said, **given})


def _by_kind(found: Mapping[str, list[Hit]]) -> dict[str, list[Hit]]:
    out: dict[str, list[Hit]] = {}
    for kind, hits in found.items():
        out.setdefault(_KIND.get(kind, kind), []).extend(hits)
    return out


def _by_record(hits: Iterable[Hit]) -> dict[str, list[Hit]]:
    out: dict[str, list[Hit]] = {}
    for hit in hits:
        out.setdefault(hit.meaning.record, []).append(hit)
    return out


#: The fact of strokes that a part or a kind of machine only suggests ("power valve", "mower").
_HINTED = "strokes_hinted"


def _in_range(fact: str, value: float) -> bool:
    low, high = _RANGES[fact]
    return low <= value <= high


def _surest(everything: Iterable[Told]) -> dict[Hit, Told]:
    """Everything told by its hit; what was told twice, as it was told more surely."""
    surest: dict[Hit, Told] = {}
    for told in everything:
        known = surest.get(told.hit)
        if known is None or _HOW_SURE[told.how] > _HOW_SURE[known.how]:
            surest[told.hit] = told
    return surest


def _done(told: Told) -> bool:
    return told.how is not How.PLANNED


def _trial_key(hit: Hit) -> tuple[str, str, str]:
    return (hit.meaning.kind, hit.meaning.record, hit.meaning.more)


def _in_a_row(statements: Sequence[Hit], hit: Hit) -> bool:
    """Whether statements lead up to another without a gap."""
    reach = hit.first
    for other in sorted(statements, key=lambda h: -h.last):
        if reach - other.last > 1:
            return False
        reach = min(reach, other.first)
    return True


def _please_say(reading: out.TextReading, k: Knowledge) -> Iterator[str]:
    """What an answer needs most and the post does not say, as questions for the poster."""
    known = {f.fact for f in reading.facts}
    if not any(f.status is Status.PRESENT for f in reading.findings):
        yield "What does the engine do wrong, and at which throttle opening (idle, quarter, half, full)?"
    elif not any(k.places[p].in_chart for f in reading.findings for p in f.at):
        yield "At which throttle opening does it happen: idle, an eighth, a quarter, half, three-quarter or full?"
    if "strokes" not in known:
        yield "Is it a two-stroke or a four-stroke?"
    if not reading.contexts:
        yield "What was changed, or what happened, just before it began?"
    if not reading.checks and not reading.trials:
        yield "What have you checked or tried so far, and what did it do?"


