"""The benchmark of reading, loaded from its script, for tests that hold what it measures."""

from __future__ import annotations

import importlib.util
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "reading.py"
_SPEC = importlib.util.spec_from_file_location("reading_benchmark", SCRIPT)
assert _SPEC is not None
assert _SPEC.loader is not None
benchmark = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(benchmark)
