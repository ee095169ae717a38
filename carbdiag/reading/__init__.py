"""Free text to findings: what a post says of the machine, each statement with the words it came from."""

from __future__ import annotations

from carbdiag.errors import ReadingMissingError
from carbdiag.reading.casing import beside, case_of
from carbdiag.reading.diagnosing import diagnose_posted
from carbdiag.reading.reader import read_text

__all__ = ["ReadingMissingError", "beside", "case_of", "diagnose_posted", "read_text"]
