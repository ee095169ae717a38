"""The words of the trade that code depends on. All other words (causes, signs, checks) are knowledge."""

from __future__ import annotations

from enum import StrEnum
from typing import Final, Literal


class Level(StrEnum):
    """Mixture deviation in words, from rich to lean."""

    VERY_RICH = "very_rich"
    RICH = "rich"
    RIGHT = "right"
    LEAN = "lean"
    VERY_LEAN = "very_lean"


LEVELS: Final = tuple(Level)


class Direction(StrEnum):
    """Which way a mixture is off."""

    RICH = "rich"
    LEAN = "lean"


class Change(StrEnum):
    """Which way a setting is moved."""

    RICHER = "richer"
    LEANER = "leaner"


class Status(StrEnum):
    """What was said of a finding. Only `present` and `denied` are evidence."""

    PRESENT = "present"
    DENIED = "denied"
    UNKNOWN = "unknown"


class Certainty(StrEnum):
    """How sure the observer is."""

    SURE = "sure"
    PROBABLY = "probably"
    MAYBE = "maybe"


class Effect(StrEnum):
    """What a change already made did.

    `came_back`: cured for a while. `overshot`: better, then the opposite fault appeared (settings only).
    `moved`: the fault went along with a part swapped between cylinders. `not_told`: repaired, and
    nobody told yet what that did.
    """

    CURED = "cured"
    CAME_BACK = "came_back"
    BETTER = "better"
    NO_CHANGE = "no_change"
    WORSE = "worse"
    OVERSHOT = "overshot"
    MOVED = "moved"
    NOT_TOLD = "not_told"


#: What a change of setting can do; a repair cannot overshoot, but may not have been felt yet, and only a swapped
#: part takes the fault along.
SETTING_EFFECTS: Final = (
    Effect.CURED, Effect.CAME_BACK, Effect.BETTER, Effect.NO_CHANGE, Effect.WORSE, Effect.OVERSHOT
)  # fmt: skip
REPAIR_EFFECTS: Final = (*SETTING_EFFECTS[:-1], Effect.NOT_TOLD)


class RepairHow(StrEnum):
    """How a repair was done: a new part is surer than a used one, and than cleaning the old one."""

    NEW_PART = "new_part"
    USED_PART = "used_part"
    CLEANED = "cleaned"


class ProbabilityWord(StrEnum):
    """How often something shows; scales.yaml holds the numbers."""

    ALMOST_ALWAYS = "almost_always"
    USUALLY = "usually"
    OFTEN = "often"
    SOMETIMES = "sometimes"
    SELDOM = "seldom"
    RARELY = "rarely"
    ALMOST_NEVER = "almost_never"


class PriorWord(StrEnum):
    """How common a cause is among all complaints; scales.yaml holds the numbers."""

    VERY_COMMON = "very_common"
    COMMON = "common"
    UNCOMMON = "uncommon"
    RARE = "rare"
    VERY_RARE = "very_rare"


class ContextWord(StrEnum):
    """What a circumstance does to the odds of a cause; scales.yaml holds the numbers."""

    ALL_BUT_DECISIVE = "all_but_decisive"
    FAR_MORE_LIKELY = "far_more_likely"
    MUCH_MORE_LIKELY = "much_more_likely"
    MORE_LIKELY = "more_likely"
    LESS_LIKELY = "less_likely"
    MUCH_LESS_LIKELY = "much_less_likely"
    FAR_LESS_LIKELY = "far_less_likely"


class ShiftWord(StrEnum):
    """How far a cause moves the mixture past the metering; scales.yaml holds the numbers."""

    SLIGHTLY_LEAN = "slightly_lean"
    LEAN = "lean"
    CLEARLY_LEAN = "clearly_lean"
    STRONGLY_LEAN = "strongly_lean"
    EXTREMELY_LEAN = "extremely_lean"
    SLIGHTLY_RICH = "slightly_rich"
    RICH = "rich"
    CLEARLY_RICH = "clearly_rich"
    STRONGLY_RICH = "strongly_rich"
    EXTREMELY_RICH = "extremely_rich"


class SizeWord(StrEnum):
    """How severe a shift is; scales.yaml holds the numbers."""

    MILD = "mild"
    MODERATE = "moderate"
    SEVERE = "severe"


UNKNOWN_FAMILY: Final = "unknown"

#: Fuels whose mixture a tuning command can work out, and parts that it can size.
FuelName = Literal["petrol", "e5", "e10", "e85", "ethanol", "methanol"]
PartName = Literal["main_jet", "pilot", "needle", "needle_diameter", "cutaway", "float_level", "mixture_screw"]
