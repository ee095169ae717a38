"""Free text to findings: what a post says of the machine, each statement with the words it came from.

Reading alone loads nothing of diagnosis: a person waits for it.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from carbdiag.errors import ReadingMissingError
from carbdiag.reading.casing import beside, case_of
from carbdiag.reading.reader import read_text

if TYPE_CHECKING:
    from carbdiag.reading.diagnosing import diagnose_posted

__all__ = ["ReadingMissingError", "beside", "case_of", "diagnose_posted", "read_text"]


def __getattr__(name: str) -> object:
    if name != "diagnose_posted":
        raise AttributeError(f"module 'carbdiag.reading' has no attribute {name!r}")
    return import_module("carbdiag.reading.diagnosing").diagnose_posted
