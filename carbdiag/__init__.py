"""From what a carbureted engine does at each throttle opening to causes, the next check, and a correction."""

from carbdiag.band_view import band_table
from carbdiag.diagnosis import diagnose
from carbdiag.errors import CarbdiagError, CaseError, KnowledgeError, OutOfRangeError
from carbdiag.knowledge import Knowledge, load_case
from carbdiag.schema import BandTable, Case, Diagnosis

__all__ = [
    "BandTable",
    "CarbdiagError",
    "Case",
    "CaseError",
    "Diagnosis",
    "Knowledge",
    "KnowledgeError",
    "OutOfRangeError",
    "band_table",
    "diagnose",
    "load_case",
]
__version__ = "0.1.0"
