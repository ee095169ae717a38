"""How a statement is meant: denied, doubted, asked, told of the past or of somebody else."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from itertools import pairwise
from typing import Final, NamedTuple

from carbdiag.reading.answered import Answered
from carbdiag.reading.deed_book import How
from carbdiag.reading.found import Found
from carbdiag.reading.hearsay import Hearsay
from carbdiag.reading.matcher import Hit
from carbdiag.reading.only_sought import OnlySought
from carbdiag.reading.reaches import CUE_REACH, GONE_REACH, NEXT_TO, NEXT_WORD, SUPPOSED_REACH
from carbdiag.reading.sieve import denied_at_its_end
from carbdiag.reading.spans import ends_between
from carbdiag.reading.symbols import Sentence
from carbdiag.reading.turns_of_speech import OF_THEN, TurnsOfSpeech
from carbdiag.terms import Certainty

#: Words behind a part and its state, or a circumstance, that a guess may end with: "jets too big (for the height)?"
_GUESS_REACH = 3
#: Characters between a denial and a sign in which the words that end it are looked for.
_DENIAL_REACH: Final = 80
#: Characters before a sign in which an "if" of its sentence stands.
_IF_REACH: Final = 60
#: Characters before a circumstance in which it is forbidden, or from the beginning of a sentence that may ask.
_NEAR: Final = 24
_TOLD_AS: Final = {"over": "past", "planned": "supposed"}
_MARK: Final = re.compile(r"[,;:.!?()]")
_WORDS: Final = re.compile(r"[\w'’]+")
_HEDGES = (("probably", Certainty.PROBABLY), ("maybe", Certainty.MAYBE))


class Meant(NamedTuple):
    """How a statement is meant."""

    denied: bool = False
    certainty: Certainty = Certainty.SURE
    unknown: bool = False
    aside: str = ""


_PLAIN: Final = Meant()
_DENIED: Final = Meant(denied=True)


class Manner:
    """How the statements of a post are meant."""

    def __init__(self, found: Found) -> None:
        self.found = found
        self._only_sought = OnlySought(found)
        self._hearsay = Hearsay(found)
        self._answered = Answered(found)
        self._turns = TurnsOfSpeech(found, self.was_never)

    def meant(self, hit: Hit) -> Meant:
        """How a statement is meant; the first thing that sets it aside decides."""
        acts = hit.meaning.kind in ("do", "change")
        if not acts and self.found.denials.holds(hit):
            return Meant(aside="denied")  # "not a hint of smoke" tells of no firing
        if not acts and self._told_otherwise(hit):
            return _DENIED  # before "looked for" sets it aside
        cued = self.found.cues.any_near(hit)
        aside = self._aside(hit, cued)
        if aside:
            return Meant(aside=aside)
        if not cued:
            return _DENIED if self.denied(hit) else _PLAIN
        certainty = Certainty.SURE
        for cue, certain in _HEDGES:
            if self.found.cues.near(hit, cue):
                certainty = certain
        unknown = self.found.cues.before(hit, "unknown")
        if unknown and self._is_an_opinion(hit):
            return Meant(aside="question")  # "no idea whether that makes it lean" is nobody's verdict
        return Meant(self.denied(hit), certainty, unknown)

    def _told_otherwise(self, hit: Hit) -> bool:
        """Whether a turn of speech denies what holds no denial itself."""
        denies = self.found.denials.denies(hit) and not self._denies_itself(hit)
        return denies and not self.found.sentence(hit).quoted

    def _aside(self, hit: Hit, cued: bool) -> str:
        """Why a statement is set aside, if it is."""
        sentence, kind = self.found.sentence(hit), hit.meaning.kind
        if sentence.quoted:
            return "quoted"
        asks = self._asked(hit, sentence) or self._deed_asked(hit, sentence) if sentence.asks else False
        if asks or (not sentence.asks and self._begins_to_ask(hit, sentence)):
            return "question"
        if cued and self.found.cues.before(hit, "supposed", SUPPOSED_REACH):
            return "supposed"
        if (self._hearsay(hit) and not self._is_an_opinion(hit)) or self._only_named(hit) or self._only_a_case(hit):
            return "supposed"
        if kind == "finding" and ((over := self._ends_another(hit)) or (cued and self.found.cues.near(hit, "past"))):
            return "denied" if over else "past"
        turn = self._turns.why(hit, sentence)
        acts = kind in ("do", "change")
        if acts:
            counts = turn == "other_machine" or (turn == "planned" and not self._turns.tells_as_done(hit))
        else:
            of_signs = kind == "context" and self.found.k.contexts[hit.meaning.record].of_signs
            counts = ("finding" if of_signs else kind) in OF_THEN.get(turn, (kind, "finding"))
        return _TOLD_AS.get(turn, turn) if counts else ""

    def _said_no(self, hit: Hit) -> bool:
        if hit.meaning.kind == "finding" and self._answered.no(hit):
            return True
        return hit.meaning.kind not in ("do", "change") and not self._denies_itself(hit) and self._answered.none(hit)

    def _denies_itself(self, hit: Hit) -> bool:
        """Whether a statement holds a denial: "no spark", "won't idle"."""
        return any(ends_between(self.found.negators, first - 1, last) for first, last in hit.parts)

    def _only_a_case(self, hit: Hit) -> bool:
        """Whether a statement is only what may be found, or a check is answered with no."""
        kind = hit.meaning.kind
        if kind in ("do", "change"):
            return False
        return self._answered.a_case(hit) or (kind != "finding" and self._answered.no(hit))

    def _only_named(self, hit: Hit) -> bool:
        """Whether a check was only meant to be done, or a circumstance is forbidden."""
        kind = hit.meaning.kind
        return (kind == "check" and self._only_sought(hit)) or (kind == "context" and self._forbidden(hit))

    def _forbidden(self, hit: Hit) -> bool:
        """Whether somebody is told not to do it: "(don't buy it used)"."""
        end = self.found.symbols.starts[hit.first]
        before = self.found.small[max(self.found.sentence(hit).start, end - _NEAR) : end]
        said = " ".join(_WORDS.findall(_MARK.split(before)[-1])).replace("’", "'")
        return said in self.found.book.language.negation.forbids

    def _is_an_opinion(self, hit: Hit) -> bool:
        return hit.meaning.kind == "finding" and self.found.k.findings[hit.meaning.record].opinion

    def was_never(self, hit: Hit) -> bool:
        """Whether a sign is told as what never was before: "never bogged until I cleaned it"."""
        n = bisect_right(self.found.negators, hit.first)
        near = n > 0 and hit.first - self.found.negators[n - 1] <= self.found.book.language.negation.reach + 1
        return near and self.turned(self.found.negators[n - 1], hit)

    def _asked(self, hit: Hit, sentence: Sentence) -> bool:
        if any(sentence.first <= h.first < sentence.last for h in self.found.cues.within("why", sentence)):
            return False
        first = self.found.clause_first(hit)
        opener = self.found.symbols.openers.get(first, "")
        asked = hit.meaning.kind in ("check", "context") or self._opinion_asked(hit, sentence)
        if asked and opener not in self.found.book.language.strong_breaks:
            begins, ends = hit.first - first, sentence.last - 1 - hit.last
            if begins <= NEXT_TO and ends <= _GUESS_REACH and not self.found.broken(hit.last, sentence.last - 1):
                return True  # "Reeds worn?", "so what is it, seized?", "it bogs, too lean?"
        return opener in self.found.book.openers

    def _opinion_asked(self, hit: Hit, sentence: Sentence) -> bool:
        """Whether a verdict is what is asked, and not told beside a question: "what now, (it's running lean)?"."""
        begins = _WORDS.findall(self.found.small[sentence.start : sentence.start + _NEAR])[:1]
        return self._is_an_opinion(hit) and self.found.book.deeds.asking.isdisjoint(begins)

    def _begins_to_ask(self, hit: Hit, sentence: Sentence) -> bool:
        """Whether the first clause of a sentence asks without its mark: "could a (bad float needle) do this"."""
        begin = self.found.small[sentence.start : sentence.start + _NEAR].lstrip(" \n-.,")
        asks = begin.startswith(self.found.book.language.asks_so)
        return asks and not self.found.broken(sentence.first, hit.first)

    def _deed_asked(self, hit: Hit, sentence: Sentence) -> bool:
        """Whether a deed or a check is asked about: "how do I clean the jet?"."""
        told = self.found.told.get(hit)
        if (told is None and hit.meaning.kind == "do") or (told is not None and told.how is How.NAMED):
            return True
        opener = self.found.symbols.openers.get(sentence.first, "")
        return hit.meaning.kind not in ("finding", "context") and opener in self.found.book.deeds.asking

    def denied(self, hit: Hit) -> bool:
        """Whether words deny a statement, those in its own gaps or those before it."""
        negators = self.found.negators
        at_once = denied_at_its_end(hit, negators) or self.found.denials.in_gap(hit, self.found.free_negators)
        at_once = at_once or self.found.denials.undone_within(hit, negators)
        twice = not hit.meaning.more and self.found.denials.undone_before(hit.first)  # "it's not that it won't start"
        if at_once or twice or self._ended(hit) or self._said_no(hit) or self._stopped(hit):
            return True
        before = self._denial_before(hit)
        if before is not None:
            return not self.turned(before, hit)
        return hit.meaning.kind not in ("do", "change", "check") and self._gone(hit)

    def _denial_before(self, hit: Hit) -> int | None:
        """Where the word of denial before a statement stands that reaches it; None where none does."""
        negation, negators = self.found.book.language.negation, self.found.negators
        first = self.found.sentence(hit).first
        remains = bool(hit.meaning.more) and hit.first in negators and self._twice(hit.first)
        remains = remains or not negation.only_so.isdisjoint(self.found.words(hit).lower().split()[1:])
        n = bisect_left(negators, hit.first)
        if remains or not n:
            return None
        at = negators[n - 1]
        if at < first or hit.first - at > negation.reach + 1 or self.found.broken(at, hit.first):
            return None
        return None if self._ends_before(at, hit) else at

    def _ends_before(self, at: int, hit: Hit) -> bool:
        """Whether what a denial denies ends before a statement, or the statement has one of its own."""
        negators, book = self.found.negators, self.found.book
        in_another = self.found.inside[at] and not (self._carried(hit) or self._is_shared(at, hit))
        if in_another or self._denies_another(at, hit):
            return True
        if hit.first in negators and at + 1 < hit.first and self._in_a_condition(at):
            return True  # "if I don't choke it it won't start": the sign has a denial of its own
        if at + 1 == hit.first and self._word(hit.first) in book.doubled:
            return True  # "can't hardly get up a hill"
        told = self.found.deeds.effects
        if hit.meaning.kind in ("do", "change") and at in told and at + 1 in told:
            return True  # "no luck with a new pump" tells that it was fitted, "not fitted" does not
        if self.found.denials.stops_inside(hit):
            return True  # "can't make the plug stop coming out wet"
        symbols = self.found.symbols.symbols
        own = symbols[hit.first] in book.not_before and hit.meaning.kind != "finding"
        return own or any(s in book.not_before for s in symbols[at + 1 : hit.first])

    def _gone(self, hit: Hit) -> bool:
        """Whether words behind a sign, or right before it, say that it went: "the bog is gone"."""
        lasts = self.found.cues.lasts("gone")
        n = bisect_right(lasts, hit.last)
        if n < len(lasts):
            gone = self.found.cues.of("gone")[n]
            close = gone.first > hit.last and gone.first - hit.last <= GONE_REACH
            close = close and not ends_between(self.found.negators, hit.last, gone.first)  # "the bog hasn't gone away"
            if close and gone.last < self.found.sentence(hit).last and not self.found.broken(hit.last, gone.first):
                return True
        n = bisect_left(lasts, hit.first)
        if not n:
            return False
        gone = self.found.cues.of("gone")[n - 1]
        same = gone.first >= self.found.sentence(hit).first and hit.first - gone.last <= NEXT_TO
        return same and gone.first - 1 not in self.found.negators and not self.found.broken(gone.last, hit.first)

    def _in_a_condition(self, at: int) -> bool:
        """Whether a denial is that of a condition: "if I (don't) choke it"."""
        end = self.found.symbols.starts[at]
        before = self.found.small[max(end - NEXT_WORD, 0) : end].split()[-2:]
        return not self.found.book.conditioned_by.isdisjoint(before)

    def _is_shared(self, at: int, hit: Hit) -> bool:
        """Whether a denial in another statement denies this sign too; what a check found has words of its own."""
        return hit.meaning.kind != "check" and not self._denies_itself(hit) and self.found.is_shared(at, hit)

    def _stopped(self, hit: Hit) -> bool:
        """Whether a sign is told as over in its middle, and nothing denies that: "the lights stopped flickering"."""
        if not self.found.denials.stops_inside(hit) or self._denies_itself(hit):
            return False
        last = hit.parts[-1][0]
        n = bisect_left(self.found.negators, last)
        at = self.found.negators[n - 1] if n else -1
        return at < 0 or last - at > self.found.book.language.negation.reach + 1 or self.found.broken(at, last)

    def _denies_another(self, at: int, hit: Hit) -> bool:
        """Whether what is denied ends before a sign: "no shoulder, the engine (died)", "no more than (spit)"."""
        symbols, words = self.found.symbols, self.found.book.language.negation
        start = symbols.starts[hit.first]
        said = _WORDS.findall(self.found.small[symbols.ends[at] : min(start, symbols.ends[at] + _DENIAL_REACH)])
        between = f" {' '.join(said)} "
        if any(f" {over} " in between for over in words.over_behind):
            return True
        if at + 1 >= hit.first or self._word(at) not in words.of_things:
            return False
        return any(
            word in words.next_subjects and before not in words.leading_on for before, word in pairwise(said)
        )

    def _ended(self, hit: Hit) -> bool:
        """Whether the word before a sign says that it is over: "it stopped popping", but not "it never stopped"."""
        if hit.meaning.kind != "finding" or not self.found.book.order.ended(self.found.text, self._start(hit)):
            return False
        n = bisect_left(self.found.negators, hit.first)
        at = self.found.negators[n - 1] if n else -1
        # "can't get the lights to stop flickering"
        denied = at >= 0 and hit.first - at <= self.found.book.language.negation.reach + 1
        return not (denied and not self.found.broken(at, hit.first))

    def _ends_another(self, hit: Hit) -> bool:
        """Whether the first word of a sign only says that what follows is over: "(quit) popping on (decel)"."""
        symbols = self.found.symbols
        behind = hit.last + 1 < min(self.found.sentence(hit).last, len(symbols.starts))
        if behind and self.found.book.order.ended(self.found.text, symbols.starts[hit.last + 1]):
            return True  # "with the choke on (it quits) spitting"
        if hit.first + 1 >= hit.parts[-1][0]:
            return False
        return self.found.book.order.ended(self.found.text, self.found.symbols.starts[hit.first + 1])

    def _start(self, hit: Hit) -> int:
        return self.found.symbols.starts[hit.first]

    def _word(self, at: int) -> str:
        return self.found.text[self.found.symbols.starts[at] : self.found.symbols.ends[at]].lower()

    def conditional(self, hit: Hit) -> bool:
        """Whether "pulling hard" only says when something else happens, as in "smokes when pulling hard"."""
        low = max(self.found.clause_first(hit), hit.first - NEXT_TO)
        before = self.found.symbols.symbols[low : hit.first]
        if hit.first in self.found.negators and before[-1:] in self.found.book.joined_by:
            return False  # "holds its speed with no surging"
        if hit.first not in self.found.negators and self._behind_an_if(hit):
            return True  # but "if you crank it open it doesn't bog" tells as much
        return any(s in self.found.book.condition_symbols for s in before)

    def _behind_an_if(self, hit: Hit) -> bool:
        """Whether an "if" leads to what is denied: "if I pull the choke a bit it runs steady"."""
        start = self.found.symbols.starts[hit.first]
        least = max(self.found.sentence(hit).start, start - _IF_REACH)
        words = re.finditer(r"[^\W\d_]+", self.found.small[least:start])
        leads = (least + word.start() for word in words if word[0] in self.found.book.conditioned_by)
        return any(not self._of_a_trouble_before(at, hit) for at in leads)

    def _of_a_trouble_before(self, start: int, hit: Hit) -> bool:
        """Whether an "if" only says when the trouble before it comes: "it bogs when I hit it, (idles nicely)"."""
        found = self.found
        at = bisect_left(found.symbols.starts, start)
        if not ends_between(found.commas, at, hit.first):
            return False
        first = max(found.last_break(at), found.sentence(hit).first)
        begin, end = (bisect_left(found.content, place, key=lambda h: h.first) for place in (first, at))
        return any(h.meaning.kind == "finding" and not h.meaning.more for h in found.content[begin:end])

    def _carried(self, hit: Hit) -> bool:
        """Whether a denial before this hit goes on to it, as in "no misfire or bucking"."""
        if not hit.first:
            return False
        between = self.found.text[self.found.symbols.ends[hit.first - 1] : self.found.symbols.starts[hit.first]].lower()
        return bool(set(between.split()) & set(self.found.book.language.negation.carried_by))

    def _twice(self, at: int) -> bool:
        """Whether another denial before it turns one round: "can't open it without (bogging)"."""
        n = bisect_left(self.found.negators, at)
        before = self.found.negators[n - 1] if n else -1
        near = before >= 0 and at - before <= CUE_REACH and not self.found.broken(before, at)
        return near and self._word(at) in self.found.book.language.negation.undone_by_another

    def turned(self, at: int, hit: Hit) -> bool:
        """Whether a negator is undone by what follows, as in "never bogged until", or goes before."""
        if self.found.denials.undone_before(at) or self.found.denials.more_than(at):
            return True  # "it's not like it doesn't bog", "never fails to bog"
        if self.found.denials.of_then(at, hit) or self._twice(at):
            return True
        if self._word(at) not in self.found.book.turned_by:
            return False
        end = min(hit.last + 1 + 2 * CUE_REACH, self.found.sentence(hit).last)
        return any(s in self.found.book.turned_words for s in self.found.symbols.symbols[hit.last + 1 : end])
