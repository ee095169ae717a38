"""How likely wide openings run lean, now and after a step of a setting: what bars steps to the lean side.

A lean engine held at wide throttle can seize within seconds, so a step that makes wide openings leaner waits until
something was told of them, and until they would hardly be lean after it, either: no likelier than on a sound engine,
but for the chance that counts as possible.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from carbdiag.casework.believed import Belief
from carbdiag.casework.levels import leaning
from carbdiag.family_metering import FamilyTables

WIDE_OPEN = ("three_quarter", "full")


def reaches_wide_open(tables: FamilyTables, circuit: str) -> bool:
    """Whether a step of a circuit does anything worth a percent of the fuel at wide openings."""
    return any(tables.steps.get(circuit, {}).get(p, 0.0) >= 1.0 for p in WIDE_OPEN)


def sound_lean(beliefs: Sequence[Belief]) -> dict[str, float]:
    """P(lean) at every band of an engine with nothing wrong, over all kinds of machine it may be."""
    model = beliefs[0].model
    total = sum(b.weight for b in beliefs)
    bands = [p for p in model.places if model.knowledge.places[p].kind == "band"]
    return {p: sum(b.weight * b.model.sound_lean(p) for b in beliefs) / total for p in bands}


@dataclass(frozen=True, eq=False)
class LeanRisk:
    """P(lean) by band now, and the beliefs, of every kind of machine it may be, that tell what a step would do."""

    by_place: Mapping[str, float]
    beliefs: Sequence[Belief]

    @property
    def lean_cost(self) -> float:
        """How many times dearer a lean error is than a rich one."""
        return self.beliefs[0].model.knowledge.scales.decision.lean_cost

    def at_wide_open(self) -> float:
        """Largest chance of lean at three-quarter or full throttle."""
        return max((self.by_place.get(p, 0.0) for p in WIDE_OPEN), default=0.0)

    @cached_property
    def nothing_seen(self) -> bool:
        """Whether nothing was told of how the engine runs: circumstances only, as of a ride to come."""
        return all(o.statement.kind == "context" for b in self.beliefs for o in b.observations)

    def before_new_air(self) -> float:
        """P(lean) at wide openings as jets for other air go by it: nothing seen, what a sound engine has is no sign."""
        if not self.nothing_seen:
            return self.at_wide_open()
        return max((self.beyond_sound(p) for p in WIDE_OPEN if p in self.by_place), default=0.0)

    @cached_property
    def told_of_wide_open(self) -> bool:
        """Whether anything was told of the mixture at wide openings: seen, checked, measured, or felt in a trial."""
        return any(b.model.place(p) in b.seen for b in self.beliefs for p in WIDE_OPEN)

    def is_reason(self, rich: float, lean: float) -> bool:
        """Whether a leaner step is worth its danger: rich so many times likelier than lean as lean is dearer."""
        return rich >= self.lean_cost * lean

    @cached_property
    def rich_seen(self) -> bool:
        """Whether wide openings give a reason to go leaner: something was told of them, and it is rich at one."""
        if not self.told_of_wide_open:
            return False
        levels = np.sum([b.weight * leaning(b, *(b.model.place(p) for p in WIDE_OPEN)) for b in self.beliefs], axis=0)
        levels /= levels.sum(axis=-1, keepdims=True)
        rich, lean = levels[..., :2].sum(axis=-1).min(axis=0), levels[..., 3:].sum(axis=-1).max(axis=0)
        return any(self.is_reason(*at) for at in zip(rich.tolist(), lean.tolist(), strict=True))

    def beyond_sound(self, place: str) -> float:
        """By how much it is likelier lean at a band than an engine with nothing wrong is."""
        return self.by_place.get(place, 0.0) - self.sound(place)

    def lets(self, circuit: str, steps: float, place: str) -> bool:
        """Whether a step leaner of a setting that reaches wide openings may be made, to be felt at a place.

        Something must have been told of wide openings, and it must be rich at one of them, or at the place. They must
        hardly be lean after it; where it is felt in the middle, as nobody holds wide throttle then, they must not be
        lean rather than not.
        """
        limits = self.beliefs[0].model.knowledge.scales.decision
        if place in WIDE_OPEN:
            ends = WIDE_OPEN if steps == 1 else (place, *WIDE_OPEN)
            return self.rich_seen and self.bars(circuit, steps, ends, limits.lean_is_possible) is None
        if not (self.rich_seen or (self.told_of_wide_open and self._is_rich_at(place))):
            return False
        return max(self.after_leaner(circuit, steps).values()) <= limits.leaned_from_middle

    def _is_rich_at(self, place: str) -> bool:
        levels = np.sum([b.weight * leaning(b, b.model.place(place)) for b in self.beliefs], axis=0)
        levels /= levels.sum(axis=-1, keepdims=True)
        return self.is_reason(float(levels[..., :2].sum(axis=-1).min()), float(levels[..., 3:].sum(axis=-1).max()))

    def after_leaner(self, circuit: str, steps: float = 1.0, places: Sequence[str] = WIDE_OPEN) -> dict[str, float]:
        """P(lean) at some bands after so many steps leaner, the worse of with and without what was repaired."""
        key = circuit, steps, tuple(dict.fromkeys(places))
        if key not in self._after:
            self._after[key] = self._after_leaner(*key)
        return self._after[key]

    @cached_property
    def _after(self) -> dict[tuple[str, float, tuple[str, ...]], dict[str, float]]:
        return {}

    def _after_leaner(self, circuit: str, steps: float, places: tuple[str, ...]) -> dict[str, float]:
        having = [b for b in self.beliefs if circuit in b.model.step_x]
        if not having:
            return dict.fromkeys(places, 1.0)
        levels = np.sum([b.weight * _moved_leaner(b, circuit, steps, places) for b in having], axis=0)
        lean = (levels[..., 3:].sum(axis=-1) / levels.sum(axis=-1)).max(axis=0)
        return dict(zip(places, lean.tolist(), strict=True))

    def bars(self, circuit: str, steps: float, places: Sequence[str], possible: float) -> float | None:
        """P(lean) after a leaner step, where it is too likely: by more than `possible` likelier than on a sound engine.

        A sound engine is lean at three-quarter throttle in one case of ten: a bar that asks for less than that would
        never let a setting be put right.
        """
        lean = self.after_leaner(circuit, steps, places)
        place = max(lean, key=lambda p: lean[p] - self.sound(p))
        return lean[place] if lean[place] - self.sound(place) > possible else None

    def sound(self, place: str) -> float:
        """P(lean) at a band of an engine with nothing wrong."""
        return self._sound[place]

    @cached_property
    def _sound(self) -> dict[str, float]:
        return sound_lean(self.beliefs)


def _moved_leaner(belief: Belief, circuit: str, steps: float, places: Sequence[str]) -> np.ndarray:
    bands = [belief.model.place(p) for p in places]
    return leaning(belief, *bands, moved=belief.network.lattice.steps(belief.model.step_x[circuit] * -steps))
