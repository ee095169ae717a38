"""What the command line lends to commands that have a module of their own, loaded when they are asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Tools:
    """What the command line lends to its commands."""

    read: Callable[[str], str]
    parse: Callable[[str], object]
    valid: Callable[[object, type[Any]], Any]
    write_json: Callable[[object], None]
    tell: Callable[[str], None]
    refuse: Callable[[str], Exception]
