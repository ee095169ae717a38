"""Several settings off at once and nothing else wrong, as after another filter, exhaust or height.

The enumeration of the causes looks at two together. A carburetor that was set for other parts often has its main jet,
needle and pilot jet off at once, each by whole steps, and what the rider tells and feels fits no two of them. Every
combination of steps is weighed here by what was said of each place, beside all else that is believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from carbdiag.belief.evidence import PlaceTerm
from carbdiag.belief.lattice import Floats, Ints, Lattice, shifted
from carbdiag.belief.network import Network
from carbdiag.belief.residual import Residual, by_mixture, of_mixture
from carbdiag.case_schema import Case
from carbdiag.casework.columns import Paraphrase
from carbdiag.casework.history import History
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model
from carbdiag.records.scales import SeveralSettingsScale
from carbdiag.terms import Direction, Status

_TINY = 1e-300
#: Steps from which on a setting is off: less is not felt.
_OFF = 1.0


@dataclass(frozen=True, eq=False)
class SeveralSettings:
    """Combinations of settings that may be off, and how likely it is that the trouble is one of them."""

    share: float  # P(it is one of them)
    cells: Ints  # (P, V) lattice index at every place
    weights: Floats  # (V,) of each, given that it is one of them
    likely: Mapping[int, Floats]  # of each band something was said of: see `by_mixture`
    off: Mapping[str, Ints]  # circuit -> by how many steps it is too lean in each, (V,); below 0 too rich
    trims: Mapping[str, str]  # circuit -> the coarser one that it trims: it counts where that one is right

    def ways(self) -> Iterator[tuple[str, Direction]]:
        """Every setting, either way."""
        yield from ((circuit, way) for circuit in self.off for way in Direction)

    def chance(
        self, settings: Iterable[tuple[str, Direction]], richer: Mapping[str, float] = MappingProxyType({})
    ) -> float:
        """P(at least one of these settings is off that way), given that several are.

        As they were found, or `richer` by so many steps of each since.
        """
        some = np.zeros(len(self.weights), dtype=bool)
        for circuit, way in settings:
            lean = self.off[circuit] - richer.get(circuit, 0.0)
            off = lean >= _OFF if way is Direction.LEAN else lean <= -_OFF
            coarser = self.trims.get(circuit, "")
            if coarser in self.off:
                off &= np.abs(self.off[coarser] - richer.get(coarser, 0.0)) < _OFF
            some |= off
        return float(self.weights[some].sum())

    def over_x(self, lattice: Lattice, moved: Ints) -> Floats:
        """Where the mixture lies at every place, moved (P,) lattice steps: P(x), (P, N)."""
        at = lattice.clip(self.cells + moved[:, None])
        return np.stack([np.bincount(here, self.weights, lattice.size) for here in at])

    def levels(self, residual: Residual, place: int, moved: int) -> Floats:
        """P(level) at a band, (5,), moved so many lattice steps."""
        if place in self.likely:
            likely = self.likely[place]
            by_level = residual.by_level(likely, moved) / np.maximum(likely.sum(axis=1), _TINY)
        else:
            by_level = residual.unseen(moved)
        return np.asarray(by_level.take(self.cells[place], axis=1) @ self.weights)


def is_set_anew(k: Knowledge, case: Case) -> bool:
    """Whether the engine was given other needs, so that several settings may be off at once."""
    return any(c.status is Status.PRESENT and k.contexts[c.context].set_up for c in case.contexts)


def weigh_several(
    model: Model, network: Network, history: History, odds: float, nothing: float
) -> SeveralSettings | None:
    """How likely several settings are off, by all that was told; None where the machine has no two.

    Args:
        model: the kind of machine.
        network: its tables, adapted to the air.
        history: what was told.
        odds: prior odds that several settings are off.
        nothing: weight of "nothing wrong", over its prior odds, where all else that is believed weighs 1.
    """
    seen, findings = history.gathered.seen, history.findings
    x, prior, off = _combinations(model)
    if not prior.size:
        return None
    # "nothing wrong", which is the measure, is the first
    cells = network.lattice.clip(np.insert(x, 0, 0, axis=1) + network.x[:, :1] + network.lattice.center)
    log = np.log(findings.unsaid.silence_at(cells))
    for place, terms in seen.items():
        log += np.log(np.maximum(_told(network, place, terms), _TINY)).take(cells[place])
    for said in findings.somewhere:
        log += np.log(np.maximum(_chance(network, said, cells), _TINY))
    log -= log[0]
    log += np.log(findings.complaint.brought_by([_chance(network, said, cells) for _, said in findings.complaint.told]))
    log = log[1:] + np.log(prior)
    most = float(log.max())
    weights = np.exp(log - most)
    total = float(weights.sum())
    weight = odds * nothing * total * math.exp(min(most, 500.0))
    bands = model.residuals
    likely = {p: by_mixture(network, bands[p], terms) for p, terms in seen.items() if p in bands}
    trims = model.knowledge.scales.several_settings.trims
    return SeveralSettings(weight / (1 + weight), cells[:, 1:], weights / total, likely, off, trims)


def _chance(network: Network, said: Sequence[Paraphrase], cells: Ints) -> Floats:
    """Likelihood of a sign told in these words where nothing but the mixture is off, (V,)."""
    total = np.zeros(cells.shape[1])
    for constant, weight, rows, steps, everyday in said:
        silent = np.full(cells.shape[1], everyday)
        for row, step in zip(rows, steps, strict=True):
            if network.signs.has_mixture[row]:
                table = shifted(network.base_mean[row], step) / everyday
                silent *= table.take(cells[network.signs.place[row]])
        total += constant + weight * silent
    return total


def _told(network: Network, place: int, terms: Sequence[PlaceTerm]) -> Floats:
    """Likelihood of all that was said of a place at every x, with no cause but the mixture, (N,)."""
    product = np.ones((len(network.weights), network.lattice.size))
    for term in terms:
        product *= of_mixture(network, term).take(network.reads[place])
    return np.asarray(network.weights @ product)


def _combinations(model: Model) -> tuple[Ints, Floats, Mapping[str, Ints]]:
    """What `combine` makes of the scales, or made of them before."""
    key = ("several_settings", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if isinstance(found, tuple):
        return found
    made = model.knowledge.memo[key] = combine(model, model.knowledge.scales.several_settings)
    return made


def combine(model: Model, scale: SeveralSettingsScale) -> tuple[Ints, Floats, Mapping[str, Ints]]:
    """Every two or more settings off by whole steps: lattice steps it moves every place, (P, V), and its chance, (V,).

    Of the settings that the scale names and the machine has, each off by up to so many steps either way; by how many
    each is too lean, (V,), comes last.
    """
    places = len(model.places)
    circuits = [c for c in scale.steps if c in model.step_x]
    x, chance, off = np.zeros((places, 1), dtype=np.intp), np.ones(1), np.zeros((0, 1), dtype=np.intp)
    for circuit in circuits:
        most = scale.steps[circuit]
        lean = np.arange(-most, most + 1)  # by how many steps it is too lean
        by = model.network.lattice.steps(model.step_x[circuit])[:, None] * -lean
        mine = scale.each_step ** np.abs(lean) * np.where(lean > 0, scale.too_lean, 1.0)
        x = (x[:, :, None] + by[:, None]).reshape(places, -1)
        before = chance.size
        chance = np.multiply.outer(chance, mine).reshape(-1)
        off = np.vstack([np.repeat(off, lean.size, axis=1), np.tile(lean, before)])
    some = (off != 0).sum(axis=0) >= 2
    by_circuit = dict(zip(circuits, off[:, some], strict=True))
    return x[:, some], chance[some] / max(float(chance[some].sum()), _TINY), by_circuit
