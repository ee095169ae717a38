"""Plain options of the tuning commands, and the request they stand for.

Each option is one field of a request; a refusal of that field is told under the option's name.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any, Final, get_args

from carbdiag.errors import Problem
from carbdiag.terms import LEVELS, FuelName, PartName

Path = tuple[str, ...]
Json = dict[str, Any]


@dataclass(frozen=True)
class Option:
    """An option, the field it fills, and what it takes; `jet` marks a number that needs the numbering."""

    name: str
    path: Path
    help: str
    take: Callable[[str], object] | None = None
    choices: tuple[object, ...] = ()
    jet: bool = False

    @property
    def destination(self) -> str:
        """The attribute that the parser keeps it in."""
        return "option_" + self.name.replace("-", "_")


def number(text: str) -> float:
    """A finite number from the command line."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"must be a number, got {text[:40]!r}")
    return value


def whole(text: str) -> int:
    """A whole number from the command line."""
    if not (text.isascii() and text.lstrip("-").isdecimal() and len(text) <= 6):
        raise argparse.ArgumentTypeError(f"must be a whole number, got {text[:40]!r}")
    return int(text)


def air(prefix: str, path: Path) -> list[Option]:
    """The options of one air."""
    return [
        Option(f"{prefix}temperature-c", (*path, "temperature_c"), "air temperature, C", number),
        Option(f"{prefix}elevation-m", (*path, "elevation_m"), "height of the place, m", number),
        Option(f"{prefix}qnh-hpa", (*path, "qnh_hpa"), "forecast pressure (reduced to sea level), hPa", number),
        Option(f"{prefix}station-hpa", (*path, "station_hpa"), "barometer read at the place, hPa", number),
        Option(f"{prefix}humidity-percent", (*path, "humidity_percent"), "relative humidity, %%", number),
        Option(f"{prefix}dew-point-c", (*path, "dew_point_c"), "dew point, C", number),
    ]


def parts(prefix: str, path: Path, whole_machine: bool = True) -> list[Option]:
    """The options of the fitted parts, or of those that differ."""
    found = [
        Option(f"{prefix}main-jet", (*path, "main_jet"), "main jet number", number, jet=True),
        Option(f"{prefix}pilot-jet", (*path, "pilot_jet"), "pilot jet number", number, jet=True),
        Option(f"{prefix}clip-groove", (*path, "clip_groove"), "groove of the clip, from the top", whole),
        Option(
            f"{prefix}needle-straight-mm", (*path, "needle_straight_mm"), "diameter of the needle's straight part, mm",
            number,
        ),
        Option(f"{prefix}needle-jet-mm", (*path, "needle_jet_mm"), "bore of the needle jet, mm", number),
        Option(f"{prefix}clip-pitch-mm", (*path, "clip_pitch_mm"), "from one groove to the next, mm", number),
        Option(f"{prefix}first-groove-mm", (*path, "first_groove_mm"), "blunt end to the first groove, mm", number),
        Option(f"{prefix}needle-taper-mm", (*path, "needle_taper_mm"), "blunt end to the taper, mm", number),
        Option(f"{prefix}needle-length-mm", (*path, "needle_length_mm"), "length of the needle, mm", number),
        Option(f"{prefix}power-jet-mm", (*path, "power_jet_mm"), "power jet, mm; 0: plugged", number),
        Option(f"{prefix}leak-jet-mm", (*path, "leak_jet_mm"), "leak jet of the pump, mm; 0: plugged", number),
        Option(f"{prefix}pump-nozzle-mm", (*path, "pump_nozzle_mm"), "nozzle of the pump, mm", number),
        Option(f"{prefix}cutaway-mm", (*path, "cutaway_mm"), "cutaway of the slide, mm", number),
        Option(f"{prefix}screw-turns", (*path, "screw_turns"), "mixture screw, turns out", number),
    ]  # fmt: skip
    if whole_machine:
        found += [
            Option(f"{prefix}grooves", (*path, "grooves"), "grooves that the needle has", whole),
            Option(f"{prefix}bore-mm", (*path, "bore_mm"), "bore of the carburetor, mm", number),
        ]
    return found


def fuel(prefix: str, path: Path) -> list[Option]:
    """The options of the fuel."""
    return [
        Option(f"{prefix}fuel", (*path, "fuel"), "fuel", choices=get_args(FuelName)),
        Option(f"{prefix}premix-ratio", (*path, "premix_ratio"), "parts of fuel to one of oil", number),
    ]


NUMBERING: Final = Option(
    "jet-numbering", (), "how the jets are numbered: by bore (1/100 mm) or by flow (cc/min)", choices=("bore", "flow")
)
MACHINE: Final = (
    Option("family", ("machine", "family"), "kind of carburetor; see: carbdiag list families", str),
    Option("strokes", ("machine", "strokes"), "two-stroke or four-stroke", whole, (2, 4)),
    Option("mixture-screw", ("machine", "mixture_screw"), "kind of screw", choices=("air_screw", "fuel_screw")),
    NUMBERING,
    *parts("", ("machine", "parts")),
)

#: Command -> its options in titled groups.
GROUPS: Final[dict[str, dict[str, tuple[Option, ...]]]] = {
    "air": {"the air": tuple(air("", ()))},
    "resize": {
        "the machine": MACHINE,
        "the air it ran right in": tuple(air("set-", ("set",))),
        "the air now": tuple(air("", ("now",))),
    },
    "correct": {
        "the machine": MACHINE,
        "what is off": (
            Option("at", ("at",), "throttle opening: idle, eighth, quarter, half, three_quarter, full", str),
            Option("mixture", ("mixture",), "how far off, in words", choices=tuple(level.value for level in LEVELS)),
            Option("lambda", ("lambda",), "or the lambda measured there", number),
            Option("protocol", ("protocol",), "how lambda was measured", choices=("steady_load", "no_load")),
            Option("part", ("part",), "the part to change (default: what suits)", choices=get_args(PartName)),
            Option(
                "p-lean-three-quarter", ("p_lean_three_quarter",), "chance (0 to 1) that three-quarter is lean", number
            ),
            Option("p-lean-full", ("p_lean_full",), "chance (0 to 1) that full throttle is lean", number),
        ),
    },
    "sweep": {
        "the machine as it ran right": MACHINE,
        "the air and fuel it ran right in": (*air("", ("working", "air")), *fuel("", ("working",))),
        "what is different now": (
            *parts("before-", ("before", "parts"), whole_machine=False),
            *air("before-", ("before", "air")),
            *fuel("before-", ("before",)),
        ),
        "what is planned": (
            *parts("after-", ("after", "parts"), whole_machine=False),
            *air("after-", ("after", "air")),
            *fuel("after-", ("after",)),
        ),
        "the table": (Option("points", ("points",), "openings from closed to full (41)", whole),),
    },
}


def options(command: str) -> Iterable[Option]:
    """All options of a command."""
    return (o for group in GROUPS[command].values() for o in group)


def add_options(parser: argparse.ArgumentParser, command: str) -> None:
    """Give a parser the options of a command."""
    for title, group in GROUPS[command].items():
        section = parser.add_argument_group(title)
        for o in group:
            more: Json = {"choices": o.choices} if o.choices else {"metavar": "TEXT" if o.take is str else "N"}
            section.add_argument(f"--{o.name}", dest=o.destination, type=o.take or str, help=o.help, **more)


def request_of(chosen: argparse.Namespace, command: str) -> Json:
    """The request that the options stand for; empty when none was given.

    Raises:
        KeyError: jets were given without their numbering; its argument is the option.
    """
    out: Json = {}
    given = {o: v for o in options(command) if (v := getattr(chosen, o.destination)) is not None}
    numbering = given.pop(NUMBERING, None)
    for o, value in given.items():
        if o.jet and numbering is None:
            raise KeyError(o.name)
        _put(out, o.path, {"number": value, "numbering": numbering} if o.jet else value)
    return out


def _put(out: Json, path: Path, value: object) -> None:
    for step in path[:-1]:
        out = out.setdefault(step, {})
    out[path[-1]] = value


def under_option_names(problems: Iterable[Problem], command: str) -> list[Problem]:
    """Problems with the option in place of the field of the request."""
    names = {".".join(o.path): f"--{o.name}" for o in options(command) if o.path}
    names |= {f"{path}.{more}": name for path, name in names.items() for more in ("number", "numbering")}
    return [replace(p, field=names.get(p.field, p.field)) for p in problems]
