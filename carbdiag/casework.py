"""From a case to belief: what was said becomes evidence, evidence becomes a posterior over hypotheses.

Modeling choices beyond `belief`:

* A sign told without a place shows *somewhere*; told with several places, somewhere among them.
* Paraphrases (one `cluster`, one place, one status) are one statement: the rider said one of these words.
* A change of setting shifts the mixture by its step; what was seen later, without putting it back, is read under that
  shift. Hypotheses are about the engine as the trouble of today began: a setting whose move brought it on is part of
  them, and what was seen before is read without the move. A repair removes its cause with the
  chance that its effect implies, and later observations are read as a mix of repaired and not.
* People ask because of the fault: a hypothesis with no part in any sign told unasked counts less.
* A known change of air makes the matching air cause as large as computed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

import numpy as np

from carbdiag.belief.evidence import (
    Place,
    PlaceTerm,
    SignPart,
    said_absent,
    said_present,
    signs_alone,
    single_term,
    somewhere_silent,
)
from carbdiag.belief.lattice import Floats, Ints, shifted
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Column, Evidence, Posterior, posterior
from carbdiag.belief.residual import levels_seen
from carbdiag.belief.screening import alike, beside_nothing, heads, promise
from carbdiag.case_check import check_case
from carbdiag.case_schema import Air, AirChange, Case, CheckResult, Epoch, FindingReport, Machine, Reading, Trial
from carbdiag.diagnosis_schema import Statement
from carbdiag.family_metering import circuits_of
from carbdiag.knowledge import Knowledge, family_id
from carbdiag.metering.air import KELVIN, AirState, air_state, standard_temperature_k
from carbdiag.model import AIR_SIGN, CheckOutcome, Model, Strokes, compile_model, machine_fit
from carbdiag.records.checks import Check
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.records.scales import Scales
from carbdiag.setting_shift import shift_by_trial
from carbdiag.settled import context_statuses, settle
from carbdiag.terms import SETTING_EFFECTS, UNKNOWN_FAMILY, Certainty, Change, Direction, Effect, RepairHow, Status
from carbdiag.trials import direction_of, felt_at, moved_into_trouble


@dataclass(frozen=True, eq=False)
class Observation:
    """One statement, and its likelihood over single states."""

    statement: Statement
    likelihood: Floats  # (S,)
    background: float  # its likelihood when the cause is something unknown


@dataclass(frozen=True, eq=False)
class Repaired:
    """Chance that each state, if it was at work, is repaired by now, shape (S,).

    A repair that took one of two causes away is felt otherwise than one that took the only one: "no change" is common
    after the first and all but rules out the second.
    """

    alone: Floats  # where it was the only cause
    of_two: Floats  # where there was a second one

    @classmethod
    def nothing(cls, states: int) -> Repaired:
        """Before any repair."""
        return cls(np.zeros(states), np.zeros(states))

    def and_then(self, more: Repaired) -> Repaired:
        """What is repaired after another repair."""
        return Repaired(
            1 - (1 - self.alone) * (1 - more.alone), 1 - (1 - self.of_two) * (1 - more.of_two)
        )

    def of_hypotheses(self, network: Network) -> tuple[Floats, Floats]:
        """Chance that the first, and the second, cause of every hypothesis is repaired, each (H,)."""
        first = network.of_first(self.of_two)
        first[: network.states] = self.alone
        return first, network.of_second(self.of_two)


Seen = Mapping[int, tuple[PlaceTerm, ...]]


@dataclass(frozen=True, eq=False)
class Belief:
    """One kind of machine the case may be about, with its posterior."""

    model: Model
    network: Network  # the model's, adapted to the air of the case
    weight: float  # P(this kind of machine | case); sums to 1 over an assessment
    evidence: Evidence
    posterior: Posterior
    observations: tuple[Observation, ...]
    steps: Ints  # (P,) lattice steps by which settings changed and kept since trouble began moved the mixture
    background: float  # P(something unknown), on the scale of the posterior's weights
    background_ratio: float  # how many times better the listed hypotheses explain the case
    repaired: Repaired
    unspoken: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.intp))  # rows of signs the rider left out
    again: tuple[tuple[str, str], ...] = ()  # signs, by place, worth telling again: see `to_tell_again`
    seen: Seen = field(default_factory=dict)  # what was said of each place
    seen_since: Seen = field(default_factory=dict)  # of it, what was said since the first repair


@dataclass(frozen=True, eq=False)
class Assessment:
    """A case, settled for reading, and what it makes us believe, per kind of machine."""

    knowledge: Knowledge
    case: Case
    beliefs: tuple[Belief, ...]
    notices: tuple[str, ...] = ()  # contradictions in the case


def assess(k: Knowledge, case: Case) -> Assessment:
    """Check a case and weigh every hypothesis.

    Raises:
        CaseError: listing every problem of the case.
    """
    case = with_family_id(k, case)
    check_case(k, case)
    settled = settle(k, case)
    case = settled.case
    kinds = with_parts_told(k, case, machine_kinds(k, case.machine))
    beliefs = [_believe(compile_model(k, family, strokes), case) for family, strokes, _ in kinds]
    logs = [
        math.log(weight) + belief.posterior.scale_log
        for (_, _, weight), belief in zip(kinds, beliefs, strict=True)
    ]
    largest = max(logs)
    raw = [math.exp(v - largest) for v in logs]
    total = sum(raw)
    return Assessment(
        k,
        case,
        tuple(
            b if w == total else replace(b, weight=w / total)
            for b, w in zip(beliefs, raw, strict=True)
            if w / total > 1e-6
        ),
        settled.notices,
    )


def with_family_id(k: Knowledge, case: Case) -> Case:
    """The case with its family named by its id, where a rider's word for it was given."""
    family = family_id(k, case.machine.family)
    if family == case.machine.family:
        return case
    return case.model_copy(update={"machine": case.machine.model_copy(update={"family": family})})


def machine_kinds(k: Knowledge, machine: Machine) -> tuple[tuple[str, Strokes, float], ...]:
    """The kinds of machine a case may be about: (family, strokes, prior weight), weights summing to 1.

    The use of the machine, where told, says which families to expect instead of the families themselves.
    """
    expected = k.uses[machine.use].families if machine.use is not None else {}
    families = [machine.family] if machine.family != UNKNOWN_FAMILY else list(k.families)
    strokes: tuple[Strokes, ...] = (machine.strokes,) if machine.strokes else (2, 4)
    kinds: list[tuple[str, Strokes, float]] = []
    for s in strokes:
        for f in families:
            record = k.families[f]
            weights = expected.get(f) if expected and len(families) > 1 else record.weight_when_unknown
            if weights is None:
                continue
            weight = weights.two_stroke if s == 2 else weights.four_stroke
            if machine.cylinders is not None and machine.cylinders > 1:
                weight *= weights.several_cylinders
            if s in record.strokes and (weight > 0 or len(families) == 1):
                kinds.append((f, s, weight if len(families) > 1 else 1.0))
    if not kinds:  # a use whose machines have no such stroke: then it does not tell
        return machine_kinds(k, machine.model_copy(update={"use": None}))
    total = sum(w for _, _, w in kinds)
    return tuple((f, s, w / total) for f, s, w in kinds)


def with_parts_told(
    k: Knowledge, case: Case, kinds: tuple[tuple[str, Strokes, float], ...]
) -> tuple[tuple[str, Strokes, float], ...]:
    """The kinds of machine that have the parts that were fitted, set or looked at; all, where none has them."""
    told = case.history()
    moved = {t.change for epoch in told for t in epoch.trials if t.change is not None}
    sure = [c.check for epoch in told for c in epoch.checks if c.certainty is Certainty.SURE]
    looked_at = [{*k.checks[check].applies.circuits} for check in sure if k.checks[check].applies.circuits]
    fitted = circuits_of(case.machine.parts) if case.machine.parts else ()
    wanted = [*({part} for part in (*moved, *fitted)), *looked_at]
    having = tuple(kind for kind in kinds if all(any_of & {*k.families[kind[0]].circuits} for any_of in wanted))
    total = sum(weight for _, _, weight in having)
    return tuple((f, s, w / total) for f, s, w in having) if having else kinds


# ---------------------------------------------------------------------------------------------------------
# Air


def dry_air(air: Air) -> AirState:
    """Dry air at standard pressure, and where no temperature is known at the standard one, of an elevation."""
    celsius = air.temperature_c
    if celsius is None:
        celsius = standard_temperature_k(air.elevation_m) - KELVIN
    return air_state(temperature_c=celsius, elevation_m=air.elevation_m, relative_humidity=0.0)


def air_shift(k: Knowledge, family: Family, air: AirChange) -> dict[str, float]:
    """Mixture shift by place when the air has changed since the carburetor was set; thinner air is richer.

    x = exponent(band) * ln(density now / density set), dry air (the family's exponent is weaker near idle).
    """
    ratio = dry_air(air.now).dry_density_kg_m3 / dry_air(air.set).dry_density_kg_m3
    by_band = {band: exponent * math.log(ratio) for band, exponent in family.air_exponent.items()}
    return {
        p.id: by_band.get(p.id, sum(w * by_band.get(b, 0.0) for b, w in family.drivers.get(p.id, p.drivers).items()))
        for p in k.places.values()
    }


def _with_air(model: Model, network: Network, shift: dict[str, float], odds: Floats) -> Network:
    """Make the matching air cause as large as computed, and the other impossible; changes `odds` in place."""
    k = model.knowledge
    largest = max(shift.values(), key=abs)
    x = network.x.copy()
    for cause in (c for c in k.causes.values() if c.air is not None and c.id in model.cause_ids):
        assert cause.air is not None
        sign = AIR_SIGN[cause.air]
        states = [n for n, s in enumerate(model.states) if s.cause == cause.id]
        matches = abs(largest) >= k.scales.mixture.lattice_step and math.copysign(1, largest) == sign
        for n in states:
            odds[n] = k.scales.decision.known_air_odds / len(states) if matches else 0.0
            if matches:
                x[:, n] = network.lattice.steps(np.array([shift[p] for p in model.places]))
    return network.moved(x)


# ---------------------------------------------------------------------------------------------------------
# Belief in one kind of machine


def _together(factors: list[Floats], scales: Scales) -> Floats:
    """What circumstances do to the odds together, by state.

    They are not independent of each other: a filter, a jet and a repair are often one event. So of those that raise a
    cause, and of those that lower it, the strongest counts whole and each other one in part (a power of its factor);
    all of them do no more than the limit, or than the strongest alone.
    """
    log = np.log(np.array(factors))
    strongest = np.maximum(log.max(axis=0), 0), np.minimum(log.min(axis=0), 0)
    overlap, limit = scales.context_overlap, math.log(scales.context_limit)
    total = overlap * log.sum(axis=0) + (1 - overlap) * (strongest[0] + strongest[1])
    return np.asarray(np.exp(np.clip(total, np.minimum(strongest[1], -limit), np.maximum(strongest[0], limit))))


def _believe(model: Model, case: Case) -> Belief:
    k, network = model.knowledge, model.network
    fitted = network.odds * machine_fit(model, case.machine)
    factors: list[Floats] = []
    observations: list[Observation] = []
    held = {c.context for c in case.contexts if c.status is Status.PRESENT}
    for context, says in context_statuses(case.contexts).items():
        void = not held.isdisjoint(k.contexts[context].void_beside)
        for status in says:
            factor = (model.told if status is Status.PRESENT else model.denied)[context]
            if void and status is Status.PRESENT:  # "it ran fine before", of another set-up
                factor = np.ones_like(factor)
            if len(says) > 1:
                factor = np.sqrt(factor)  # said to be so and not so: each counts half
            factors.append(factor)
            words = k.contexts[context].name
            text = words if status is Status.PRESENT else f"Not so: {words.lower()}"
            said = _statement("context", text, ids=(context,), status=status)
            observations.append(Observation(said, factor, _mean(network, factor)))
    odds = fitted * _together(factors, k.scales) if factors else fitted
    if case.air is not None:
        network = _with_air(model, network, air_shift(k, model.family, case.air), odds)

    reader = _Reader(model, network, case)
    reader.read()
    observations += reader.observations
    complaint = reader.complained_of()
    evidence = Evidence(
        odds=odds,
        state_factor=reader.silence(),
        places=reader.places(),
        columns=(*reader.columns, complaint) if complaint is not None else tuple(reader.columns),
        alone=reader.alone,
    )
    network = with_pairs(k, network, evidence, observations, reader.repaired)
    found = posterior(network, evidence)

    unlisted = k.scales.unlisted
    listed = float(network.odds[1:].sum())
    log_background = math.log(unlisted.share_of_background * listed) + float(
        np.log(np.maximum(odds @ evidence.state_factor / odds.sum(), 1e-300))
    )
    log_background += sum(math.log(max(o.background, 1e-300)) for o in observations if o.statement.kind != "context")
    background = math.exp(min(log_background - found.scale_log, 600.0))
    # how well the listed causes, weighed as before the evidence, foretold it; the background did `background`
    singles = float(odds[1:].sum())
    ratio = (1 - found.weights[0]) / (singles + singles**2 / 2) / (
        background / (unlisted.share_of_background * listed)
    )
    ratio *= _alone_in_its_rarity(network, observations)
    if complaint is not None:
        # an unknown fault would be complained of as seldom for everyday signs; over the single causes
        single = network.blocks(found.weights)[0]
        ratio *= float((single / reader.complained_alone).sum() / single.sum())
    share = background / (1 + background)
    return Belief(
        model=model,
        network=network,
        weight=1.0,
        evidence=evidence,
        posterior=found.beside(background),
        observations=tuple(observations),
        steps=reader.steps,
        background=share,
        background_ratio=float(ratio),
        repaired=reader.repaired or Repaired.nothing(network.states),
        again=tuple(key for key in to_tell_again(case) if key in model.rows),
        unspoken=reader.unspoken(),
        seen={p: tuple(terms) for p, terms in reader.seen.items()},
        seen_since={p: tuple(terms) for p, terms in reader.seen_since.items()},
    )


def _alone_in_its_rarity(network: Network, observations: Iterable[Observation]) -> float:
    """How much one sign, rarer than all others told, speaks for something unknown: no sign goes against itself.

    It is what the rider came for, and as rare with any cause.
    """
    seen = (o for o in observations if o.statement.kind != "context")
    boosts = [math.log(max(o.background, 1e-300) / max(_mean(network, o.likelihood), 1e-300)) for o in seen]
    first, second = sorted([*boosts, 0.0, 0.0], reverse=True)[:2]
    return math.exp(first - second)


def with_pairs(
    k: Knowledge,
    network: Network,
    evidence: Evidence,
    observations: Iterable[Observation],
    repaired: Repaired | None = None,
) -> Network:
    """Add the pairs that matter to a case, judged by how the single causes fare."""
    before, alone = evidence.before, posterior(network, evidence).weights
    seen = [o.likelihood for o in observations if o.statement.kind != "context"]
    spoken = beside_nothing(network, seen)
    some = heads(network, promise(network, before, spoken, float(alone[0])), k.scales.pairs.not_headed)
    # in a pair the other one explains its part: what was seen counts for about half of what it does alone
    kinds = alike(network, before, alone, spoken, None if repaired is None else repaired.of_two)
    return network.narrowed(some, np.sqrt(before * alone), kinds)


def _mean(network: Network, likelihood: Floats) -> float:
    return float(network.typical @ likelihood)


def to_tell_again(case: Case) -> tuple[tuple[str, str], ...]:
    """Signs, by place, that showed before a repair that made it better, and of which nothing was told since.

    Where it helped and did not cure, what is gone and what is left tells what was repaired and what was not.
    """
    shown: dict[tuple[str, str], None] = {}
    again: dict[tuple[str, str], None] = {}
    if not any(t.do is not None for epoch in case.history() for t in epoch.trials):
        return ()
    for epoch in case.history():
        for report in epoch.findings:
            for place in report.at:
                again.pop((report.finding, place), None)
                shown.pop((report.finding, place), None)
                if report.status is Status.PRESENT and len(report.at) == 1:
                    shown[report.finding, place] = None
        if any(t.do is not None and t.effect is Effect.BETTER for t in epoch.trials):
            again = dict(shown)
    skipped = {(s.id, s.at) for s in case.unanswered if s.kind == "finding"}
    return tuple(key for key in again if key not in skipped)


class _Reader:
    """Turns the statements of a case into evidence for one model; lives only while one case is read."""

    def __init__(self, model: Model, network: Network, case: Case) -> None:
        self.model, self.network, self.case = model, network, case
        self.k = model.knowledge
        self.by_place: dict[int, list[PlaceTerm]] = {}
        self.seen: dict[int, list[PlaceTerm]] = {}  # all that was said of a place
        self.seen_since: dict[int, list[PlaceTerm]] = {}  # and since the first repair
        self.columns: list[Column] = []
        self.alone: dict[Column, Floats] = {}
        self.unmixed: list[PlaceTerm] = []  # statements of one epoch about signs that the mixture does not touch
        self.observations: list[Observation] = []
        self.mentioned: set[int] = set()
        self.spoken_of: set[str] = set()
        self.visited: set[str] = set(case.visited)
        self.complained_alone = np.ones(network.states)
        """What complaining of everyday signs counts for single causes."""
        self.ridden = False
        """Whether a sign was told of an engine that is ridden or worked with, so that it was started and has idled."""
        self.steps = np.zeros(len(model.places), dtype=np.intp)  # trial shifts since trouble began, lattice steps
        self.repaired: Repaired | None = None  # given the effects told
        self.reach: set[str] = set()
        self.was_fine = True  # no trouble told yet: work that made it worse brought it
        self.number = 0  # of the epoch
        self.told: tuple[FindingReport, ...] = ()  # the last that was said of signs
        # of each sign told unasked, by state: the chance that the fault has no part in it
        self.beside_the_fault: list[Floats] = []
        self.shown: set[tuple[str, str]] = set()  # signs, by place, told present before this epoch
        self.again: list[_Again] = []  # told of them once more, after a repair
        self.last_told = {
            (f.finding, at): n for n, e in enumerate(case.history()) for f in e.findings for at in f.at
        }

    def read(self) -> None:
        """Read every epoch in order."""
        for trial in moved_into_trouble(self.case):
            shift = shift_by_trial(self.model, self.case.machine, trial)
            if shift is not None:
                self.steps = self.steps - self.network.lattice.steps(shift)
        for number, epoch in enumerate(self.case.history()):
            self.number = number
            self._epoch(epoch)
        if len(self.reach) == 1:
            self._reach(next(iter(self.reach)))

    def _epoch(self, epoch: Epoch) -> None:
        before = len(self.columns)
        outer = self.by_place
        if self.repaired is not None:
            # after a repair this epoch is its own integral, so that it can be read with and without the cause
            self.by_place = {}
        self.told = epoch.findings or self.told
        self._findings(epoch)
        for result in epoch.checks:
            self._check(result, epoch)
        for reading in epoch.readings:
            self._reading(reading)
        if self.repaired is not None:
            new = tuple(self.columns[before:])
            del self.columns[before:]
            places = self.places()
            self.by_place = outer
            if new or places or self.again:
                self.columns.append(_with_repair(self.repaired, new, places, tuple(self.again)))
            self.again.clear()
        self.shown |= {(f.finding, p) for f in epoch.findings if f.status is Status.PRESENT for p in f.at}
        self.was_fine = self.was_fine and not any(f.status is Status.PRESENT for f in epoch.findings)
        for trial in epoch.trials:
            if trial.do is not None:
                self._repair(trial)
            else:
                self._setting(trial)
            self.was_fine = self.was_fine and trial.effect is Effect.WORSE  # nobody mends what runs right

    def places(self) -> tuple[Place, ...]:
        """What was read of each place since the last repair, or in all."""
        return tuple(Place.of(self.network, p, tuple(terms)) for p, terms in sorted(self.by_place.items()))

    def _at(self, place: int, term: PlaceTerm) -> None:
        """Take down a statement about a place."""
        self.by_place.setdefault(place, []).append(term)
        self.seen.setdefault(place, []).append(term)
        if self.repaired is not None:
            self.seen_since.setdefault(place, []).append(term)

    # -- findings

    def _findings(self, epoch: Epoch) -> None:
        model, k = self.model, self.k
        placed: dict[tuple[str, Status, str], list[tuple[FindingReport, int]]] = {}
        loose: dict[tuple[str, Status], list[FindingReport]] = {}
        for report in epoch.findings:
            finding = k.findings[report.finding]
            places = [p for p in (report.at or finding.at) if (report.finding, p) in model.rows]
            self._mention(report, places)
            if report.status is Status.UNKNOWN or not places:
                continue
            cluster = finding.cluster or finding.id
            if report.cylinders and report.status is Status.PRESENT:
                self.reach.add(report.cylinders)
            if len(places) == 1 and self.repaired is not None and (report.finding, places[0]) in self.shown:
                self._told_again(report, places[0])
            elif len(places) == 1:
                row = model.rows[report.finding, places[0]]
                placed.setdefault((cluster, report.status, places[0]), []).append((report, row))
            else:
                loose.setdefault((cluster, report.status), []).append(report)
        said = {(cluster, status) for cluster, status, _ in placed}
        for (_, status, place), reports in placed.items():
            self._placed(status, place, reports)
        if self.unmixed:
            self.columns.append(signs_alone(self.network, tuple(self.unmixed)))
            self.unmixed.clear()
        for key, loose_reports in loose.items():
            if key not in said:
                self._loose(key[1], loose_reports)

    def _mention(self, report: FindingReport, places: list[str]) -> None:
        for place in places:
            self.mentioned.update(self.model.kin[report.finding, place])
            if report.status is Status.UNKNOWN or report.asked:
                continue
            self.spoken_of.add(place)
            if report.status is Status.PRESENT and self.k.findings[report.finding].means_ride:
                self.ridden = True
            if report.at:
                self.visited.add(place)
                self.visited.update(self.k.places[place].implies_visited)

    def _line(self, report: FindingReport) -> tuple[float, float]:
        error = self.k.scales.certainty[report.certainty]
        return said_present(error) if report.status is Status.PRESENT else said_absent(error)

    def _placed(self, status: Status, place: str, reports: list[tuple[FindingReport, int]]) -> None:
        network = self.network
        index = self.model.place(place)
        n = len(reports)
        lines = [self._line(report) for report, _ in reports]
        step = int(self.steps[index])
        term = PlaceTerm(
            constant=sum(c for c, _ in lines) / n,
            parts=tuple(SignPart(row, w / n, step) for (_, row), (_, w) in zip(reports, lines, strict=True)),
        )
        if any(network.signs.has_mixture[row] for _, row in reports):
            self._at(index, term)
        else:
            self.unmixed.append(term)
        names = [self.k.findings[r.finding].name for r, _ in reports]
        single = single_term(network, index, term)
        sound = term.constant + sum(p.weight * float(self.model.network.single_silent[p.row, 0]) for p in term.parts)
        self._complain(status, [r for r, _ in reports], sound, single)
        self._note(
            _finding_said(names, self.k.places[place].name, status, [r for r, _ in reports], (place,)),
            single,
            term.constant + sum(p.weight * (1 - float(self.model.unknown_rate[p.row])) for p in term.parts),
        )

    def _told_again(self, report: FindingReport, place: str) -> None:
        """A sign that showed before a repair, and still does or does so no longer."""
        if self.last_told[report.finding, place] != self.number:
            return  # what is told of it later says it all
        assert self.repaired is not None
        row = self.model.rows[report.finding, place]
        status, error = report.status, self.k.scales.certainty[report.certainty]
        again = _Again(
            row, self.model.place(place), int(self.steps[self.model.place(place)]), status, error,
            self.k.scales.trials.felt_anew,
        )  # fmt: skip
        self.again.append(again)
        alone = again.present(self.network)[: self.network.states]
        a = self.repaired.alone
        single = (1 - a) * again.chance(alone, alone) + a * again.chance(alone[0], alone)
        rate = float(self.model.unknown_rate[row])
        name, where = self.k.findings[report.finding].name, self.k.places[place].name
        said = _finding_said([name], where, status, [report], (place,))
        self._note(said, single, float(again.chance(rate, rate)))

    def _loose(self, status: Status, reports: list[FindingReport]) -> None:
        network, model = self.network, self.model
        n = len(reports)
        said: list[tuple[float, float, tuple[int, ...], tuple[int, ...], float]] = []
        background = 0.0
        for report in reports:
            constant, weight = self._line(report)
            rows = self._rows(report)
            steps = tuple(int(self.steps[int(network.signs.place[r])]) for r in rows)
            said.append((constant / n, weight / n, rows, steps, model.everyday_silent[report.finding]))
            rate = 1 - (1 - float(np.add.reduce(model.unknown_rate.take(rows))) / len(rows)) ** min(len(rows), 2)
            background += (constant + weight * (1 - rate)) / n
        single = self._column(_somewhere(said))
        sound = float(single[0])
        if self.steps.any():  # what a moved setting brought is no everyday sign
            at_first = [(constant, w, rows, (0,) * len(rows), everyday) for constant, w, rows, _, everyday in said]
            sound = float(_somewhere(at_first)(self.model.network)[0])
        self._complain(status, reports, sound, single)
        names = [self.k.findings[r.finding].name for r in reports]
        where = sorted({p for r in reports for p in r.at}, key=model.places.index)
        place = " or ".join(self.k.places[p].name for p in where)
        self._note(_finding_said(names, place, status, reports, tuple(where)), single, background)

    def _complain(
        self, status: Status, reports: Sequence[FindingReport], sound: float, single: Floats
    ) -> None:
        """Keep how likely a sign told unasked is an everyday one: `sound` is its chance on a sound machine."""
        if status is Status.PRESENT and not all(r.asked for r in reports):
            everyday = sound * (1 - single) / np.maximum((1 - sound) * single, 1e-12)
            self.beside_the_fault.append(np.minimum(everyday, 1.0))

    def complained_of(self) -> Column | None:
        """That somebody complains because of the fault: seldom are all the signs that he tells everyday ones.

        As the last statement, for all signs together; whether nothing is wrong it leaves open.
        """
        if self.case.reporting != "volunteered" or not self.beside_the_fault:
            return None
        least = self.k.scales.reporting.complains_of_everyday
        everyday = np.multiply.reduce(self.beside_the_fault, axis=0)
        alone = 1 - (1 - least) * everyday
        alone[0] = 1.0
        self.complained_alone = alone
        return _of_members(alone, 1.0, ((least - 1) * everyday, everyday))

    def _rows(self, report: FindingReport) -> tuple[int, ...]:
        at = report.at or self.k.findings[report.finding].at
        return tuple(self.model.rows[report.finding, p] for p in at if (report.finding, p) in self.model.rows)

    # -- checks and readings

    def _check(self, result: CheckResult, epoch: Epoch) -> None:
        model, network = self.model, self.network
        record = self.k.checks[result.check]
        error = self.k.scales.certainty[result.certainty]
        others = len(record.outcomes) - 1
        outcome = model.outcomes[result.check, result.outcome]
        meaning = result.outcome.replace("_", " ")
        if outcome.table is None:
            if record.told_by_air and self.case.air is not None:
                single = np.ones(network.states)  # the air stated says it already, and by how much
            else:
                single = self._column(_check_outcome(outcome, error, others))
            said = _statement("check", f"{record.name}: {meaning}", ids=(record.id,), outcome=result.outcome)
            self._note(said, single, _mean(network, single))
            return
        places = [result.at] if result.at else self._trouble_spots(record, epoch)
        tables = {p: self._check_table(record, outcome.table, p, error, others) for p in places}
        if len(places) == 1:
            index = model.place(places[0])
            term = PlaceTerm(1.0, table=tables[places[0]])
            self._at(index, term)
            single = single_term(network, index, term)
        else:
            single = self._column(_anywhere({model.place(p): table for p, table in tables.items()}))
        named = places if len(places) < 3 else []
        where = " or ".join(self.k.places[p].name for p in named) or "the trouble spot"
        text = f"{record.name} at {where}: {meaning}"
        said = _statement("check", text, ids=(record.id,), at=tuple(named), outcome=result.outcome)
        self._note(said, single, _mean(network, single))

    def _check_table(
        self, record: Check, table: Floats, place: str, error: float, others: int
    ) -> Floats:
        if place in record.weak_at:
            power = self.k.scales.mixture.weak_power
            all_outcomes = [self.model.outcomes[record.id, o].table for o in record.outcomes]
            table = table**power / np.sum([t**power for t in all_outcomes if t is not None], axis=0)
        table = (1 - error) * table + error * (1 - table) / others
        return shifted(table, int(self.steps[self.model.place(place)]))

    def _trouble_spots(self, record: Check, epoch: Epoch) -> list[str]:
        told = {p for f in (epoch.findings or self.told) if f.status is Status.PRESENT for p in f.at}
        return [p for p in record.at if p in told] or list(record.at)

    def _reading(self, reading: Reading) -> None:
        network, scale = self.network, self.k.scales.mixture
        place = self.k.places[reading.at]
        assert place.lambda_wanted is not None
        sigma = getattr(scale.lambda_sigma, reading.protocol)
        x = math.log(reading.lambda_ / place.lambda_wanted)
        index = self.model.place(reading.at)
        fit = np.exp(-0.5 * ((network.lattice.points() - x) / sigma) ** 2)
        table = (1 - scale.lambda_misread) * fit + scale.lambda_misread * 0.2
        term = PlaceTerm(1.0, table=shifted(table, int(self.steps[index])))
        self._at(index, term)
        single = single_term(network, index, term)
        text = f"Measured lambda {reading.lambda_:.2f} at {place.name}"
        said = _statement("reading", text, at=(place.id,), amount=reading.lambda_)
        self._note(said, single, _mean(network, single))

    # -- trials

    def _setting(self, trial: Trial) -> None:
        assert trial.change is not None
        model, network = self.model, self.network
        circuit = self.k.circuits[trial.change]
        shift = shift_by_trial(model, self.case.machine, trial)
        if shift is None:
            return
        moved = network.lattice.steps(shift)
        place = felt_at(circuit, trial, self.case)
        index = model.place(place)
        now = int(self.steps[index])
        table = shifted(effect_table(self.k, network, int(moved[index]))[trial.effect], now)
        term = PlaceTerm(1.0, table=table)
        self._at(index, term)
        single = single_term(network, index, term)
        way = direction_of(circuit, trial)
        brought = trial.effect is Effect.OVERSHOT or (trial.effect is Effect.WORSE and self.was_fine)
        if brought and not trial.put_back:
            # what the move left behind is that setting, too far
            single = single * self._column(
                _speaks_for(self._set_off(circuit, way), self.k.scales.trials.brought_by_work)
            )
        effect = trial.effect.value.replace("_", " ")
        text = f"{circuit.name} {_moved_words(circuit, trial)}, felt at {self.k.places[place].name}: {effect}"
        said = _statement(
            "setting", text, ids=(circuit.id,), at=(place,), direction=way,
            amount=trial.steps, sizes=_sizes_told(trial), effect=trial.effect,
        )  # fmt: skip
        self._note(said, single, _mean(network, single))
        if not trial.put_back:
            self.steps = self.steps + moved

    def _set_off(self, circuit: Circuit, way: Change | None) -> Floats:
        """Which states are that circuit set off the way it was moved, shape (S,): 1 or 0."""
        off = {Change.RICHER: Direction.RICH, Change.LEANER: Direction.LEAN}
        wanted = (circuit.id, None if way is None else off[way])
        return np.array([float((s.circuit, s.direction) == wanted) for s in self.model.states])

    def _repair(self, trial: Trial) -> None:
        assert trial.do is not None
        network, tables = self.network, self.k.scales.trials.repair
        works = works_done(self.k, self.model.works[trial.do], trial.how)
        fixed, partly, not_fixed = (t[trial.effect] for t in (tables.fixed, tables.partly, tables.not_fixed))
        brought = trial.effect is Effect.WORSE and self.was_fine
        if brought:  # nothing was there to mend: a fault of the part worked on is what the work left behind
            works = np.where(works > 0, 1.0, 0.0)
            fixed = partly = not_fixed * self.k.scales.trials.brought_by_work
        single = self._column(_effect_of_repair(works, fixed, partly, not_fixed))
        action = self.k.actions[trial.do]
        text = f"{action.name}: {trial.effect.value.replace('_', ' ')}"
        said_so = _statement("repair", text, ids=(action.id,), effect=trial.effect)
        self._note(said_so, single, _mean(network, single))
        if brought:
            return

        def done(felt: float) -> Floats:
            return np.asarray(works * felt / np.maximum(works * felt + (1 - works) * not_fixed, 1e-12))

        before = self.repaired or Repaired.nothing(network.states)
        self.repaired = before.and_then(Repaired(done(fixed), done(partly)))

    # -- the rest

    def _reach(self, said: str) -> None:
        single = self._column(_reach_of(self.model.on_one, said))
        text = "Only one of several cylinders" if said == "one" else "All cylinders alike"
        # the outcome word is the one that a report used
        self._note(_statement("reach", text, outcome=said), single, 0.5)

    def silence(self) -> Floats:
        """Likelihood of what an unprompted complaint left out, by state, shape (S,)."""
        if self.case.reporting != "volunteered":
            return np.ones(self.network.states)
        return self._silence_of_signs() * self._silence_of_circumstances()

    def unspoken(self) -> Ints:
        """Rows of the signs that the rider was in a position to see, might have told unasked, and did not."""
        if self.case.reporting != "volunteered":
            return np.zeros(0, dtype=np.intp)
        been = self.visited | {p.id for p in self.k.places.values() if not p.in_chart}
        if self.ridden:
            riding = (p for p in self.k.places.values() if p.running and p.in_chart)
            been |= set[str].intersection(*({p.id, *p.implies_visited} for p in riding))
        rows = enumerate(self.model.row_keys)
        return np.array([n for n, (_, place) in rows if place in been and n not in self.mentioned], dtype=np.intp)

    def _silence_of_circumstances(self) -> Floats:
        told, model = self.case.contexts, self.model
        if not self.spoken_of and all(c.asked for c in told):  # nothing was told unasked
            return np.ones(self.network.states)
        held = {c.context for c in told if c.status is Status.PRESENT}
        spoken_of = {c.context for c in told}
        spoken_of |= {c.id for c in self.k.contexts.values() if not held.isdisjoint(c.settled_by)}
        # "worked on", "rejetted" and "just cleaned" are often one and the same: the one most missed speaks for all
        left_out = [n for n, c in enumerate(model.told) if c not in spoken_of]
        return np.asarray(model.unsaid.take(left_out, axis=0).min(axis=0, initial=1.0))

    def _silence_of_signs(self) -> Floats:
        model = self.model
        if not self.visited:
            return np.ones(self.network.states)
        weights = dict.fromkeys(self.visited, 1.0)
        # one or two words stand for all that is wrong at a place: what else is silent there says less
        here = self.visited & self.spoken_of
        weights.update(dict.fromkeys(here, self.k.scales.reporting.silence_where_spoken))
        by_place = np.array([weights.get(place, 0.0) for place in model.places])
        log = by_place @ model.place_silence
        for row in sorted(self.mentioned):
            weight = weights.get(model.row_keys[row][1])
            if weight is not None:
                log -= weight * model.silence(row)
        # of those who tell only the worst, silence says nothing; nothing wrong (state 0) is the measure
        short = self.k.scales.reporting.only_the_worst
        return np.asarray(np.exp(log[0]) * ((1 - short) * np.exp(log - log[0]) + short))

    def _column(self, column: Column) -> Floats:
        """Add a factor over all hypotheses; what it is for the single states."""
        self.columns.append(column)
        single = self.alone[column] = column(self.network)
        return single

    def _note(self, said: Statement, likelihood: Floats, background: float) -> None:
        if self.number:
            said = said.model_copy(update={"epoch": self.number})
        self.observations.append(Observation(said, likelihood, background))


def _moved_words(circuit: Circuit, trial: Trial) -> str:
    way = direction_of(circuit, trial)
    if trial.from_size is not None:
        return f"{trial.from_size:g} to {trial.to_size:g} ({way})"
    return f"{trial.steps:g} step{'s' if trial.steps != 1 else ''} {way}"


def _sizes_told(trial: Trial) -> tuple[float, float] | None:
    return None if trial.from_size is None or trial.to_size is None else (trial.from_size, trial.to_size)


def works_done(k: Knowledge, works: Floats, how: RepairHow | None) -> Floats:
    """Chance by state that a repair works, given how it was done (its odds multiplied as the scales say)."""
    if how is None:
        return works
    odds = k.scales.trials.how[how] * works
    return np.asarray(odds / (1 - works + odds))


def _somewhere(said: Sequence[tuple[float, float, tuple[int, ...], tuple[int, ...], float]]) -> Column:
    """Paraphrases told without one place, each (constant, weight, rows, steps, everyday chance of silence)."""

    def column(network: Network) -> Floats:
        total: Floats | None = None
        for constant, weight, rows, steps, everyday in said:
            values = somewhere_silent(network, rows, everyday, steps, weight)
            values += constant
            total = values if total is None else np.add(total, values, out=total)
        assert total is not None
        return total

    return column


def _check_outcome(outcome: CheckOutcome, error: float, others: int) -> Column:
    """An outcome of a check that reads causes, told with a chance of error.

    Of a pair the mean over the members that decide it; where neither does, the ordinary outcome.
    """
    undecided, kept = 1 - outcome.speaks, 1 - error - error / others
    half = 1 - outcome.speaks / 2  # of what the other says, where this one speaks too
    chance = outcome.values + outcome.otherwise * undecided
    return _of_members(
        kept * chance + error / others,
        error / others,
        (kept * outcome.values, half),
        (kept * half, outcome.values),
        (kept * outcome.otherwise * undecided, undecided),
    )


def _of_members(alone: Floats, constant: float, *products: tuple[Floats, Floats]) -> Column:
    """A constant and products of what each member brings, added up; `alone` is that of the single states."""
    of_first, of_second = (np.stack([*side, np.ones_like(alone)]) for side in zip(*products, strict=True))
    of_first[-1] = constant
    left, right = of_first.T[None], of_second[None]
    return lambda network: network.products(alone, left, right)


def _anywhere(tables: Mapping[int, Floats]) -> Column:
    """A check that reads the mixture, done at one of several places: place -> table over x."""

    def column(network: Network) -> Floats:
        out = np.zeros(network.size)
        for place, table in tables.items():
            out += network.at(place, network.blur(table, place)) / len(tables)
        return out

    return column


def _speaks_for(members: Floats, times: float) -> Column:
    """Evidence that speaks so many times for any hypothesis with one of the members in it."""
    return _of_members(1 + (times - 1) * members, times, ((1 - times) * (1 - members), 1 - members))


def _effect_of_repair(works: Floats, fixed: float, partly: float, not_fixed: float) -> Column:
    """What a repair did, given how likely it mends each state."""
    fails = 1 - works
    return _of_members(
        # a single cause is either fixed or not: there is no second one to be left over
        works * fixed + fails * not_fixed,
        partly,
        ((fixed - partly) * works, works),
        ((not_fixed - partly) * fails, fails),
    )


@dataclass(frozen=True, eq=False)
class _Again:
    """A sign that was told present before a repair, told once more after it.

    It is no new draw: what showed before goes on showing unless what made it show was repaired.
    """

    row: int
    place: int
    steps: int  # by which settings have moved the mixture since trouble began
    status: Status
    error: float
    anew: float  # chance that it is felt anew, whatever showed before

    def present(self, network: Network) -> Floats:
        """P(the sign shows), shape (H,)."""
        table = shifted(network.base_mean[self.row], self.steps)
        silent = network.at(self.place, table)
        if network.signs.has_links[self.row]:
            silent = silent * network.links(self.row)
        return np.asarray(1 - silent)

    def chance(self, now: Floats | float, before: Floats | float) -> Floats:
        """Chance of what was told: `now` P(it shows) by what is left of a hypothesis, `before` by all of it."""
        shows = (1 - self.anew) * np.minimum(now / np.maximum(before, 1e-12), 1) + self.anew * now
        told = shows if self.status is Status.PRESENT else 1 - shows
        return np.asarray((1 - self.error) * told + self.error * (1 - told))


def _with_repair(
    repaired: Repaired, columns: tuple[Column, ...], places: tuple[Place, ...], again: tuple[_Again, ...]
) -> Column:
    """Read later observations as a mix of repaired and not repaired causes."""

    def column(network: Network) -> Floats:
        # the scale is the same for every hypothesis; an epoch's is too small a part to matter elsewhere
        factors = [c(network) for c in columns] + [p.factor(network)[0] for p in places]
        seen = cast(Floats, np.prod(factors, axis=0)) if factors else np.ones(network.size)
        shown = [(sign, sign.present(network)) for sign in again]

        def left(of: Ints | slice | int) -> Floats:
            """Chance of all that was told where this is left of each hypothesis."""
            out = seen[of]
            for sign, p in shown:
                out = out * sign.chance(p[of], p)
            return np.asarray(out)

        a, b = repaired.of_hypotheses(network)
        every, first, second = slice(None), network.first, network.second
        return np.asarray(
            (1 - a) * (1 - b) * left(every) + a * (1 - b) * left(second) + (1 - a) * b * left(first) + a * b * left(0)
        )

    return column


def _reach_of(on_one: Floats, said: str) -> Column:
    """How many cylinders show it; a pair does as its members do on average."""

    def column(network: Network) -> Floats:
        mean = network.total(on_one) / 2
        mean[: network.states] = on_one
        return mean if said == "one" else 1 - mean

    return column


def effect_table(k: Knowledge, network: Network, moved: int) -> dict[Effect, Floats]:
    """P(effect | x before) on the lattice for a step that moves x by `moved` lattice steps.

    Badness is how far x lies outside `right`; a change of badness beyond `noticeable`, and beyond
    `noticeable_share` of what is off either way, is felt.
    """
    scale, trials = k.scales.mixture, k.scales.trials
    x = network.lattice.points()
    after = x + moved * network.lattice.step
    bad = np.maximum(np.abs(x) - scale.right_within, 0)
    bad_after = np.maximum(np.abs(after) - scale.right_within, 0)
    gain = (bad - bad_after) / (trials.noticeable + trials.noticeable_share * np.minimum(bad, bad_after))
    better = 0.5 * (1 + np.tanh(2 * (gain - 1)))
    worse = 0.5 * (1 + np.tanh(2 * (-gain - 1)))
    same = np.maximum(1 - better - worse, 0)
    healed = better * np.exp(-bad_after / trials.noticeable) * 0.5
    overshot = _overshot(x, after, scale.right_within, trials.noticeable)
    noise = trials.effect_noise / len(SETTING_EFFECTS)
    keep = (1 - trials.effect_noise) * (1 - overshot)
    return {
        Effect.OVERSHOT: noise + (1 - trials.effect_noise) * overshot,
        Effect.CURED: noise + keep * healed * (1 - trials.settings_come_back),
        Effect.CAME_BACK: noise + keep * healed * trials.settings_come_back,
        Effect.BETTER: noise + keep * (better - healed),
        Effect.NO_CHANGE: noise + keep * same,
        Effect.WORSE: noise + keep * worse,
    }


def _overshot(x: Floats, after: Floats, right_within: float, noticeable: float) -> Floats:
    """Chance of "the opposite fault appeared": off on the far side after the step, and not before it.

    Where nothing was off at first most call it worse; and some call it better or worse in any case.
    """
    way = np.sign(after - x)

    def felt(off: Floats) -> Floats:
        return np.asarray(np.where(off > 0, 1 / (1 + np.exp(-4 * (off / noticeable - 1))), 0.0))

    far = felt(way * after - right_within) * (1 - felt(way * x - right_within))
    return np.asarray(far * (0.25 + 0.5 * felt(-way * x - right_within)))


def _statement(kind: str, text: str, **facts: object) -> Statement:
    return Statement.trusted(kind=kind, text=text, **facts)


def _finding_said(
    names: Sequence[str], place: str, status: Status, reports: Sequence[FindingReport], at: tuple[str, ...]
) -> Statement:
    denied = " or ".join(f"{name[0].lower()}{name[1:]}" for name in names)
    head = " / ".join(names) if status is Status.PRESENT else f"Not so: {denied}"
    where = f" ({place})" if place else ""
    certainty = next((r.certainty for r in reports if r.certainty is not Certainty.SURE), Certainty.SURE)
    unsure = "" if certainty is Certainty.SURE else f", {certainty}"
    ids = tuple(dict.fromkeys(r.finding for r in reports))
    return _statement("finding", f"{head}{where}{unsure}", ids=ids, at=at, status=status, certainty=certainty)


def by_group(belief: Belief, by_state: Floats) -> Floats:
    """P(at least one cause of the group is at work), in the order of the model, from P(state is at work)."""
    network, groups = belief.network, len(belief.model.group_ids)
    grouped = network.group >= 0
    once = np.bincount(network.group[grouped], by_state[grouped], groups)
    return np.subtract(once, network.in_group_twice(belief.posterior.weights, groups))


def mixture_levels(belief: Belief) -> Floats:
    """P(level) at every band as the machine is now, by what the causes make of it, (bands, 5); see `levels_at`."""
    return levels_at(belief, *belief.model.residuals, by_causes=True)


def levels_at(
    belief: Belief,
    *places: int,
    moved: Ints | None = None,
    without_repaired: bool = False,
    by_causes: bool = False,
) -> Floats:
    """P(level) at some bands as the machine is now, or moved (P,) lattice steps further; shape (bands, 5).

    Settings that were changed and kept have moved it; what was repaired still counts, unless `without_repaired`.
    What was said of a place speaks of its residual too, unless `by_causes`, which is three times as quick and hardly
    differs where little was said; once what was repaired is out, what was said since.
    """
    steps = belief.steps if moved is None else belief.steps + moved
    model, network = belief.model, belief.network
    seen: Seen = {} if by_causes else belief.seen_since if without_repaired else belief.seen
    weights = _without_repaired(belief) if without_repaired else belief.posterior.weights
    unseen = {n: model.residuals[n].unseen(int(steps[n])) for n in places if n not in seen}
    levels = dict(zip(unseen, network.over_x(weights, unseen), strict=True))
    for n in places:
        if n in seen:
            levels[n] = levels_seen(network, model.residuals[n], n, seen[n], weights, int(steps[n]))
    return np.array([levels[n] for n in places])


def _without_repaired(belief: Belief) -> Floats:
    """The weights of the hypotheses once what was repaired, as far as it was, is taken out of each; shape (H,)."""
    return _left_of(belief, lambda _: belief.posterior.weights)


def not_cured(belief: Belief) -> Posterior:
    """What is still at work where something is: what was repaired is taken out of every hypothesis."""
    left = _without_repaired(belief)
    left[0] = belief.posterior.weights[0]  # what was repaired whole is cured
    return replace(belief.posterior, weights=left / np.add.reduce(left))


def shows_again(belief: Belief, finding: str, place: str) -> Floats:
    """P(a sign that showed before what was repaired still shows), by what is left at work; shape (H,)."""
    index = belief.model.place(place)
    sign = _Again(
        belief.model.rows[finding, place], index, int(belief.steps[index]), Status.PRESENT, 0.0,
        belief.model.knowledge.scales.trials.felt_anew,
    )  # fmt: skip
    weights, p = belief.posterior.weights, sign.present(belief.network)
    yes = _left_of(belief, lambda left: weights * sign.chance(p[left], p))
    return np.asarray(yes / np.maximum(_without_repaired(belief), 1e-300))


def _left_of(belief: Belief, weigh: Callable[[Ints | slice | int], Floats]) -> Floats:
    """Something that hypotheses weigh, added up over what the repairs have left of each; shape (H,).

    `weigh` gets what is left of every hypothesis: all of it, its second or its first cause alone, or nothing.
    """
    network = belief.network
    first, second = network.first, network.second
    a, b = belief.repaired.of_hypotheses(network)
    out = np.asarray(weigh(slice(None)) * (1 - a) * (1 - b))
    # what is left of a hypothesis, one member of which was repaired, is the other alone; of one repaired whole, nothing
    out[: network.states] += network.to_second(weigh(second) * a * (1 - b))
    out[: network.states] += network.to_first(weigh(first) * (1 - a) * b)
    out[0] += float((weigh(0) * a * b).sum())
    return out


def leaning(belief: Belief, *places: int, moved: Ints | None = None) -> Floats:
    """P(level) at some bands, as `levels_at`, with and without what was repaired; shape (2, bands, 5).

    A repair may lay bare what it hid: a clean filter, a main jet that is too small. And it may not have worked. Whoever
    must not lean what may be lean goes by the worse of the two.
    """
    as_it_was = levels_at(belief, *places, moved=moved)
    if not belief.repaired.alone.any():
        return np.stack([as_it_was, as_it_was])
    return np.stack([as_it_was, levels_at(belief, *places, moved=moved, without_repaired=True)])
