"""Leaner steps that wait for what is not known of wide openings, and the answers that would free them.

Looked at hypothesis by hypothesis and step by step of the residual: an answer about a wide opening speaks of the
residual there as much as of the causes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.evidence import PlaceTerm
from carbdiag.belief.information import Shares
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.casework.believed import Belief
from carbdiag.lean_risk import WIDE_OPEN, LeanRisk
from carbdiag.outlook import Outlook

_TINY = 1e-12


@dataclass(frozen=True)
class Waiting:
    """A leaner step of a setting that reaches wide openings, and where it would be felt."""

    circuit: str
    place: str
    steps: float


def freed_by(
    belief: Belief,
    look: Outlook,
    risk: LeanRisk,
    waiting: Sequence[Waiting],
    possible: float,
    asks: Sequence[int],
    joint: Shares,
) -> NDArray[np.bool_]:
    """Which steps each outcome of some candidates, by number, would free, (rows, W).

    joint: (rows, M) P(outcome and merged hypothesis), the outcomes of all candidates one after another.
    """
    places = dict.fromkeys((*WIDE_OPEN, *(step.place for step in waiting)))
    spots = {p: _Spot.of(belief, look, p) for p in places}
    watched = [w for n, step in enumerate(waiting) for w in _watched(belief, look, risk, spots, n, step, possible)]
    of, times, most = (np.array(column) for column in zip(*((w.step, w.times, w.most) for w in watched), strict=True))
    marginal = joint.sum(axis=1)[:, None] + _TINY
    lean = joint @ np.stack([w.now for w in watched], axis=1) / marginal
    now = {p: joint @ spots[p].now_by_group(look) / marginal for p in spots}  # (rows, 2) P(lean), P(rich) now
    told = np.full(len(joint), risk.told_of_wide_open)
    start = 0
    for t in asks:
        _, at = look.candidates.ids[t]
        end = start + look.outcomes(t)
        if at in spots and _reads_mixture(belief, look, t):
            here = [n for n, w in enumerate(watched) if w.spot is spots[at]]
            moves = [*(watched[n].more for n in here), 0]
            after = np.array(list(spots[at].after_each(list(_answers(belief, look, spots[at], t)), moves)))
            lean[start:end, here] = after[:, :-2]
            now[at][start:end] = after[:, -2:]
            told[start:end] |= at in WIDE_OPEN
        start = end
    rich = {p: both[:, 1] >= risk.lean_cost * both[:, 0] for p, both in now.items()}
    at_wide = np.any([rich[p] for p in WIDE_OPEN], axis=0)
    fine = lean * times <= most
    return np.stack(
        [fine[:, of == n].all(axis=1) & told & (at_wide | rich[step.place]) for n, step in enumerate(waiting)], axis=1
    )


@dataclass(frozen=True, eq=False)
class _Spot:
    """One place, for the hypotheses that an outlook looks at (K), step by step of its residual (Q)."""

    weights: Floats  # (K,) of the hypotheses
    likely: Floats  # (Q, K) chance of each residual, given what was seen there
    reads: Ints  # (Q, K) lattice index of the mixture as it is now
    not_lean: Ints  # (K,) how many residuals, from the richest on, leave it not lean now
    rich: Ints  # (K,) and how many leave it rich

    @classmethod
    def of(cls, belief: Belief, look: Outlook, place: str) -> _Spot:
        """Read a place off what was seen there, and how settings have moved it since."""
        network, n = belief.network, belief.model.place(place)
        residual, moved = belief.model.residuals[n], int(belief.steps[n])
        cells = network.cell(n, look.members)
        reads = network.lattice.clip(cells + residual.offsets[:, None])
        likely = np.repeat(residual.weights[:, None], len(cells), axis=1)
        for term in belief.seen.get(n, ()):
            likely *= _said(belief, look, term, reads)
            likely /= np.maximum(likely.sum(axis=0), 1e-300)
        weights = np.repeat(look.groups.weights, look.groups.count) * look.groups.share
        rich, not_lean = residual.edges[1:3, None] - (moved + cells + residual.offsets[0])
        return cls(weights.astype(float), likely, network.lattice.clip(reads + moved), not_lean, rich)

    def parts(self, likely: Floats, moves: Sequence[int]) -> list[Floats]:
        """Of weights of the residuals (Q, K): all, what is lean after each move of a setting, and rich now, (K,)."""
        upto = np.zeros((len(likely) + 1, likely.shape[1]))
        np.cumsum(likely, axis=0, out=upto[1:])
        every = np.arange(likely.shape[1])
        lean = [upto[-1] - upto[np.clip(self.not_lean - more, 0, len(likely)), every] for more in moves]
        return [upto[-1], *lean, upto[np.clip(self.rich, 0, len(likely)), every]]

    def now_by_group(self, look: Outlook) -> Shares:
        """P(lean) and P(rich) now by merged hypothesis, before anything is answered, (M, 2)."""
        return np.stack([_by_group(look, part) for part in self.parts(self.likely, (0,))[1:]], axis=1)

    def after_each(self, answers: Sequence[Floats], moves: Sequence[int]) -> Iterator[list[float]]:
        """P(lean) after each move, and P(rich) now, given each of all answers but the last at each residual (Q, K)."""
        left = [float(self.weights @ part) for part in self.parts(self.likely, moves)]
        for answer in answers:
            found = [float(self.weights @ part) for part in self.parts(self.likely * answer, moves)]
            left = [rest - part for rest, part in zip(left, found, strict=True)]
            yield [part / (found[0] + _TINY) for part in found[1:]]
        yield [max(part, 0.0) / (left[0] + _TINY) for part in left[1:]]


def _by_group(look: Outlook, by_hypothesis: Floats) -> Shares:
    """An average by merged hypothesis, (K,) to (M,)."""
    return look.groups.averaged(by_hypothesis.astype(np.float32)[:, None])[:, 0]


@dataclass(frozen=True, eq=False)
class _Watched:
    """A place that must hardly be lean for a step to be free."""

    step: int
    spot: _Spot
    more: int  # lattice steps by which it is moved
    now: Shares  # (M,) P(lean) then, by merged hypothesis, before anything is answered
    times: float  # what all hypotheses say, beside those looked at: a fault nobody wrote down may be lean
    most: float  # P(lean) up to which it is free


def _watched(
    belief: Belief, look: Outlook, risk: LeanRisk, spots: dict[str, _Spot], number: int, step: Waiting, possible: float
) -> Iterator[_Watched]:
    """Wide openings after the step, and they and the place where it would be felt as they are now."""
    model = belief.model
    moved = belief.network.lattice.steps(model.step_x[step.circuit] * -step.steps)
    after = risk.after_leaner(step.circuit, step.steps)
    middle = None if step.place in WIDE_OPEN else model.knowledge.scales.decision.leaned_from_middle
    bar = {p: possible + risk.sound(p) for p in (*WIDE_OPEN, step.place)}
    places = [(p, int(moved[model.place(p)]), chance, middle or bar[p]) for p, chance in after.items()]
    places += [(p, 0, risk.by_place.get(p, 1.0), bar[p]) for p in dict.fromkeys((*WIDE_OPEN, step.place))]
    for place, more, chance, most in places:
        spot = spots[place]
        _, lean, _ = spot.parts(spot.likely, (more,))
        yield _Watched(number, spot, more, _by_group(look, lean), chance / max(float(spot.weights @ lean), _TINY), most)


def _said(belief: Belief, look: Outlook, term: PlaceTerm, reads: Ints) -> Floats:
    """Likelihood of a statement, (Q, K)."""
    network = belief.network
    out = np.full(reads.shape, term.constant)
    for part in term.parts:
        silent = network.signs.silent_base[part.row].take(network.lattice.clip(reads + part.steps))
        out += part.weight * silent * _links(belief, look, part.row)
    return out if term.table is None else out * term.table.take(reads)


def _links(belief: Belief, look: Outlook, row: int) -> Floats:
    links, (first, second) = belief.network.signs.silent_links[row], belief.network.members(look.members)
    return np.asarray(links.take(first) * links.take(second))


def _reads_mixture(belief: Belief, look: Outlook, t: int) -> bool:
    """Whether the answer to a candidate speaks of the mixture at its place; a check with a place does."""
    c = look.candidates
    record, at = c.ids[t]
    return c.kind[t] != "finding" or belief.network.signs.has_mixture[belief.model.rows[record, at or ""]]


def _answers(belief: Belief, look: Outlook, spot: _Spot, t: int) -> Iterator[Floats]:
    """P(outcome) of a candidate at each residual of the place that it reads, (Q, K), for all outcomes but the last."""
    model, c = belief.model, look.candidates
    record, at = c.ids[t]
    if c.kind[t] != "finding":
        for outcome in tuple(model.knowledge.checks[record].outcomes)[:-1]:
            table = model.outcomes[record, outcome].table
            assert table is not None
            yield table.take(spot.reads)
        return
    row = model.rows[record, at or ""]
    silent = belief.network.signs.silent_base[row].take(spot.reads) * _links(belief, look, row)
    yield (1 - c.error) - (1 - 2 * c.error) * silent
