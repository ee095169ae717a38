"""The model of carbdiag written a second time, slowly and from the records: nothing here but loops and `math`.

It shares no code with the library except the records themselves, so that agreement means something. Definitions:

    x(H, place)      = sum of the shifts of the causes in H, in whole lattice steps, held inside the axis
    P(sign | H)      = 1 - (1 - shown(x + residual)) * product of (1 - direct link)
    said with error e: (1 - e) P + e (1 - P), or the other way round for a denial
    one place        : all statements there share one residual, integrated on five points
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from carbdiag import Knowledge
from carbdiag.case_schema import Case, CheckResult, ContextReport, FindingReport, Reading
from carbdiag.family_metering import family_tables
from carbdiag.records.causes import Cause, MixtureEffect
from carbdiag.records.checks import Check
from carbdiag.records.findings import Finding
from carbdiag.terms import Effect, Level, ProbabilityWord

#: Nodes and weights of the five-point rule for the standard normal distribution, in closed form.
_NEAR, _FAR = math.sqrt(5 - math.sqrt(10)), math.sqrt(5 + math.sqrt(10))
_W_NEAR, _W_FAR = (7 + 2 * math.sqrt(10)) / 60, (7 - 2 * math.sqrt(10)) / 60
FIVE_POINTS = ((-_FAR, _W_FAR), (-_NEAR, _W_NEAR), (0.0, 8 / 15), (_NEAR, _W_NEAR), (_FAR, _W_FAR))

LEVELS = ("very_rich", "rich", "right", "lean", "very_lean")


@dataclass(frozen=True)
class PlainState:
    """A cause at one severity; `cause` is None for a fault nobody wrote down."""

    cause: str | None
    severity: str
    circuit: str | None
    way: str | None
    odds: float
    x: dict[str, int]  # place -> lattice steps
    x_exact: dict[str, float] = field(default_factory=dict, compare=False)
    group: str | None = None  # of a fault that nobody wrote down, when it is of a kind

    @property
    def key(self) -> tuple[str | None, str, str | None, str | None, str | None]:
        """What names the state, however the library numbers it."""
        return self.cause, self.severity, self.circuit, self.way, self.group


Hypothesis = tuple[PlainState, ...]


def interpolate(x: float, xs: list[float], ys: list[float]) -> float:
    """Straight lines between points, flat outside."""
    if x <= xs[0]:
        return ys[0]
    for (x0, y0), (x1, y1) in zip(zip(xs, ys, strict=True), zip(xs[1:], ys[1:], strict=True), strict=False):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]


def _unsure(p: float, error: float, other_outcomes: int) -> float:
    """An outcome told with a chance of error: any other outcome may have been meant."""
    return (1 - error) * p + error * (1 - p) / other_outcomes


class PlainModel:
    """The knowledge for one family and stroke, read straight from the records."""

    def __init__(self, k: Knowledge, family: str, strokes: int) -> None:
        self.k, self.family, self.strokes = k, k.families[family], strokes
        self.m = k.scales.mixture
        # what each circuit meters where is the metering's word, tested in tests/metering
        self.tables = family_tables(k, self.family)
        self._quiet_known: dict[tuple[object, ...], float] = {}
        self.bands = [p.id for p in k.places.values() if p.kind == "band"]
        inner = (self.m.right_within + self.m.lean_within) / 2
        outer = 2 * self.m.lean_within - inner + self.m.right_within
        self.centers = [-outer, -inner, 0.0, inner, outer]
        self.limit = round(self.m.lattice_limit / self.m.lattice_step)
        self.causes = [c for c in k.causes.values() if self._applies(c)]
        listed = [*self._listed()]
        self.way_of = {s.cause: s.way for s in listed if s.cause}
        self.states = [*listed, *self._unlisted(sum(s.odds for s in listed)), *self._kindred(listed)]

    def _applies(self, c: Cause) -> bool:
        a = c.applies
        if (a.families and self.family.id not in a.families) or (a.strokes and self.strokes not in a.strokes):
            return False
        return not (c.mixture and c.mixture.circuit and c.mixture.circuit not in self.family.circuits)

    def word(self, word: str) -> float:
        """A likelihood word as a number, held off 0 and 1."""
        return min(max(self.k.scales.probability[ProbabilityWord(word)], self.k.scales.floor), 1 - self.k.scales.floor)

    def steps(self, x: float) -> int:
        """x in whole steps."""
        return round(x / self.m.lattice_step)

    # -- states

    def _everywhere(self, given: dict[str, float]) -> dict[str, float]:
        return {
            p.id: given[p.id] if p.id in given else sum(w * given.get(b, 0.0) for b, w in drivers.items())
            for p in self.k.places.values()
            for drivers in [self.family.drivers.get(p.id, p.drivers)]
        }

    def step_richer(self, circuit: str) -> dict[str, float]:
        """Shift at every place for one step richer."""
        percent = self.tables.steps.get(circuit, {})
        return self._everywhere({p: -math.log(1 + v / 100) for p, v in percent.items()})

    def _flow(self, circuit: str, place: str, change: float) -> float:
        share = self.tables.shares.get(circuit, {}).get(place, 0.0)
        if share == 0:
            return 0.0
        if circuit not in ("main_jet", "needle"):
            return -math.log(max(1 + share * change, 0.02))
        pilot = self.tables.shares.get("pilot", {}).get(place, 0.0)
        s = min(share / max(1 - pilot, 1e-6), 1.0)
        area = max(1 + change, 0.02)
        return -math.log(pilot + (1 - pilot) / math.sqrt(s / area**2 + 1 - s))

    def _listed(self) -> Iterator[PlainState]:
        for c in self.causes:
            prior = self.k.scales.prior[c.prior]
            if c.mixture is None:
                nowhere = dict.fromkeys(self.k.places, 0)
                yield PlainState(c.id, "", None, None, prior, nowhere, dict.fromkeys(nowhere, 0.0))
                continue
            sizes = [*self._sizes(c.mixture)]
            total = sum(often for _, often, _ in sizes)
            way = self._way(c.mixture, [x for _, _, x in sizes])
            for label, often, x in sizes:
                yield PlainState(
                    c.id,
                    label,
                    c.mixture.circuit,
                    way,
                    prior * (often / total),
                    {p: self.steps(v) for p, v in x.items()},
                    x,
                )

    def _sizes(self, mixture: MixtureEffect) -> Iterator[tuple[str, float, dict[str, float]]]:
        circuit = mixture.circuit
        if circuit is not None:
            places = {*self.tables.shares.get(circuit, {}), *self.tables.steps.get(circuit, {})}
            for text, word in mixture.amounts.items():
                number, unit = text.split()
                if unit == "%":
                    x = self._everywhere({p: self._flow(circuit, p, float(number) / 100) for p in places})
                else:
                    x = self._everywhere(
                        {
                            p: -float(number) * math.log(1 + self.tables.steps.get(circuit, {}).get(p, 0.0) / 100)
                            for p in places
                        }
                    )
                yield text, self.word(word), x
            return
        assert mixture.shift is not None
        own = mixture.shift.two_stroke if self.strokes == 2 else mixture.shift.four_stroke
        words = {**(mixture.shift.any or {}), **(own or {})}
        base = self._everywhere({p: self.k.scales.shift[w] for p, w in words.items()})
        for size, word in mixture.sizes.items():
            factor = self.k.scales.size[size]
            yield size.value, self.word(word), {p: factor * v for p, v in base.items()}

    def _way(self, mixture: MixtureEffect, shifts: list[dict[str, float]]) -> str | None:
        if mixture.circuit is not None:
            signs = {text[0] for text in mixture.amounts}
            return None if len(signs) > 1 else ("rich" if signs == {"+"} else "lean")
        for places in (self.bands, list(self.k.places)):
            strongest = max((x[p] for x in shifts for p in places), key=abs, default=0.0)
            if strongest:
                return "lean" if strongest > 0 else "rich"
        return None

    def _unlisted(self, listed_odds: float) -> Iterator[PlainState]:
        moving = [c for c in self.family.circuits if self.tables.shares.get(c)]
        each = self.k.scales.unlisted.share_of_circuits * listed_odds / (2 * len(moving))
        size = max(self.k.scales.shift.values()) / 2
        for circuit in moving:
            shares = self.tables.shares[circuit]
            for way, sign in (("rich", -1), ("lean", 1)):
                x = self._everywhere({p: sign * size * s / max(shares.values()) for p, s in shares.items()})
                yield PlainState(None, "unlisted", circuit, way, each, {p: self.steps(v) for p, v in x.items()})

    def _kindred(self, listed: list[PlainState]) -> Iterator[PlainState]:
        kinds = dict.fromkeys((self.k.causes[s.cause].group, s.way) for s in listed if s.cause)
        for group, way in kinds:
            if not self.k.groups[group].unlisted:
                continue
            mine = [s for s in listed if s.cause and self.k.causes[s.cause].group == group and s.way == way]
            odds = self.k.scales.unlisted.share_of_groups * sum(s.odds for s in mine)

            def mean_x(cause: str, place: str) -> float:
                sizes = [s for s in listed if s.cause == cause]
                return sum(s.odds * s.x_exact[place] for s in sizes) / sum(s.odds for s in sizes)

            x = {p: self.steps(self._like(group, way, lambda c, p=p: mean_x(c, p))) for p in self.k.places}  # type: ignore[misc]
            circuits = {s.circuit for s in mine}
            circuit = circuits.pop() if len(circuits) == 1 else None
            yield PlainState(None, "unlisted", circuit, way, odds, x, group=group)

    def untold(self, state: PlainState) -> float:
        """How far a state fits a machine of which no fact was told; a fault of a kind as far as its kin do."""
        if state.cause is None and state.group is None:
            return 1.0
        kin = [s for s in self.states if s.cause and self.k.causes[s.cause].group == state.group and s.way == state.way]
        mine = [(s.cause, s.odds) for s in kin] if state.group else [(state.cause, 1.0)]
        facts = ("cylinders", "carburetors", "cooling", "fuel_feed", "oiling", "uses")
        asked = [(odds, sum(bool(getattr(self.k.causes[c or ""].applies, f)) for f in facts)) for c, odds in mine]
        return sum(odds * self.k.scales.unknown_fact**n for odds, n in asked) / sum(odds for odds, _ in asked)

    def _like(self, group: str, way: str | None, value: Callable[[str], float]) -> float:
        """The mean over the listed causes of a kind and, as one more, the mean over all causes."""
        mine = [value(c.id) for c in self.causes if c.group == group and self.way_of[c.id] == way]
        return (sum(mine) + sum(value(c.id) for c in self.causes) / len(self.causes)) / (len(mine) + 1)

    # -- hypotheses

    def hypotheses(self) -> Iterator[Hypothesis]:
        """Nothing, every single state, every pair of states of two listed causes."""
        yield ()
        yield from ((s,) for s in self.states)
        listed = [s for s in self.states if s.cause]
        yield from (pair for pair in combinations(listed, 2) if self._may_be_both(*pair))

    def _may_be_both(self, one: PlainState, other: PlainState) -> bool:
        """Not of one cause, and no clip that is too high and too low at once."""
        if one.cause is None or other.cause is None or one.cause == other.cause:
            return False
        setting = self.k.causes[one.cause].setting
        return setting is None or setting != self.k.causes[other.cause].setting

    def prior(self, h: Hypothesis, contexts: Iterable[ContextReport] = ()) -> float:
        """Prior odds, on the scale on which `nothing_wrong` is the odds of nothing."""
        if not h:
            return self.k.scales.nothing_wrong
        odds = math.prod(s.odds * self._context(s, contexts) for s in h)
        if len(h) == 2:
            a, b = (self.k.causes[s.cause] for s in h if s.cause)
            if b.id in a.compensates or a.id in b.compensates:
                odds *= self.k.scales.pairs.compensation
        return odds

    def _context(self, state: PlainState, contexts: Iterable[ContextReport]) -> float:
        factors = [1.0]
        for told in contexts:
            if told.status == "unknown":
                continue
            multiplier = self._of(state, lambda c, t=told: self._multiplier(c, t.context), 1.0)  # type: ignore[misc]
            if told.status == "present":
                factors.append(multiplier)
            else:
                chance = self._chance(told.context)
                factors.append((1 - chance * multiplier) / (1 - chance))
        limit, overlap = self.k.scales.context_limit, self.k.scales.context_overlap
        # the strongest of those that raise it, and of those that lower it, counts whole; every other one in part
        strongest, weakest = max(factors), min(factors)
        rest = math.prod(factors) / (strongest * weakest)
        together = strongest * weakest * rest**overlap
        return min(max(together, min(1 / limit, weakest)), max(limit, strongest))

    def _chance(self, context: str) -> float:
        """How often a circumstance holds with a cause that it does not touch."""
        largest = max(1.0, *(self._multiplier(c.id, context) for c in self.causes))
        return min(self.word(self.k.contexts[context].often), self.k.scales.context_most / largest)

    def _circumstances_left_out(self, case: Case, state: PlainState) -> float:
        """How likely it is that the others went unsaid, by the one most missed, relative to nothing wrong."""
        held = {c.context for c in case.contexts if c.status == "present"}
        answered = {c.context for c in case.contexts}
        out = 1.0
        for context in self.k.contexts.values():
            if context.id not in answered and held.isdisjoint(context.settled_by):
                said = self.k.scales.reporting.circumstance_told * self._chance(context.id)
                multiplier = self._of(state, lambda c, t=context: self._multiplier(c, t.id), 1.0)  # type: ignore[misc]
                out = min(out, (1 - said * multiplier) / (1 - said))
        return out

    def _of(self, state: PlainState, value: Callable[[str], float], otherwise: float) -> float:
        """What a value of causes is for a state: its cause's, that of its kind, or neither."""
        if state.cause is not None:
            return value(state.cause)
        return self._like(state.group, state.way, value) if state.group is not None else otherwise

    def _multiplier(self, cause: str, context: str) -> float:
        c = self.k.causes[cause]
        word = c.contexts.get(context) or self.k.contexts[context].groups.get(c.group)
        return self.k.scales.context[word] if word else 1.0

    # -- signs

    def x(self, h: Hypothesis, place: str) -> int:
        """Shift of a hypothesis in lattice steps."""
        return min(max(sum(s.x[place] for s in h), -self.limit), self.limit)

    def by_level(self, values: list[float], x_steps: int) -> float:
        """Values of the five levels, interpolated."""
        held = min(max(x_steps, -self.limit), self.limit)
        return interpolate(held * self.m.lattice_step, self.centers, values)

    def shown(self, finding: str, place: str, x_steps: int) -> float:
        """Chance of the sign from the mixture, or from everyday life."""
        record = self.k.findings[finding]
        everyday = self.word(record.everyday)
        if record.mixture is None or place == "parked":
            return everyday
        return max(self.by_level([self.word(record.mixture[Level(v)]) for v in LEVELS], x_steps), everyday)

    def unlinked(self, finding: str, place: str, h: Hypothesis) -> float:
        """Chance that no cause shows the sign directly."""
        return math.prod(self._of(s, lambda c: self._unlinked_alone(finding, place, c), 1.0) for s in h)

    def _unlinked_alone(self, finding: str, place: str, cause: str) -> float:
        key = ("unlinked", finding, place, cause)
        if key not in self._quiet_known:
            links = [
                self.word(line.often)
                for line in self.k.causes[cause].shows
                if line.finding == finding
                and place in (line.at or self.k.findings[finding].at)
                and self.strokes in (line.strokes or (2, 4))
            ]
            self._quiet_known[key] = 1 - max(links, default=0.0)
        return self._quiet_known[key]

    def residuals(self, place: str) -> Iterator[tuple[int, float]]:
        """Residual shifts of a place in lattice steps, with their weights."""
        for node, weight in FIVE_POINTS:
            yield self.steps(node * self.tables.sigma[place]), weight

    def present(self, finding: str, place: str, h: Hypothesis, shift: int) -> float:
        """P(sign | hypothesis, residual)."""
        silent = 1 - self.shown(finding, place, self.x(h, place) + shift)
        return 1 - silent * self.unlinked(finding, place, h)

    def anywhere(self, finding: str, places: Iterable[str], h: Hypothesis) -> float:
        """P(sign at one or more of several places): everyday life counts once, residuals are independent."""
        everyday = self.word(self.k.findings[finding].everyday)
        silent = 1 - everyday
        for place in places:
            mean = sum(w * (1 - self.shown(finding, place, self.x(h, place) + r)) for r, w in self.residuals(place))
            silent *= mean / (1 - everyday) * self.unlinked(finding, place, h)
        return 1 - silent

    # -- cases

    def likelihood(self, case: Case, h: Hypothesis) -> float:
        """P(everything said | hypothesis) of a case with one epoch, its trials of settings last."""
        at_place: dict[str, list[Callable[[int], float]]] = {}
        total = self._silence(case, h)
        told: dict[tuple[str, str, tuple[str, ...]], list[FindingReport]] = {}
        for report in case.findings:
            record = self.k.findings[report.finding]
            places = report.at or record.at
            if report.status != "unknown":
                told.setdefault(
                    (record.cluster or record.id, report.status.value, places if len(places) == 1 else ()), []
                ).append(report)
        for (cluster, status, places), reports in told.items():
            if places:
                at_place.setdefault(places[0], []).append(
                    lambda r, said=reports, p=places[0]: (
                        sum(  # type: ignore[misc]
                            self._said(f, self.present(f.finding, p, h, r)) for f in said
                        )
                        / len(said)
                    )
                )
            elif not any(c == cluster and s == status and p for c, s, p in told):
                total *= sum(
                    self._said(f, self.anywhere(f.finding, f.at or self.k.findings[f.finding].at, h)) for f in reports
                ) / len(reports)
        total *= self._complains(case, told, h)
        for result in case.checks:
            record_ = self.k.checks[result.check]
            error, others = self.k.scales.certainty[result.certainty], len(record_.outcomes) - 1
            if record_.reads == "causes":
                total *= _unsure(self._cause_check(result, h), error, others)
            else:
                assert result.at is not None
                at_place.setdefault(result.at, []).append(
                    lambda r, c=result, e=error, n=others: _unsure(self._mixture_check(c, h, r), e, n)  # type: ignore[misc]
                )
        for reading in case.readings:
            at_place.setdefault(reading.at, []).append(
                lambda r, reading=reading: self._reading(reading, h, r)  # type: ignore[misc]
            )
        moved: dict[str, float] = {}
        for trial in case.trials:
            assert trial.change is not None
            sign = 1 if trial.direction == "richer" else -1
            shift = {p: self.steps(v * trial.steps * sign) for p, v in self.step_richer(trial.change).items()}
            place = trial.at or self.k.circuits[trial.change].strongest_at[0]
            earlier = int(moved.get(place, 0))
            at_place.setdefault(place, []).append(
                lambda r, t=trial, before=earlier, by=shift[place], p=place: self._felt(  # type: ignore[misc]
                    t.effect, self.x(h, p) + r + before, by
                )
            )
            if not trial.put_back and trial.effect != "came_back":
                moved = {p: moved.get(p, 0) + v for p, v in shift.items()}
            if trial.change not in {t.change for t in case.trials[: case.trials.index(trial)]}:
                total *= self._dirt_gone(trial.change, trial.effect, h)
        for where, factors in at_place.items():
            total *= sum(w * math.prod(f(r) for f in factors) for r, w in self.residuals(where))
        return total

    def _complains(
        self,
        case: Case,
        told: dict[tuple[str, str, tuple[str, ...]], list[FindingReport]],
        h: Hypothesis,
    ) -> float:
        """People ask because of the fault: one of whose signs all are everyday ones asks the less often.

        A sign is an everyday one with the chance that, seen, no cause of the fault has a part in it.
        """
        everyday, unasked = 1.0, False
        for (cluster, status, places), reports in told.items():
            within = places or not any(c == cluster and s == status and p for c, s, p in told)
            if status != "present" or not within or all(f.asked for f in reports):
                continue
            unasked = True
            sound = self._told_alone(reports, places, ())
            for s in h:
                seen = self._told_alone(reports, places, (s,))
                everyday *= min(sound * (1 - seen) / ((1 - sound) * seen), 1.0)
        if case.reporting != "volunteered" or not unasked or not h:
            return 1.0
        return 1 - (1 - self.k.scales.reporting.complains_of_everyday) * everyday

    def _told_alone(
        self, reports: list[FindingReport], places: tuple[str, ...], h: Hypothesis
    ) -> float:
        """P(what was said of one sign | hypothesis), with nothing else known."""

        def chance(f: FindingReport) -> float:
            if places:
                return sum(w * self.present(f.finding, places[0], h, r) for r, w in self.residuals(places[0]))
            return self.anywhere(f.finding, f.at or self.k.findings[f.finding].at, h)

        return sum(self._said(f, chance(f)) for f in reports) / len(reports)

    def _said(self, report: FindingReport, p: float) -> float:
        error = self.k.scales.certainty[report.certainty]
        p = p if report.status == "present" else 1 - p
        return (1 - error) * p + error * (1 - p)

    def _cause_check(self, result: CheckResult, h: Hypothesis) -> float:
        check = self.k.checks[result.check]
        base = {o: self.word(v.otherwise) for o, v in check.outcomes.items() if v.otherwise}
        base = {o: p / sum(base.values()) for o, p in base.items()}

        def alone(cause: str) -> float | None:
            c = self.k.causes[cause]
            lines = {line.outcome: self.word(line.often) for line in c.checks if line.check == check.id}
            if not lines and c.group in check.groups:
                lines = {o: self.word(w) for o, w in check.groups[c.group].items()}
            usual = max(base, key=lambda o: base[o])
            if [*lines] == [usual]:
                lines[usual] = max(lines[usual], base[usual])  # named alone, the usual outcome is ordinary
            return self._spread(lines, base, result.outcome, check) if lines else None

        def or_ordinary(cause: str) -> float:
            p = alone(cause)
            return self._ordinary(base, result.outcome, check) if p is None else p

        spoken = [alone(s.cause) if s.cause else self._of(s, or_ordinary, 0.0) for s in h if s.cause or s.group]
        told = [p for p in spoken if p is not None]
        return sum(told) / len(told) if told else self._ordinary(base, result.outcome, check)

    def _spread(self, lines: dict[str, float], base: dict[str, float], outcome: str, check: Check) -> float:
        given = sum(lines.values())
        rest = sum(p for o, p in base.items() if o not in lines)
        if rest == 0 or given >= 1:
            p = {o: lines.get(o, 0.0) / given for o in base}
        else:
            p = {o: lines[o] if o in lines else base[o] * (1 - given) / rest for o in base}
        sharpness, floor = self._looked(check)
        return min(max(self._sharpened(p, outcome, sharpness), floor), 1 - floor)

    def _ordinary(self, base: dict[str, float], outcome: str, check: Check) -> float:
        sharpness, floor = self._looked(check)
        p = {o: max(self._sharpened(base, o, sharpness), floor) for o in base}
        return p[outcome] / sum(p.values())

    def _looked(self, check: Check) -> tuple[float, float]:
        """Power and floor of the outcomes: what was looked at tells more, and is wrong more seldom."""
        scales = self.k.scales
        return (scales.outcome_sharpness, scales.outcome_floor) if check.kind == "check" else (1.0, scales.floor)

    def _sharpened(self, p: dict[str, float], outcome: str, sharpness: float) -> float:
        raised = {o: v**sharpness for o, v in p.items()}
        return raised[outcome] / sum(raised.values())

    def _mixture_check(self, result: CheckResult, h: Hypothesis, residual: int) -> float:
        check, floor = self.k.checks[result.check], self.k.scales.floor
        assert result.at is not None
        x = self.x(h, result.at) + residual
        p = {}
        sums = [sum(self.word(o.mixture[Level(v)]) for o in check.outcomes.values() if o.mixture) for v in LEVELS]
        for name, o in check.outcomes.items():
            assert o.mixture is not None
            values = [self.word(o.mixture[Level(v)]) / t for v, t in zip(LEVELS, sums, strict=True)]
            p[name] = self.by_level([min(max(v, floor), 1 - floor) for v in values], x)
        if result.at in check.weak_at:
            p = {o: v**self.m.weak_power for o, v in p.items()}
            p = {o: v / sum(p.values()) for o, v in p.items()}
        return p[result.outcome]

    def _reading(self, reading: Reading, h: Hypothesis, residual: int) -> float:
        wanted = self.k.places[reading.at].lambda_wanted
        assert wanted is not None
        x = min(max(self.x(h, reading.at) + residual, -self.limit), self.limit) * self.m.lattice_step
        sigma = getattr(self.m.lambda_sigma, reading.protocol)
        fit = math.exp(-0.5 * ((x - math.log(reading.lambda_ / wanted)) / sigma) ** 2)
        return (1 - self.m.lambda_misread) * fit + self.m.lambda_misread * 0.2

    def _felt(self, effect: str, x_steps: int, by: int) -> float:
        trials, step = self.k.scales.trials, self.m.lattice_step
        x_steps = min(max(x_steps, -self.limit), self.limit)
        before = max(abs(x_steps * step) - self.m.right_within, 0)
        after = max(abs((x_steps + by) * step) - self.m.right_within, 0)
        gain = (before - after) / (trials.noticeable + trials.noticeable_share * min(before, after))
        better, worse = 1 / (1 + math.exp(-4 * (gain - 1))), 1 / (1 + math.exp(-4 * (-gain - 1)))
        cured = better * math.exp(-after / trials.noticeable) / 2
        p = {
            "cured": 0.9 * cured,
            "came_back": 0.1 * better,
            "better": 0.9 * (better - cured),
            "worse": worse,
            "no_change": max(1 - better - worse, 0),
        }
        overshot = self._overshot(x_steps * step, (x_steps + by) * step)
        p = {"overshot": overshot} | {name: (1 - overshot) * value for name, value in p.items()}
        return trials.effect_noise / 6 + (1 - trials.effect_noise) * p[effect]

    def _dirt_gone(self, circuit: str, effect: str, h: Hypothesis) -> float:
        """What the first move of a setting says of dirt in its circuit, which goes with the old part."""
        repair = self.k.scales.trials.repair
        if Effect(effect) not in repair.fixed:
            return 1.0
        fixed, partly, not_fixed = (t[Effect(effect)] for t in (repair.fixed, repair.partly, repair.not_fixed))
        gone = []
        for state in h:
            mixture = self.k.causes[state.cause].mixture if state.cause else None
            dirt = mixture is not None and mixture.circuit == circuit and not state.severity.endswith(("step", "steps"))
            fixes = self.k.causes[state.cause].fixed_by if state.cause and dirt else ()
            action = self.k.circuits[circuit].richer.action
            gone.append(next((self.word(f.works) for f in fixes if f.do == action), 0.0))
        if len(gone) < 2:
            mended = sum(gone)
            return (mended * fixed + (1 - mended) * not_fixed) / not_fixed
        one, other = gone
        whole, none = one * other, (1 - one) * (1 - other)
        return (whole * fixed + none * not_fixed + (1 - whole - none) * partly) / not_fixed

    def _overshot(self, before: float, after: float) -> float:
        """Off on the far side now and not before; mostly called worse where nothing was off at first."""

        def felt(off: float) -> float:
            return 1 / (1 + math.exp(-4 * (off / self.k.scales.trials.noticeable - 1))) if off > 0 else 0.0

        way = (after > before) - (after < before)
        right = self.m.right_within
        far = felt(way * after - right) * (1 - felt(way * before - right))
        return far * (1 + 2 * felt(-way * before - right)) / 4

    def _silence(self, case: Case, h: Hypothesis) -> float:
        """What an unprompted complaint left out, at the power of the scales, relative to nothing wrong.

        At a place of which something was said, the rest is silent at a lower power still.
        """
        if case.reporting != "volunteered":
            return 1.0
        visited = set(case.visited)
        mentioned: set[tuple[str, str]] = set()
        spoken_of: set[str] = set()
        for report in case.findings:
            record = self.k.findings[report.finding]
            mentioned |= {
                (f.id, p)
                for f in self.k.findings.values()
                for p in f.at
                if p in (report.at or record.at)
                and (f.id == record.id or (f.cluster is not None and f.cluster == record.cluster))
            }
            if report.status == "unknown":
                continue
            spoken_of |= set(report.at or record.at)
            for place in report.at:
                visited |= {place, *self.k.places[place].implies_visited}
        silent = [1.0] * len(h)
        scale = self.k.scales.reporting
        for f in self.k.findings.values():
            a = f.applies
            if (a.families and self.family.id not in a.families) or (a.strokes and self.strokes not in a.strokes):
                continue
            for place in f.at:
                if place in visited and (f.id, place) not in mentioned:
                    power = scale.silence_weight * (scale.silence_where_spoken if place in spoken_of else 1.0)
                    for n, s in enumerate(h):
                        silent[n] *= (self._quiet(f, place, (s,)) / self._quiet(f, place, ())) ** power
        told = spoken_of or any(not c.asked for c in case.contexts)
        of_circumstances = math.prod(self._circumstances_left_out(case, s) for s in h) if told else 1.0
        return of_circumstances * math.prod((1 - scale.only_the_worst) * one + scale.only_the_worst for one in silent)

    def _quiet(self, f: Finding, place: str, h: Hypothesis) -> float:
        key = (f.id, place, h[0].key if h else None)
        if key not in self._quiet_known:
            p = sum(w * self.present(f.id, place, h, r) for r, w in self.residuals(place))
            said_if_absent = self.k.scales.reporting.false_mention
            self._quiet_known[key] = p * (1 - self.word(f.noticed_unasked)) + (1 - p) * (1 - said_if_absent)
        return self._quiet_known[key]
