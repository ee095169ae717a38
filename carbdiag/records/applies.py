"""On which machines a record makes sense."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id
from carbdiag.frozen import Frozen


class Applies(Frozen):
    """On which machines a record makes sense; a key left out does not restrict.

    `circuits` (has at least one of them) and `without_circuits` (has none of them) are spelled out as `families` when
    the knowledge is loaded, so that a new family is covered without naming it anywhere.
    """

    families: tuple[Id, ...] = ()
    circuits: tuple[Id, ...] = ()
    without_circuits: tuple[Id, ...] = ()
    uses: tuple[Id, ...] = ()
    not_uses: tuple[Id, ...] = ()
    not_with: dict[Id, tuple[Id, ...]] = Field(
        default={},
        description="By use, circuits: not on a machine of that use whose carburetor has one of them. A saw, unlike a "
        "mower, has no battery.",
    )
    strokes: tuple[Literal[2, 4], ...] = ()
    cylinders: Literal["several"] | None = None
    carburetors: Literal["several"] | None = None
    cooling: tuple[Literal["air", "liquid"], ...] = ()
    fuel_feed: tuple[Literal["gravity", "vacuum_tap", "pump"], ...] = ()
    oiling: tuple[Literal["premix", "injection", "sump"], ...] = ()
