"""How complete the knowledge is: what the tables, the causes, the groups and the sources cover, and every hole by name.

The linter says what is broken; this says what is there. The words of the counts are explained in docs/coverage.md.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from carbdiag.applies import fits
from carbdiag.band_view import band_table, directions
from carbdiag.diagnosis import diagnose
from carbdiag.knowledge import Knowledge
from carbdiag.model import compile_model
from carbdiag.records.cases import WorkedCase
from carbdiag.records.causes import Cause
from carbdiag.records.families import Family
from carbdiag.separation import COMES, ENOUGH, Machine, tabulate
from carbdiag.sourcing import STANDINGS, WEIGHTS, citing_records, claims
from carbdiag.terms import Direction, ProbabilityWord

#: A repair that works this well is a cure.
_CURES: Final = (ProbabilityWord.ALMOST_ALWAYS, ProbabilityWord.USUALLY, ProbabilityWord.OFTEN)

#: How many signs must speak for a cause.
_SIGNS: Final = 2


@dataclass(frozen=True)
class Share:
    """So many of a number, and the ones that are missing, by id."""

    what: str
    of: int
    missing: tuple[str, ...] = ()

    @property
    def there(self) -> int:
        """How many are there."""
        return self.of - len(self.missing)

    def __str__(self) -> str:
        return f"{self.what}: {self.there} of {self.of}"


@dataclass(frozen=True)
class Standing:
    """For one kind of thing that is sourced: how many stand on what, in the order of STANDINGS."""

    what: str
    counts: tuple[int, ...]
    lines: int = 0
    lines_published: int = 0
    weight: bool = False
    """Whether it says only how often or how likely, which is judgment by nature."""

    @property
    def total(self) -> int:
        """How many there are."""
        return sum(self.counts)

    @property
    def published(self) -> float:
        """Share that a published source stands behind."""
        return self.counts[0] / self.total if self.total else 0.0


@dataclass(frozen=True)
class Coverage:
    """What the knowledge covers."""

    edition: str
    charts: tuple[Share, ...]
    """For each family: signs at its throttle bands, each way they point, with a circuit and a correction."""
    named: tuple[Share, ...]
    """For each family: circuits in control at a band, each way, of which a cause of that family can be named."""
    signs: Share
    causes: tuple[Share, ...]
    groups: tuple[tuple[str, tuple[int, ...]], ...]
    """Causes of each group, family by family in the order of `families`."""
    families: tuple[str, ...]
    citations: tuple[Standing, ...]
    links: tuple[Standing, ...]
    unpublished: tuple[str, ...]
    """Every link that no published source stands behind, as `kind record field standing`."""

    @property
    def all_links(self) -> Standing:
        """All links together."""
        return total("all links", self.links)

    @property
    def links_without_weights(self) -> Standing:
        """All links but those that only say how often or how likely."""
        return total("links without the words for how often", [s for s in self.links if not s.weight])

    def __str__(self) -> str:
        lines = []
        for share in (*self.charts, *self.named, self.signs, *self.causes):
            lines.append(str(share))
            if share.missing:
                lines += _wrapped(f"missing: {', '.join(share.missing)}")
        lines.append(f"groups without a cause on a family: {len(self.empty_groups)}")
        for family in self.families:
            names = [group for group, on in self.empty_groups if on == family]
            if names:
                lines += _wrapped(f"{family} (not there, or missing): {', '.join(names)}")
        for standing in (total("citations", self.citations), self.links_without_weights, self.all_links):
            split = ", ".join(f"{n} {s.replace('_', ' ')}" for n, s in zip(standing.counts, STANDINGS, strict=True))
            lines.append(f"{standing.what}: {standing.published:.0%} published ({split})")
        return "\n".join(lines)

    @property
    def empty_groups(self) -> tuple[tuple[str, str], ...]:
        """Each (group, family) without a cause: the family has no such part, or the knowledge lacks it."""
        return tuple(
            (group, family)
            for group, counts in self.groups
            for family, count in zip(self.families, counts, strict=True)
            if not count
        )


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 100, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)


def total(what: str, standings: Iterable[Standing]) -> Standing:
    """Several kinds counted as one."""
    all_of = list(standings)
    counts = tuple(sum(s.counts[n] for s in all_of) for n in range(len(STANDINGS)))
    return Standing(what, counts, sum(s.lines for s in all_of), sum(s.lines_published for s in all_of))


def coverage(k: Knowledge, worked: Iterable[WorkedCase]) -> Coverage:
    """Measure a whole set of knowledge with its worked cases."""
    machines = [tabulate(compile_model(k, f.id, strokes)) for f in k.families.values() for strokes in f.strokes]
    return Coverage(
        edition=k.edition,
        charts=tuple(_chart(k, family) for family in k.families),
        named=tuple(_named(k, family) for family in k.families),
        signs=_signs(k, machines),
        causes=_causes(k, machines, tuple(worked)),
        groups=tuple(
            (group, tuple(_in_group(k, group, family) for family in k.families.values())) for group in k.groups
        ),
        families=tuple(k.families),
        citations=_citations(k),
        links=_links(k),
        unpublished=tuple(
            f"{c.kind} {c.record} {c.field} {c.standing}" for c in claims(k) if c.standing != STANDINGS[0]
        ),
    )


# ---------------------------------------------------------------------------------------------------------
# The chart


def _chart(k: Knowledge, family: str) -> Share:
    strokes = k.families[family].strokes
    rows = {
        (r.place, r.finding, r.direction)
        for s in strokes
        for r in band_table(family, s, k).rows
        if r.circuit and r.correction
    }
    wanted = [
        (place.id, finding.id, direction)
        for place in k.places.values()
        if place.kind == "band"
        for finding in k.findings.values()
        if place.id in finding.at and finding.mixture is not None
        if any(fits(finding.applies, family, s) for s in strokes)
        for direction in directions(k, finding)
    ]
    missing = tuple(
        f"{finding} {direction.value} at {place}"
        for place, finding, direction in wanted
        if (place, finding, direction) not in rows
    )
    return Share(f"{family}: sign at a throttle band, rich or lean, with circuit and correction", len(wanted), missing)


def _named(k: Knowledge, family: str) -> Share:
    """Whether, where the chart blames a circuit, the family has a cause that moves that place that way."""
    reach: set[tuple[str, Direction]] = set()
    for strokes in k.families[family].strokes:
        model = compile_model(k, family, strokes)
        for state in model.states:
            if state.cause is not None and state.circuit is not None and state.direction is not None:
                reach.add((state.circuit, state.direction))
    rows = {(r.place, r.circuit, r.direction) for r in band_table(family, knowledge=k).rows}
    missing = tuple(
        f"{circuit} {direction.value} at {place}"
        for place, circuit, direction in sorted(rows)
        if (circuit, direction) not in reach
    )
    return Share(
        f"{family}: circuit in control at a place, rich or lean, that a cause of the family can be", len(rows), missing
    )


# ---------------------------------------------------------------------------------------------------------
# Signs and causes


def _raised(machine: Machine) -> np.ndarray:
    """(R, C) whether a cause makes an outcome common, and at least threefold likelier than a sound engine does."""
    common = machine.log_p >= np.log(COMES)
    return np.asarray(common & (machine.log_p - machine.log_sound[:, None] >= ENOUGH))


def _signs(k: Knowledge, machines: Iterable[Machine]) -> Share:
    shown: set[str] = set()
    for machine in machines:
        shown |= {machine.rows[row] for row in np.flatnonzero(_raised(machine).any(axis=1))}
    wanted = [f"{f.id} at {at}" for f in k.findings.values() for at in f.at]
    missing = tuple(w for w in wanted if w not in shown)
    return Share("signs at places that a cause produces", len(wanted), missing)


def _causes(k: Knowledge, machines: Iterable[Machine], worked: tuple[WorkedCase, ...]) -> tuple[Share, ...]:
    signs = dict.fromkeys(k.causes, 10**6)
    checks = dict.fromkeys(k.causes, 10**6)
    for machine in machines:
        raised = _raised(machine)
        row_kin = machine.kin[np.searchsorted(machine.start, np.arange(len(machine.rows)), side="right") - 1]
        for n, cause in enumerate(machine.causes):
            signs[cause] = min(signs[cause], len(set(row_kin[raised[:, n] & machine.is_finding])))
            checks[cause] = min(checks[cause], len(set(row_kin[raised[:, n] & ~machine.is_finding])))
    own = {c.leads: c for c in worked if c.twin_of is None}
    twins = {c.twin_of for c in worked if c.twin_of}
    lost = {c.of for c in worked if diagnose(c, k, steps=0, sizes=False).causes[0].id != c.leads}
    demands: tuple[tuple[str, Callable[[Cause], bool]], ...] = (
        ("that occur on a family", lambda c: signs[c.id] < 10**6),
        ("with two signs of their own, on every machine that can have them", lambda c: signs[c.id] >= _SIGNS),
        ("with a check that speaks for them", lambda c: checks[c.id] >= 1),
        ("with a cure, or the reason for a workshop", _cured),
        ("with a near rival and what separates them", lambda c: bool(c.mistaken_for)),
        ("with a worked case of their own", lambda c: c.id in own),
        ("with a near-twin that another cause leads", lambda c: c.id in twins),
        ("reached: every worked case about them is led by the right cause", lambda c: c.id in own and c.id not in lost),
    )
    return tuple(
        Share(f"causes {what}", len(k.causes), tuple(c.id for c in k.causes.values() if not met(c)))
        for what, met in demands
    )


def _cured(cause: Cause) -> bool:
    return cause.workshop is not None or any(fix.works in _CURES for fix in cause.fixed_by)


def _in_group(k: Knowledge, group: str, family: Family) -> int:
    found = {c for strokes in family.strokes for c in compile_model(k, family.id, strokes).cause_ids}
    return sum(k.causes[c].group == group for c in found)


# ---------------------------------------------------------------------------------------------------------
# Sources


def _standing(
    what: str, counted: Mapping[str, int], lines: int = 0, published: int = 0, weight: bool = False
) -> Standing:
    return Standing(what, tuple(counted.get(s, 0) for s in STANDINGS), lines, published, weight)


def _citations(k: Knowledge) -> tuple[Standing, ...]:
    counts: dict[str, Counter[str]] = {}
    for record in citing_records(k):
        counts.setdefault(record.kind, Counter()).update(k.sources[c.source].kind for c in record.sources)
    return tuple(_standing(kind, counted) for kind, counted in counts.items())


def _links(k: Knowledge) -> tuple[Standing, ...]:
    found = claims(k)
    out = []
    for kind, field in dict.fromkeys((c.kind, c.field) for c in found):
        of_kind = [c for c in found if (c.kind, c.field) == (kind, field)]
        out.append(
            _standing(
                f"{kind}: {field}",
                Counter(c.standing for c in of_kind),
                sum(c.lines for c in of_kind),
                sum(c.lines_published for c in of_kind),
                weight=(kind, field) in WEIGHTS,
            )
        )
    return tuple(out)
