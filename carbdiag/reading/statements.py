"""What a post states of the machine: signs, circumstances, checks and deeds; what is meant otherwise is put aside."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from carbdiag import reading_schema as out
from carbdiag.case_check import impossible
from carbdiag.case_schema import Machine
from carbdiag.reading.air_moved import AirMoved
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.effects import Doing
from carbdiag.reading.found import Found
from carbdiag.reading.jets_in_it import seen_with_the_old
from carbdiag.reading.manner import Manner, Meant
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.parts_not_on import PartsNotOnIt
from carbdiag.reading.places import Places
from carbdiag.reading.reaches import CUE_REACH, NEXT_TO, PLACE_REACH
from carbdiag.reading.spans import ends_between, furthest, holds, meets
from carbdiag.reading.swapped_over import swaps
from carbdiag.records.checks import Check
from carbdiag.records.findings import Finding
from carbdiag.terms import Certainty, Change, Status

_TWO_STROKE = 2
#: Symbols of a question that is none but the sign.
_FRAGMENT = 3
#: Characters around a statement in which the words stand that say how it is meant.
_NEAR = 90
_CYLINDERS = (("one_cylinder", "one"), ("all_cylinders", "all"))


class Statements(NamedTuple):
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


class Stating:
    """Takes what was found in a post as statements on a machine."""

    def __init__(self, found: Found, manner: Manner) -> None:
        self.found, self._manner, self._places = found, manner, Places(found)
        self._possible: dict[str, bool] = {}
        self._air, self._not_on = AirMoved(found), PartsNotOnIt(found)
        self._speeds = sorted(
            end for h in found.others if h.meaning[:2] == ("kept", "engine_speed") for end in {h.first, h.last}
        )

    def all(self, machine: Machine) -> Statements:
        """Everything said, by what it is; what is no statement about the machine now is put aside."""
        t = Statements([], [], {}, [], [], [], [])
        shown = furthest([(h.first, h.last) for h in self.found.content if self._for_a_moment(h)])
        for hit in self._with_swaps():
            meant = self._manner.meant(hit)
            told = self.found.told.get(hit)
            how = How.PLANNED if self._still_planned(hit) else told.how if told else self._how(hit)
            if self._not_on.fitted_after(hit) and meant.aside in ("", "supposed"):
                meant, how = meant._replace(aside=""), How.DONE
            if told and told.only_before and not told.before:
                # done after the trouble was told of: a trial
                if not t.present and how is How.DONE and not (meant.aside or meant.denied):
                    t.before.append(hit)
                continue
            if told and told.by_look and {hit.last + 1, hit.last + 2} & self.found.symbols.values.keys():
                continue  # "valves checked .05 and .08": the number is what was found, whatever it says
            before = meant.aside == "past" or (not meant.aside and seen_with_the_old(self.found, hit))
            if hit.meaning.kind == "finding" and before:
                read = self._finding(hit, meant._replace(denied=self._manner.denied(hit)), machine)
                t.past.extend([] if read is None else [(read, hit)])
                continue
            aside = self._aside(hit, meant, how, shown)
            if aside:
                self.found.put_aside(hit, aside)
            elif hit.meaning.kind == "finding":
                read = self._finding(hit, meant, machine)
                for told_so in self._from_a_limit_on(read, hit) if read is not None else ():
                    t.findings.append((told_so, hit))
                    if told_so.status is Status.PRESENT:
                        t.present.append(hit)
            elif hit.meaning.kind == "context":
                context = self._air.context(hit)
                if context is not None:
                    denied = meant.denied != bool(hit.meaning.more)
                    t.contexts.setdefault(context, []).append((Status.DENIED if denied else Status.PRESENT, hit))
            elif hit.meaning.kind == "check":
                certainty = Certainty.PROBABLY if told and told.by_look else meant.certainty
                check = self._check(hit, certainty, machine)
                t.checks.extend([] if check is None else [(check, hit)])
            elif hit.meaning.kind == "change" and not self._has(machine, hit.meaning.record):
                self.found.put_aside(hit, "not_on_this_machine")
            else:
                t.done.append(self._doing(self._by_kind_of_screw(hit, machine), how, told))
        return self._without_what_never_was(self._without_what_a_check_showed(t))

    def _aside(self, hit: Hit, meant: Meant, how: How, shown: tuple[list[int], list[int]]) -> str:
        """Why what is said is no statement about the machine now; empty where it is one.

        `shown`: where it is told what more or less fuel does for a moment.
        """
        looked = hit.meaning.kind == "check"
        if looked and (self._two_numbers(hit) or self._of_the_book(hit)):
            return "contradicted"  # "float height 16, book says 19" is not as the book says
        planned = how is How.PLANNED or (looked and (how is How.NAMED or self.found.deeds.likened(hit)))
        if meant.aside or planned:
            return meant.aside or "supposed"
        if not meant.denied and (why := self._not_on.why(hit)):
            return why
        if hit.meaning.more == "denied" and (self._manner.conditional(hit) or meets(shown, hit)):
            return "supposed"  # "(pull the choke and it runs steady)": only so
        if meant.denied and hit.meaning.kind not in ("finding", "context"):
            return "denied"
        return "supposed" if self._too_vague(hit, meant) else ""

    def _too_vague(self, hit: Hit, meant: Meant) -> bool:
        """Whether a statement of this kind wants to be surer; a sign may be unknown, or certain only by half."""
        if hit.meaning.kind == "finding":
            return False
        maybe = self._to_be_done(hit) if hit.meaning.kind == "context" else meant.certainty is Certainty.MAYBE
        return meant.unknown or maybe

    def _without_what_never_was(self, t: Statements) -> Statements:
        """The statements without signs told as new that are told again: "it didn't bog before. Now it (bogs)"."""
        never = {hit for read, hit in t.findings if read.status is Status.PRESENT and self._manner.was_never(hit)}
        told = {r.finding for r, hit in t.findings if r.status is Status.PRESENT and hit not in never} if never else ()
        again = {hit for read, hit in t.findings if hit in never and read.finding in told}
        if not again:
            return t
        for hit in again:
            self.found.put_aside(hit, "past")
        left = [x for x in t.findings if x[1] not in again]
        return t._replace(findings=left, present=[h for h in t.present if h not in again])

    def _without_what_a_check_showed(self, t: Statements) -> Statements:
        """The statements without signs whose words only tell what was seen in a check: "hose off, fuel pours out"."""
        findings = self.found.k.findings
        seen: dict[str, list[tuple[int, int]]] = {}
        for read, hit in t.checks:
            seen.setdefault(read.check, []).append((hit.first, hit.last))
        places = {check: furthest(hits) for check, hits in seen.items()}
        shown = {
            hit for sign, hit in t.findings
            if any(
                meets(places[c], hit) and (self.found.k.checks[c].needs_running or self._opened(hit))
                for c in findings[sign.finding].shown_by if c in places
            )
        }  # fmt: skip
        if not shown:
            return t
        left = [x for x in t.findings if x[1] not in shown]
        return t._replace(findings=left, present=[h for h in t.present if h not in shown])

    def _opened(self, hit: Hit) -> bool:
        """Whether the words around say that something was pulled off, or opened, to look."""
        words, sentence = self.found.book.opened, self.found.sentence(hit)
        start, end = self.found.symbols.starts[hit.first], self.found.symbols.ends[hit.last]
        low, high = max(sentence.start, start - _NEAR), min(sentence.end, end + _NEAR)
        return words is not None and words.search(self.found.small, low, high) is not None

    def _two_numbers(self, hit: Hit) -> bool:
        """Whether what was measured stands beside another number than its own."""
        if hit.meaning.record not in self.found.book.language.looks.one_number:
            return False
        values, last = self.found.symbols.values, self.found.sentence(hit).last
        return len({values[at] for at in range(hit.first, min(hit.last + 2, last)) if at in values}) > 1

    def _of_the_book(self, hit: Hit) -> bool:
        """Whether a look names a number of the book beside another: "(stock is 155 main) and I put a 160 in"."""
        leads, values = self.found.deeds.leads_to_the_book, self.found.symbols.values
        if leads(hit.last):
            return True
        last = self.found.sentence(hit).last
        others = {values[at] for at in range(hit.first, min(hit.last + PLACE_REACH, last)) if at in values}
        return leads(hit.first) and len(others) > 1

    def _for_a_moment(self, hit: Hit) -> bool:
        """Whether a check tells what more or less fuel does for a moment, and not how the engine is."""
        return hit.meaning.kind == "check" and self.found.k.checks[hit.meaning.record].reads == "mixture"

    def _still_planned(self, hit: Hit) -> bool:
        """Whether the clause of a deed says that it is only planned: "I was gonna go from 158 to 150"."""
        words = self.found.book.deeds.still_planned
        deed = hit in self.found.told or (hit.meaning.kind == "context" and self._not_on.of_a_part(hit))
        if not deed or hit.meaning.kind == "check" or words is None:
            return False
        symbols = self.found.symbols
        end = symbols.ends[hit.last]
        start = max(symbols.starts[self.found.clause_first(hit)], symbols.starts[hit.first] - _NEAR)
        return words.search(self.found.text, start, end) is not None

    def _to_be_done(self, hit: Hit) -> bool:
        """Whether a circumstance is a deed that is still to be done: "new carb goes on Saturday"."""
        done = self.found.k.contexts[hit.meaning.record].told_by
        return bool(done) and self.found.deeds.not_done_at(hit.first)

    def _with_swaps(self) -> list[Hit]:
        """What was found; parts swapped between cylinders are no new ones: "swapped the coils over, still the left"."""
        read, over = self._swaps(), [s for s in swaps(self.found) if not self.found.sentence(s.hit).quoted]
        places = furthest([(s.hit.first, s.hit.last) for s in over])
        hits = [
            h for h in self.found.content
            if h.meaning.kind == "check" or not (holds(read, h) or (h in self.found.told and meets(places, h)))
        ]  # fmt: skip
        checks = furthest([(h.first, h.last) for h in hits if h.meaning.kind == "check"])
        for hit, told in over:
            if told and not meets(checks, hit):
                self.found.told[hit] = Told(hit, How.DONE, False)
                hits.append(hit)
        return sorted(hits, key=lambda h: (h.first, h.last))

    def _swaps(self) -> tuple[list[int], list[int]]:
        """Where parts are told as swapped between cylinders, with what came of it."""
        checks = (h for h in self.found.content if h.meaning.kind == "check")
        swaps = [h for h in checks if self.found.k.checks[h.meaning.record].between_cylinders]
        return furthest([(h.first, h.last) for h in swaps if self._names_a_side(h)])

    def _names_a_side(self, hit: Hit) -> bool:
        sides, sentence = self.found.book.sides, self.found.sentence(hit)
        start, end = self.found.symbols.starts[hit.first], self.found.symbols.ends[hit.last]
        low, high = max(sentence.start, start - _NEAR), min(sentence.end, end + _NEAR)
        return sides is not None and sides.search(self.found.text, low, high) is not None

    def _impossible(self, machine: Machine, record: Finding | Check) -> bool:
        if record.id not in self._possible:
            self._possible[record.id] = not impossible(machine, record.applies, self.found.k)
        return not self._possible[record.id]

    def _has(self, machine: Machine, circuit: str) -> bool:
        family = self.found.k.families.get(machine.family)
        return family is None or circuit in family.circuits

    def _finding(self, hit: Hit, meant: Meant, machine: Machine) -> out.FindingRead | None:
        record = self.found.k.findings[hit.meaning.record]
        if record.stops_whole and self.found.book.nearly and self.found.book.nearly.search(self.found.words(hit)):
            self.found.put_aside(hit, "denied")
            return None
        if self._impossible(machine, record):
            self.found.put_aside(hit, "not_on_this_machine")
            return None
        denied = meant.denied != (bool(hit.meaning.more) and not self._manner.turned(hit.first, hit))
        if denied and self._only_asked(hit):
            self.found.put_aside(hit, "question")
            return None
        if meant.denied and (hit.meaning.more or self.found.broken(hit.first, hit.last)):
            # "does not idle fine": the opposite of a denial is too weak to state the sign;
            # "it won't run right and it stalls": what is denied is not the whole
            self.found.put_aside(hit, "denied")
            return None
        status = Status.UNKNOWN if meant.unknown else Status.DENIED if denied else Status.PRESENT
        at = self._places.at(hit, record.at)
        if hit.meaning.more and not at and (self._at_some_speed(hit) or self._beside_no_opening(hit)):
            # "low end is crisp": engine speed is no opening, and nothing is said of the rest
            self.found.put_aside(hit, "denied")
            return None
        return out.FindingRead.trusted(
            finding=record.id,
            at=at,
            status=status,
            certainty=meant.certainty if status is Status.PRESENT else Certainty.SURE,
            cylinders=self._cylinders(hit, machine) if status is Status.PRESENT else None,
            said=(self.found.said(hit.first, hit.last),),
        )

    def _from_a_limit_on(self, read: out.FindingRead, hit: Hit) -> Iterator[out.FindingRead]:
        """A sign, and where it is denied only up to a limit, that it shows from there on: "doesn't bog till half"."""
        until = self._places.until(hit) if read.status is Status.DENIED else None
        beyond = self.found.book.ranges.beyond(until) if until is not None else ()
        at = tuple(p for p in self.found.k.findings[read.finding].at if p in beyond)
        if not at or self.found.k.findings[read.finding].runs_right:
            yield read
            return
        if before := tuple(p for p in read.at if p not in beyond):
            yield read.model_copy(update={"at": before})
        yield read.model_copy(update={"at": at, "status": Status.PRESENT})

    def _only_asked(self, hit: Hit) -> bool:
        """Whether a question is nothing but the sign that may be gone: "Vibration gone?"."""
        sentence = self.found.sentence(hit)
        return sentence.asks and sentence.last - sentence.first <= _FRAGMENT

    def _beside_no_opening(self, hit: Hit) -> bool:
        """Whether a sign is told of the openings beside one that nobody named: "stumbles at 4000, fine (below)"."""
        return ends_between(self.found.relative_firsts, hit.first - 1, hit.last)

    def _at_some_speed(self, hit: Hit) -> bool:
        """Whether the words around, in its clause, name a range of engine speed; its own ("to redline") it tells of."""
        low, high = hit.first - NEXT_TO, hit.last + NEXT_TO
        near = self._speeds[bisect_left(self._speeds, low) : bisect_right(self._speeds, high)]
        around = (at for at in near if not hit.first <= at <= hit.last)
        return any(not self.found.broken(min(at, hit.first), max(at, hit.last), strong=True) for at in around)

    def _cylinders(self, hit: Hit, machine: Machine) -> str | None:
        if machine.cylinders == 1 or not self.found.cues.any_near(hit):
            return None
        return next((to for cue, to in _CYLINDERS if self.found.cues.near(hit, cue, CUE_REACH)), None)

    def _check(self, hit: Hit, certainty: Certainty, machine: Machine) -> out.CheckRead | None:
        record = self.found.k.checks[hit.meaning.record]
        if self._impossible(machine, record):
            self.found.put_aside(hit, "not_on_this_machine")
            return None
        at = None
        if record.reads == "mixture":
            known = self._places.at(hit, (*record.at, *record.weak_at))
            at = known[0] if len(known) == 1 else None
        return out.CheckRead.trusted(
            check=record.id,
            outcome=self._of_little(hit, record),
            at=at,
            certainty=certainty,
            said=(self.found.said(hit.first, hit.last),),
        )

    def _of_little(self, hit: Hit, record: Check) -> str:
        """What a check found; that there is hardly any is not that there is none: "barely any spark"."""
        outcome, said = hit.meaning.more, self.found.words(hit).lower().split()
        return outcome if self.found.book.doubled.isdisjoint(said) else record.scant.get(outcome, outcome)

    def _by_kind_of_screw(self, hit: Hit, machine: Machine) -> Hit:
        """A mixture screw turned, as the screw of this machine works: an air screw out is leaner.

        Two-strokes have either, so of one that nobody says the kind of only the turning is told.
        """
        if hit.meaning[:2] != ("change", "mixture_screw"):
            return hit
        symbols, last = self.found.symbols, self.found.symbols.ends[hit.last]
        begin = symbols.starts[max(hit.first - NEXT_TO, symbols.sentences[symbols.sentence_of[hit.first]].first)]
        named = self.found.deeds.meant.get((hit.first, hit.last))
        if named is not None:  # "the air screw is at 1.5. I turned it out": the kind stands where it is named
            begin, last = symbols.starts[named.first], symbols.ends[named.last]
        if self.found.book.kinds_of_screw.intersection(self.found.small[begin:last].split()):
            return hit
        if machine.mixture_screw == "air_screw":
            other = Change.LEANER if hit.meaning.more == Change.RICHER else Change.RICHER
            return hit._replace(meaning=Meaning("change", "mixture_screw", other))
        if machine.mixture_screw is None and machine.strokes == _TWO_STROKE:
            action = self.found.k.circuits["mixture_screw"].richer.action
            return hit._replace(meaning=Meaning("do", action))
        return hit

    def _doing(self, hit: Hit, how: How, told: Told | None) -> Doing:
        before, in_vain = (told.before, told.in_vain) if told else (False, False)
        past = self.found.symbols.sentence_of[hit.first] in self.found.long_ago
        brought_on = self.found.deeds.began_with(hit) if told is None else told.brought_on
        set_up, earlier = hit.first in self.found.set_up, self.found.deeds.led_by_after(hit)
        return Doing(hit, how, before or past, in_vain, set_up, past, brought_on, earlier)

    def _how(self, hit: Hit) -> How:
        """How what a phrase of its own says was done."""
        return How.DONE if hit.meaning.kind == "finding" else self.found.deeds.how_of(hit)
