"""What the records say of every cause, as arrays that no machine changes: a model takes its rows and columns of them.

Columns are all causes in the order of the records, and one more for what is no listed cause (nothing wrong, or a fault
nobody wrote down), so that a state without a cause can look there too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from carbdiag.belief.lattice import Floats, Ints, Lattice
from carbdiag.knowledge import Knowledge
from carbdiag.records.checks import Check
from carbdiag.scales import probability
from carbdiag.terms import LEVELS


@dataclass(frozen=True, eq=False)
class SignTables:
    """Every finding at every place it is seen at, one row each."""

    keys: tuple[tuple[str, str], ...]
    rows: Mapping[tuple[str, str], int]
    silent_base: Floats  # (R, N) chance of silence on the lattice, no cause at work
    has_mixture: np.ndarray  # (R,)
    noticed: Floats  # (R,) chance that it is told unasked
    link_rows: Ints  # one entry for each sign of a cause: its row,
    link_columns: Ints  # the cause,
    link_silent: Floats  # the chance of silence although that cause is at work,
    link_strokes: Ints  # and the strokes it holds for, 0 for both

    def links(self, strokes: int, columns: int) -> Floats:
        """Chance of silence of every sign under every cause of machines with these strokes, shape (R, columns)."""
        out = np.ones((len(self.keys), columns))
        of = np.flatnonzero((self.link_strokes == 0) | (self.link_strokes == strokes))
        np.minimum.at(out, (self.link_rows[of], self.link_columns[of]), self.link_silent[of])
        return out


@dataclass(frozen=True, eq=False)
class CauseTables:
    """See the head of this module; C causes, so C + 1 columns."""

    column: Mapping[str, int]
    signs: SignTables
    everyday_silent: Mapping[str, float]  # finding -> chance that it does not show in a healthy engine
    by_strokes: Mapping[int, Floats]  # strokes -> links of the signs, (R, C + 1)
    outcomes: Mapping[tuple[str, str], int]  # of checks that read causes -> row
    outcome_check: Ints  # (O,) row of `speaks`
    speaks: Floats  # (checks that read causes, C + 1) 1 where the cause decides the outcome
    values: Floats  # (O, C + 1) its chance there, 0 elsewhere
    otherwise: Floats  # (O,)
    mixture: Mapping[tuple[str, str], Floats]  # of checks that read the mixture -> (N,)
    works: Floats  # (actions, C + 1)
    contexts: Floats  # (contexts, C + 1) factor on the odds
    on_one: Floats  # (C + 1,) chance that it shows on one cylinder of several

    @cached_property
    def chances(self) -> Floats:
        """Chance of each outcome of `outcomes` under each cause, (O, C + 1)."""
        return np.where(self.speaks.take(self.outcome_check, axis=0) > 0, self.values, self.otherwise[:, None])


def cause_tables(k: Knowledge) -> CauseTables:
    """Tabulate, or return what was tabulated before (it depends on the knowledge alone)."""
    found = k.memo.get("cause tables")
    if not isinstance(found, CauseTables):
        found = k.memo["cause tables"] = _tabulate(k)
    return found


def _tabulate(k: Knowledge) -> CauseTables:
    lattice = lattice_of(k)
    column = {c: n for n, c in enumerate(k.causes)}
    size = len(column) + 1
    signs = _signs(k, lattice, column)
    works = np.zeros((len(k.actions), size))
    action = {a: n for n, a in enumerate(k.actions)}
    for n, cause in enumerate(k.causes.values()):
        for fix in cause.fixed_by:
            works[action[fix.do], n] = probability(k, fix.works)
    rows: dict[tuple[str, str], int] = {}
    of_check: list[int] = []
    speaks: list[Floats] = []
    values: list[Floats] = []
    otherwise: list[float] = []
    named = _named_outcomes(k, column)
    of_group = _by_group(k)
    for check in k.checks.values():
        if check.reads != "mixture":
            said, chances, base = _outcomes(k, check, named.get(check.id, {}), of_group, size)
            for outcome, p in base.items():
                rows[check.id, outcome] = len(of_check)
                of_check.append(len(speaks))
                otherwise.append(p)
            speaks.append(said)
            values.append(chances)
    return CauseTables(
        column=column,
        signs=signs,
        everyday_silent={f.id: 1 - probability(k, f.everyday) for f in k.findings.values()},
        by_strokes={strokes: signs.links(strokes, size) for strokes in (2, 4)},
        outcomes=rows,
        outcome_check=np.array(of_check, dtype=np.intp),
        speaks=np.array(speaks).reshape(len(speaks), size),
        values=np.concatenate([np.zeros((0, size)), *values]),
        otherwise=np.array(otherwise),
        mixture={
            (check.id, name): table
            for check in k.checks.values()
            if check.reads == "mixture"
            for name, table in _mixture_outcomes(k, check, lattice).items()
        },
        works=works,
        contexts=_contexts(k, column, of_group, size),
        on_one=_on_one(k),
    )


def _signs(k: Knowledge, lattice: Lattice, column: Mapping[str, int]) -> SignTables:
    keys = tuple((f.id, at) for f in k.findings.values() for at in f.at)
    rows = {key: n for n, key in enumerate(keys)}
    base = np.empty((len(keys), lattice.size))
    for finding in k.findings.values():
        everyday = probability(k, finding.everyday)
        shown = np.full(lattice.size, everyday)
        if finding.mixture is not None:
            by_level = np.array([probability(k, finding.mixture[level]) for level in LEVELS])
            shown = np.maximum(lattice.response(by_level), everyday)
        for at in finding.at:
            base[rows[finding.id, at]] = 1 - shown if at != "parked" else 1 - everyday
    silent = {word: 1 - probability(k, word) for word in k.scales.probability}
    links = [
        (rows[shows.finding, at], column[cause.id], silent[shows.often], strokes)
        for cause in k.causes.values()
        for shows in cause.shows
        for at in shows.at or k.findings[shows.finding].at
        for strokes in (shows.strokes or (0,))
        if (shows.finding, at) in rows
    ]
    row, cause_column, unseen, strokes_of = zip(*links, strict=True) if links else ((), (), (), ())
    return SignTables(
        keys=keys,
        rows=rows,
        silent_base=base,
        has_mixture=np.ptp(base, axis=1) > 0,
        noticed=np.array([probability(k, k.findings[f].noticed_unasked) for f, _ in keys]),
        link_rows=np.array(row, dtype=np.intp),
        link_columns=np.array(cause_column, dtype=np.intp),
        link_silent=np.array(unseen, dtype=float),
        link_strokes=np.array(strokes_of, dtype=np.intp),
    )


def _named_outcomes(k: Knowledge, column: Mapping[str, int]) -> dict[str, dict[int, dict[str, float]]]:
    """Check -> cause -> outcome -> how often, as causes say it."""
    named: dict[str, dict[int, dict[str, float]]] = {}
    number = {word: probability(k, word) for word in k.scales.probability}
    for cause in k.causes.values():
        for s in cause.checks:
            named.setdefault(s.check, {}).setdefault(column[cause.id], {})[s.outcome] = number[s.often]
    return named


def _outcomes(
    k: Knowledge,
    check: Check,
    by_cause: Mapping[int, Mapping[str, float]],
    of_group: Mapping[str, Sequence[int]],
    size: int,
) -> tuple[Floats, Floats, dict[str, float]]:
    """Where causes decide the outcomes, (size,); with which chance, (outcomes, size); and what is ordinary."""
    looked = check.kind == "check"  # what is only remembered stays as said
    floor = k.scales.outcome_floor if looked else k.scales.floor
    sharpness = k.scales.outcome_sharpness if looked else 1.0
    base = {o: probability(k, v.otherwise) for o, v in check.outcomes.items() if v.otherwise}
    total = sum(base.values())
    base = {o: p / total for o, p in base.items()}
    usual = max(base, key=lambda o: base[o])
    by_group = {g: {o: probability(k, w) for o, w in said.items()} for g, said in check.groups.items()}

    @cache  # many causes say the same
    def chances(*said: tuple[str, float]) -> list[float]:
        lines = dict(said)
        if set(lines) == {usual}:
            # a cause that names the usual outcome alone means "nothing to see here", not "a little odd"
            lines = {usual: max(lines[usual], base[usual])}
        return [min(max(p, floor), 1 - floor) for p in _sharpened(_spread(lines, base), sharpness).values()]

    found: dict[int, list[float]] = {}
    for group, lines in by_group.items():
        if lines:
            found.update(dict.fromkeys(of_group[group], chances(*lines.items())))
    for n, own in by_cause.items():  # what a cause says itself comes before what is said of its group
        found[n] = chances(*own.items())
    speaks, values = np.zeros(size), np.zeros((len(base), size))
    at = np.array([*found], dtype=np.intp)
    speaks[at] = 1.0
    values[:, at] = np.array([*found.values()]).reshape(len(at), len(base)).T
    ordinary = {o: max(p, floor) for o, p in _sharpened(base, sharpness).items()}
    return speaks, values, {o: p / sum(ordinary.values()) for o, p in ordinary.items()}


def _sharpened(distribution: Mapping[str, float], power: float) -> dict[str, float]:
    """A distribution whose likelier outcomes are likelier still: its chances to a power, made whole again."""
    raised = {o: p**power for o, p in distribution.items()}
    total = sum(raised.values())
    return {o: p / total for o, p in raised.items()}


def _spread(lines: Mapping[str, float], otherwise: Mapping[str, float]) -> dict[str, float]:
    """Complete a distribution over outcomes: what the lines leave is shared out as `otherwise` is."""
    given = sum(lines.values())
    rest = {o: p for o, p in otherwise.items() if o not in lines}
    if not rest or given >= 1:
        return {o: lines.get(o, 0.0) / given for o in otherwise}
    scale = (1 - given) / sum(rest.values())
    return {o: lines.get(o, rest.get(o, 0.0) * scale) for o in otherwise}


def _mixture_outcomes(k: Knowledge, check: Check, lattice: Lattice) -> dict[str, Floats]:
    """Chance of each outcome of a check that reads the mixture, on the lattice."""
    floor = k.scales.floor
    said = [o.mixture for o in check.outcomes.values() if o.mixture is not None]
    levels = np.array([[probability(k, by_level[level]) for level in LEVELS] for by_level in said])
    levels /= levels.sum(axis=0)
    return {
        name: lattice.response(np.clip(row, floor, 1 - floor))
        for name, row in zip(check.outcomes, levels, strict=True)
    }


def _contexts(
    k: Knowledge, column: Mapping[str, int], of_group: Mapping[str, Sequence[int]], size: int
) -> Floats:
    """Factor of every circumstance on the odds of every cause: as the cause says, else as its group is said to be."""
    out = np.ones((len(k.contexts), size))
    row = {context: n for n, context in enumerate(k.contexts)}
    for context in k.contexts.values():
        for group, word in context.groups.items():
            out[row[context.id], of_group[group]] = k.scales.context[word]
    for cause in k.causes.values():
        for named, word in cause.contexts.items():
            out[row[named], column[cause.id]] = k.scales.context[word]
    return out


def _by_group(k: Knowledge) -> dict[str, list[int]]:
    """Columns of the causes of each group."""
    out: dict[str, list[int]] = {group: [] for group in k.groups}
    for n, cause in enumerate(k.causes.values()):
        out[cause.group].append(n)
    return out


def _on_one(k: Knowledge) -> Floats:
    s = k.scales.several
    by_reach = {
        "own": s.own_shows_on_one,
        "shared": s.shared_shows_on_one,
        "either": (s.own_shows_on_one + s.shared_shows_on_one) / 2,
    }
    return np.array([*(by_reach[c.reach] for c in k.causes.values()), by_reach["either"]])


def lattice_of(k: Knowledge) -> Lattice:
    """The mixture axis that the scales ask for."""
    m = k.scales.mixture
    return Lattice(m.lattice_step, m.lattice_limit, m.right_within, m.lean_within)
