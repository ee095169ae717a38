"""The measures of a carburetor, by kind, with typical values: what the closed form needs and nothing more.

Kinds: `round_slide`, `flat_slide` (with or without accelerator pump: the pump only acts while the throttle
moves), `vacuum_slide`, `butterfly`, `diaphragm`. The opening axis is slide lift for the slides, **slide
lift and not grip** for the vacuum slide, plate travel for the last two.

Jet, needle-jet and air-jet bores of the typical slide are sourced sizes rounded (two-stroke, 36 mm class);
needle diameters, tapers, clip pitch, discharge coefficients, head are from memory; the numbers marked
`fitted` were chosen so that the mixture of the default is flat and its shares fall inside the 10-90 % table
of tests/metering/test_shares.py. A user's own bores and needle replace the typical ones; the fitted ones stay.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Final

from carbdiag.errors import OutOfRangeError
from carbdiag.metering.fuel_path import float_head_pa
from carbdiag.metering.limits import refuse, within

KINDS: Final = ("round_slide", "flat_slide", "vacuum_slide", "butterfly", "diaphragm")
SLIDES: Final = ("round_slide", "flat_slide", "vacuum_slide")
SCREWS: Final = ("air_screw", "fuel_screw")


@dataclass(frozen=True)
class Geometry:
    """Measures of one carburetor; lengths in mm, angles in degrees, shares and model constants unitless.

    Valid range: checked on building (needle thinner than its jet, groove on the needle, ...). Source: module
    text. `groove` counts from the blunt end: a higher number hangs the needle higher (richer).

    >>> Geometry(main_jet_mm=1.55).main_jet_mm
    1.55
    >>> Geometry(groove=0)
    Traceback (most recent call last):
    ...
    carbdiag.errors.OutOfRangeError: clip groove must be from 1 to 5, got 0
    """

    kind: str = "round_slide"
    bore_mm: float = 34.0
    throat_height_over_width: float = 1.0
    main_jet_mm: float = 1.60
    main_air_mm: float = 0.60
    needle_jet_mm: float = 2.70
    needle_straight_mm: float = 2.64
    taper_start: float = 0.129
    """Lift (share of bore) at which the first taper reaches the jet with the clip in the middle groove."""
    taper_deg: float = 0.96
    second_taper_start: float = 0.48
    second_taper_deg: float = 2.51
    clip_step_mm: float = 0.8
    grooves: int = 5
    groove: int = 3
    pilot_jet_mm: float = 0.45
    pilot_air_mm: float = 0.95
    pilot_outlet_mm: float = 0.42
    bypass_mm: float = 0.665
    bypass_span: float = 0.128
    """Opening over which the edge uncovers the bypass (fitted)."""
    cutaway_mm: float = 2.5
    float_head_mm: float = 15.0
    fuel_density_kg_m3: float = 740.0
    screw: str = "air_screw"
    screw_turns: float = 1.5
    screw_exponent: float = 0.38
    """How the screw's area grows with turns, area ~ turns^exponent (fitted: half a turn is about 11 % at
    idle)."""
    discharge: float = 0.72
    annulus_discharge: float = 0.72
    signal_gain: float = 1.74
    """Depression at the discharge over the mean pressure loss at the slide (fitted: nozzle shape and
    pulsation)."""
    turning_cutaway: float = 1.5
    turning_bore: float = 0.15
    wake: float = 0.53
    capacity: float = 10.0
    """What the wide-open bore would pass into a vacuum over what the engine can swallow."""
    suction_limit: float = 3.3
    """1 / greatest depression the engine makes (in atmospheres): 3.3 two-stroke crankcase, 1.6
    four-stroke."""
    idle_stop: float = 0.025
    """Opening at which the idle stop holds the slide or plate when the grip is closed."""
    slide_capacity: float = 1.062
    spring_start_pa: float = 350.0
    spring_rise: float = 1.05
    speed_fraction: float = 1.0
    """Vacuum slide: engine speed over rated speed."""
    needle_tip: float = 3.0
    """Lift (share of bore) at which the needle's tip leaves the jet, clip in the middle groove; 3: it never does."""
    enrichener_jet_mm: float = 0.0
    """Jet of an open enrichener; 0 when it is shut."""
    enrichener_air_mm: float = 5.0
    """Bore of its air and mixture passage round the throttle (from memory); counts only while it is open."""
    power_jet_mm: float = 0.0
    """0: there is none, or it is plugged."""
    power_jet_head_mm: float = 40.0
    """Height of its spout above the fuel (from memory)."""
    power_jet_from: float = 0.5
    """Opening at which the slide begins to bare the spout, which stands at the top of the inlet (from memory)."""
    pump_spring_pa: float = 350.0
    """Diaphragm kind: what the metering spring adds to the head (assumed)."""

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise refuse("kind", "unknown kind of carburetor", self.kind, KINDS)
        if self.screw not in SCREWS:
            raise refuse("screw", "a mixture screw is an air screw or a fuel screw", self.screw, SCREWS)
        for value, (field, low, high, unit) in zip(_NUMBERS(self), _LIMITS, strict=True):
            if not low <= value <= high:  # the quantity's name is only built when it is needed
                within(field.replace("_", " ").removesuffix(" mm"), value, low, high, unit)
        if self.has_needle and not self.needle_straight_mm < self.needle_jet_mm:
            raise OutOfRangeError("needle straight diameter", self.needle_straight_mm, 0.5, self.needle_jet_mm, "mm")
        within("clip groove", self.groove, 1, self.grooves, "")
        if self.has_needle and self.needle_mm(1.0) < 0.0:
            raise OutOfRangeError("needle taper", self.second_taper_deg, 0.0, 8.0, "degrees before the tip ends")

    def varied(self, changed: Mapping[str, float]) -> Geometry:
        """A copy with some measures changed, unchecked: a plausible variant of a checked geometry.

        Valid range: numbers near the checked ones; the needle is not changed. Source: `plausible.variants`.

        >>> Geometry().varied({"wake": 0.5}).wake
        0.5
        """
        copy = object.__new__(Geometry)
        copy.__dict__.update({f: v for f, v in self.__dict__.items() if f in _FIELDS}, **changed)
        return copy

    @cached_property
    def _key(self) -> int:
        return hash((KINDS.index(self.kind), SCREWS.index(self.screw), self.groove, *_NUMBERS(self)))

    def __hash__(self) -> int:
        return self._key

    @property
    def beside(self) -> float:
        """Area of the open enrichener's air passage over that of the bore (unitless); 0 when it is shut."""
        return (self.enrichener_air_mm / self.bore_mm) ** 2 if self.enrichener_jet_mm else 0.0

    @property
    def has_needle(self) -> bool:
        """Whether a needle hangs in the main circuit."""
        return self.kind in SLIDES

    @cached_property
    def head_pa(self) -> float:
        """Pressure (Pa) to lift fuel to the outlet, spring of a diaphragm kind included."""
        if self.kind == "diaphragm":
            return self.pump_spring_pa
        return float_head_pa(self.float_head_mm, self.fuel_density_kg_m3)

    @cached_property
    def screw_factor(self) -> float:
        """Screw area over that at 1.5 turns (unitless)."""
        return float((self.screw_turns / 1.5) ** self.screw_exponent)

    def needle_mm(self, lift: float) -> float:
        """Needle diameter (mm) in the jet at a `lift` (0 to 1 of the bore), clip groove counted.

        Valid range: 0 to 1. Source: straight part and two tapers.

        >>> Geometry().needle_mm(0.0), round(Geometry().needle_mm(1.0), 3)
        (2.64, 1.665)
        """
        x = lift + (self.groove - (self.grooves + 1) / 2) * self.clip_step_mm / self.bore_mm
        if x >= self.needle_tip:
            return 0.0
        d = self.needle_straight_mm
        if x > self.taper_start:
            end = min(x, self.second_taper_start)
            d -= 2.0 * math.tan(math.radians(self.taper_deg / 2.0)) * (end - self.taper_start) * self.bore_mm
        if x > self.second_taper_start:
            run = (x - self.second_taper_start) * self.bore_mm
            d -= 2.0 * math.tan(math.radians(self.second_taper_deg / 2.0)) * run
        return d


_FIELDS: Final = frozenset(Geometry.__dataclass_fields__)
_LIMITS: Final = (
    ("bore_mm", 8.0, 60.0, "mm"),
    ("throat_height_over_width", 1.0, 2.0, ""),
    ("main_jet_mm", 0.3, 4.0, "mm"),
    ("main_air_mm", 0.0, 3.0, "mm"),
    ("needle_jet_mm", 1.0, 6.0, "mm"),
    ("needle_straight_mm", 0.5, 6.0, "mm"),
    ("taper_start", 0.0, 0.6, "of the bore"),
    ("taper_deg", 0.0, 8.0, "degrees"),
    ("second_taper_start", 0.1, 1.2, "of the bore"),
    ("second_taper_deg", 0.0, 8.0, "degrees"),
    ("clip_step_mm", 0.2, 3.0, "mm"),
    ("grooves", 1, 9, ""),
    ("pilot_jet_mm", 0.1, 2.0, "mm"),
    ("pilot_air_mm", 0.0, 3.0, "mm"),
    ("pilot_outlet_mm", 0.05, 3.0, "mm"),
    ("bypass_mm", 0.0, 3.0, "mm"),
    ("bypass_span", 0.01, 0.6, "of the travel"),
    ("cutaway_mm", 0.0, 8.0, "mm"),
    ("float_head_mm", 2.0, 40.0, "mm"),
    ("fuel_density_kg_m3", 600.0, 1000.0, "kg/m3"),
    ("screw_turns", 0.1, 6.0, "turns"),
    ("screw_exponent", 0.1, 1.5, ""),
    ("discharge", 0.3, 1.0, ""),
    ("annulus_discharge", 0.3, 1.3, ""),
    ("signal_gain", 0.05, 30.0, ""),
    ("turning_cutaway", 0.0, 5.0, ""),
    ("turning_bore", 0.0, 1.0, ""),
    ("wake", 0.0, 3.0, ""),
    ("capacity", 1.0, 60.0, ""),
    ("suction_limit", 0.95, 6.0, ""),
    ("idle_stop", 0.001, 0.1, "of the travel"),
    ("slide_capacity", 0.3, 3.0, ""),
    ("spring_start_pa", 50.0, 3000.0, "Pa"),
    ("spring_rise", 0.0, 10.0, ""),
    ("speed_fraction", 0.1, 1.2, "of rated speed"),
    ("pump_spring_pa", 50.0, 1500.0, "Pa"),
    ("needle_tip", 0.1, 5.0, "of the bore"),
    ("enrichener_jet_mm", 0.0, 3.0, "mm"),
    ("enrichener_air_mm", 0.5, 12.0, "mm"),
    ("power_jet_mm", 0.0, 2.0, "mm"),
    ("power_jet_head_mm", 5.0, 60.0, "mm"),
    ("power_jet_from", 0.0, 0.9, "of the travel"),
)

_NUMBERS: Final = attrgetter(*(name for name, *_ in _LIMITS))

# fmt: off
TYPICAL: Final[dict[str, Geometry]] = {
    "round_slide": Geometry(),
    "flat_slide": Geometry(kind="flat_slide"),
    "vacuum_slide": Geometry(
        kind="vacuum_slide", main_jet_mm=1.30, main_air_mm=0.30, needle_jet_mm=2.60, needle_straight_mm=2.56,
        taper_start=0.20, taper_deg=0.77, second_taper_start=0.59, second_taper_deg=3.4, pilot_jet_mm=0.28,
        pilot_air_mm=1.10, pilot_outlet_mm=0.33, bypass_mm=1.10, bypass_span=0.30, screw="fuel_screw",
        signal_gain=1.5, capacity=15.0, suction_limit=1.6, idle_stop=0.02,
    ),
    "butterfly": Geometry(
        kind="butterfly", main_jet_mm=1.64, main_air_mm=0.0, pilot_jet_mm=0.30, pilot_air_mm=0.20,
        pilot_outlet_mm=0.81, bypass_mm=1.19, bypass_span=0.118, screw="fuel_screw", signal_gain=3.58,
        capacity=14.7, suction_limit=1.6, idle_stop=0.004,
    ),
    "diaphragm": Geometry(
        kind="diaphragm", bore_mm=16.0, main_jet_mm=2.0, main_air_mm=0.0, pilot_jet_mm=0.95,
        pilot_air_mm=0.20, pilot_outlet_mm=0.30, bypass_mm=0.71, bypass_span=0.209, screw="fuel_screw",
        signal_gain=3.17, capacity=7.54, idle_stop=0.004,
    ),
}
# fmt: on


#: The dimensions that a family may state.
DIMENSIONS: Final = tuple(name for name, *_ in _LIMITS)


def typical(kind: str) -> Geometry:
    """The typical Geometry of a kind (id, unitless).

    Valid range: round_slide, flat_slide, vacuum_slide, butterfly, diaphragm. Source: module text.

    >>> typical("butterfly").has_needle
    False
    """
    if kind not in TYPICAL:
        raise refuse("kind", "unknown kind of carburetor", kind, KINDS)
    return TYPICAL[kind]


def with_parts(geometry: Geometry, **parts: float) -> Geometry:
    """`geometry` with some measures replaced (field names of Geometry, mm and their own units).

    Valid range: as each field. Source: the owner's parts.

    >>> with_parts(Geometry(), main_jet_mm=1.65, groove=4).groove
    4
    """
    return replace(geometry, **parts)  # type: ignore[arg-type]
