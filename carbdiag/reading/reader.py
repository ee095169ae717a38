"""Read a post: find the phrases, weigh how each is meant, and put together what a case can take."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterable, Iterator, Sequence

from carbdiag import reading_schema as out
from carbdiag.band_view import directions
from carbdiag.case_schema import AirChange, Machine
from carbdiag.errors import CaseError, Problem, ReadingMissingError, nearest
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.reading.beside_spec import looks_beside_spec
from carbdiag.reading.effects import Outcome
from carbdiag.reading.effects_told import EffectsTold
from carbdiag.reading.facts import JETS, Facts, fitted_now, known_machine
from carbdiag.reading.felt_places import far_openings
from carbdiag.reading.found import Found
from carbdiag.reading.garbage import no_search_for_garbage
from carbdiag.reading.gauges import Gauges
from carbdiag.reading.home_again import air_since, home_again, without_the_stay
from carbdiag.reading.jets_compared import JetsCompared, epochs, without_lists
from carbdiag.reading.jets_in_it import jets_in_it, only_on_hand
from carbdiag.reading.manner import Manner
from carbdiag.reading.matcher import Hit
from carbdiag.reading.merging import Merging
from carbdiag.reading.new_air import NewAir
from carbdiag.reading.only_there import unless_elsewhere, without_their_words
from carbdiag.reading.order import Border, Order, Seen
from carbdiag.reading.phrasebook import phrasebook
from carbdiag.reading.spans import covered
from carbdiag.reading.statements import Statements, Stating
from carbdiag.reading.symbols import clauses
from carbdiag.reading.trials_told import (
    Trials,
    beside_trials,
    one_after_the_other,
    untried,
    without_a_trial,
    without_repeats,
)
from carbdiag.reading.turns_told import OF_SETTINGS, looks_at_turns
from carbdiag.reading.two_jets import two_jets
from carbdiag.reading.weather_then import degrees_then_and_now, weather_since, without_the_heights_it_likes
from carbdiag.terms import Change, Direction, Status


def read_text(
    text: str, knowledge: Knowledge | None = None, language: str = "en", machine: Machine | None = None
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
    k = the_knowledge(knowledge)
    _check(text, language, k)
    book = phrasebook(k, language)
    with no_search_for_garbage():
        symbols = book.reader.read(text)
        return _Reading(Found(k, book, text, symbols)).answer(machine or Machine())


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
        raise CaseError([Problem("text", f"holds half of a surrogate pair at character {error.start}")]) from None
    if size > out.MOST_BYTES:
        raise CaseError(
            [Problem("text", f"may have at most {out.MOST_BYTES // 1024} kB, this one has {size / 1024:.0f} kB")]
        )


class _Reading:
    """Puts together what was found in a post."""

    def __init__(self, found: Found) -> None:
        manner = Manner(found)
        self.found, self._merging, self._trials = found, Merging(found), Trials(found)
        self._facts, self._stating = Facts(found, manner.denied), Stating(found, manner)

    def answer(self, stated: Machine) -> out.TextReading:
        """The reading, statements in the order of the post."""
        facts = self._facts.told(stated)
        t = without_the_heights_it_likes(self.found, self._stating.all(known_machine(stated, facts)))
        t = weather_since(self.found, t)
        home = home_again(self.found, t, self._trials)
        if home is not None:
            t = without_the_stay(self.found, t, home, self._trials)
        t = t._replace(findings=list(self._merging.of_the_same(self._merging.with_implied(t.findings))))
        order = self._order(t.findings)
        jets = JetsCompared(self.found, t.findings, self._goes_with, EffectsTold(self.found, t.present))
        others = without_lists(self.found.k, self._trials.outcomes(t.done, t.present, order), jets.told)
        outcomes = sorted([*others, *jets.told], key=lambda o: o.doing.hit.first)
        borders = jets.borders(order.borders(others))
        trials = tuple(one_after_the_other(without_repeats(self._tried(outcomes, jets, order, borders))))
        facts = self._with_jets_in_it(facts, trials, jets)
        circumstances = self._circumstances(t, trials, facts)
        placed, gone = self._placed(t, order, borders, outcomes, jets)
        checks = without_their_words(beside_trials(self.found, t.checks, trials), gone)
        looks = tuple(self._where_it_shows(self._merging.checks(checks, order, borders), placed))
        moved = {trial.change for trial in trials}
        turns = [f for f in facts if moved.isdisjoint(OF_SETTINGS.get(f.fact, ()))]
        looks += tuple(looks_at_turns(self.found, known_machine(stated, facts), turns, looks, len(borders)))
        looks = looks_beside_spec(self.found, looks, len(borders))
        moves = {self._moved(c) for c in circumstances if c.status is Status.PRESENT} - {None}
        air = air_since(home, facts) if home else NewAir(self.found).told(facts, self._facts.low, moves)
        if air is None and not any(f.fact == "elevation_m" for f in facts):
            air = degrees_then_and_now(self.found)
        reading = out.TextReading.trusted(
            edition=self.found.k.edition,
            language=self.found.book.language.id,
            findings=tuple(self._merging.findings(placed)),
            contexts=circumstances if air is None else self._of_this_air(air, circumstances),
            checks=looks,
            trials=trials,
            gauges=Gauges(self.found).told(order, borders),
            facts=facts,
            air=air,
            set_aside=tuple(sorted(self.found.aside, key=lambda a: (a.said.start, a.said.end, a.record))),
            not_understood=tuple(self._not_understood()),
            told_as_numbers=tuple(_told_as_numbers(self.found.k, facts, looks)),
            please_say=(),
        )
        return reading.model_copy(update={"please_say": tuple(_please_say(reading, self.found.k))})

    def _tried(
        self, outcomes: Sequence[Outcome], jets: JetsCompared, order: Order, borders: Sequence[Border]
    ) -> Iterator[out.TrialRead]:
        """The trials; a jet told as one of several has its own stretch of time, and may be out again."""
        began = epochs(borders, jets.told)
        for outcome in outcomes:
            deed = outcome.doing.hit
            epoch = began[deed] if deed in began else order.epoch_of_deed(borders, deed)
            yield self._trials.trial(outcome, epoch, deed in jets.put_back)

    def _with_jets_in_it(
        self, facts: tuple[out.FactRead, ...], trials: tuple[out.TrialRead, ...], jets: JetsCompared
    ) -> tuple[out.FactRead, ...]:
        """The facts with the jets that are in it now, without those that lie ready or were only tried."""
        ready = only_on_hand(self.found)
        kept = [f for f in facts if (JETS.get(f.fact, ""), f.value) not in ready]
        told = [*two_jets(self.found), *jets_in_it(self.found), *self._trials.fitted(trials)]
        return tuple(jets.fitted(fitted_now(kept, told)))

    def _circumstances(
        self, t: Statements, trials: tuple[out.TrialRead, ...], facts: tuple[out.FactRead, ...]
    ) -> tuple[out.ContextRead, ...]:
        """Those told, and those that deeds tell."""
        told = {context: list(hits) for context, hits in t.contexts.items()}
        for hit in without_a_trial(self.found, t.before, trials):
            told.setdefault(hit.meaning.record, []).append((Status.PRESENT, hit))
        for context, hit in self._trials.circumstances():
            told.setdefault(context, []).append((Status.PRESENT, hit))
        read = self._merging.contexts(untried(self.found, told, trials))
        return tuple(c for c in read if not self._only_where_it_is(c, facts))

    def _placed(
        self,
        t: Statements,
        order: Order,
        borders: Sequence[Border],
        outcomes: Sequence[Outcome],
        jets: JetsCompared,
    ) -> tuple[list[tuple[out.FindingRead, Hit]], list[Hit]]:
        """The signs, each in its stretch of time and where it is; what is over, or was but a reason, is of before."""
        is_reason, over = self._trials.reasons(order), self._trials.over(outcomes)
        kept = [found for found in t.findings if not (over(found[1]) or jets.over(found[1]))]
        for _, hit in t.findings:
            if over(hit) or jets.over(hit):
                self.found.put_aside(hit, "past")
        now = [found for found in kept if not is_reason(found[1])]
        past = [*t.past, *(found for found in kept if is_reason(found[1]))]
        return unless_elsewhere(self.found, self._merging.in_order(order, borders, now, past))

    def _where_it_shows(
        self, looks: Iterable[out.CheckRead], placed: Iterable[tuple[out.FindingRead, Hit]]
    ) -> Iterator[out.CheckRead]:
        """The checks of the mixture, each without an opening at the only one at which trouble is told beside it.

        "It bogs at half. A bit of choke helps": it helps there.
        """
        bogs = [(f.epoch, f.at) for f, _ in placed if f.status is Status.PRESENT]
        for look in looks:
            check = self.found.k.checks[look.check]
            may = {*check.at, *check.weak_at}
            there = {place for epoch, at in bogs if epoch == look.epoch for place in at if place in may}
            if look.at is None and check.reads == "mixture" and len(there) == 1:
                yield look.model_copy(update={"at": there.pop()})
            else:
                yield look

    def _of_this_air(
        self, air: AirChange, circumstances: tuple[out.ContextRead, ...]
    ) -> tuple[out.ContextRead, ...]:
        """The circumstances without a move the other way: two heights tell it more surely than the words at one."""
        if air.set.elevation_m == air.now.elevation_m:
            return circumstances
        way = "up" if air.now.elevation_m > air.set.elevation_m else "down"
        return tuple(c for c in circumstances if self._moved(c) in (None, way))

    def _moved(self, read: out.ContextRead) -> str | None:
        return self.found.k.contexts[read.context].moved

    def _only_where_it_is(self, read: out.ContextRead, facts: tuple[out.FactRead, ...]) -> bool:
        """Whether a move is told by nothing but a low height, the only one of the post: "riding at 600 ft".

        With the words of the move in it, "moved to 600 ft" is no way up, for all we know.
        """
        said: dict[float, list[out.Said]] = {}
        for fact in (*facts, *self._facts.low):
            if fact.fact == "elevation_m":
                said.setdefault(float(fact.value), []).extend(fact.said)
        way, (height, told) = self._moved(read), next(iter(said.items()), (0.0, []))
        if way is None or len(said) != 1 or height >= self.found.book.language.high_from_m:
            return False
        if way == "up" and height > 0:  # from the sea it goes nowhere but up
            return all(any(s.start <= t.start and t.end <= s.end for t in told) for s in read.said)
        return all(s in told for s in read.said)

    def _order(self, findings: Iterable[tuple[out.FindingRead, Hit]]) -> Order:
        told = ((read, hit) for read, hit in findings if read.status is not Status.UNKNOWN)
        seen = (Seen(hit, read.status is Status.DENIED, read.finding, read.at) for read, hit in told)
        circuits = self.found.k.circuits.keys()
        contexts = sorted((h for h in self.found.content if h.meaning.kind == "context"), key=lambda h: h.first)
        about = ((h, self.found.k.contexts[h.meaning.record]) for h in contexts)
        fitted = [h.first for h, c in about if c.set_up or (h in self.found.told and circuits.isdisjoint(c.told_by))]
        places = [h.first for h in contexts]
        book = self.found.book
        return Order(
            book.order, self.found.text, self.found.symbols, seen, self._goes_with, fitted, places, book.rejets,
            [(size.at, size.circuit) for size in self.found.jets_since], far_openings(self.found.k),
            lambda sign: self.found.k.findings[sign].warns_of_lean,
        )  # fmt: skip

    def _goes_with(self, finding: str, change: str) -> bool:
        """Whether a sign is one of the mixture that a setting moved that way leads to, and of no other."""
        record = self.found.k.findings[finding]
        way = Direction.RICH if change == Change.RICHER else Direction.LEAN
        return record.mixture is not None and directions(self.found.k, record) == (way,)

    def _not_understood(self) -> Iterator[out.Said]:
        length = len(self.found.symbols.symbols)
        # A word alone ("Hi all") is not worth a question.
        found = self.found
        told = [*found.content, *found.effects, *found.others, *found.places, *found.asked_to_use()]
        known = covered(told, length)
        for sentence in self.found.symbols.sentences:
            begun: int | None = None
            last = -1
            for first, stop in clauses(self.found.symbols, sentence):
                understood = sentence.quoted or known.find(1, first, stop) >= 0
                if not understood and stop - first > 1:
                    begun = first if begun is None else begun
                    last = stop - 1
                if understood and begun is not None:
                    yield self.found.said(begun, last)
                    begun = None
            if begun is not None:
                yield self.found.said(begun, last)


def _told_as_numbers(k: Knowledge, facts: Iterable[out.FactRead], told: Iterable[out.CheckRead]) -> Iterator[str]:
    """The checks that a number of the post spares, whatever it says beside the book."""
    numbers, answered = {f.fact for f in facts}, {c.check for c in told}
    for check in k.checks.values():
        if check.id not in answered and not numbers.isdisjoint(check.told_by_facts):
            yield check.id


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
