"""Jets told by their numbers: which was in, which was tried, and what it did; advice and plans tell nothing."""

from __future__ import annotations

import importlib.util
import random
import sys
from pathlib import Path
from types import ModuleType

import pytest

from carbdiag import Knowledge

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "jets_told.py"


def _load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("jets_told_benchmark", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


jets = _load()


@pytest.mark.parametrize("wording", jets.MENDED, ids=lambda w: w.text)
def test_a_jet_told_by_its_number_is_read_as_told(k: Knowledge, wording: object) -> None:
    chance = random.Random(7)
    sentences = [jets.told(wording, chance) for _ in range(6)]
    assert [m for s in sentences for m in jets.mistakes(k, s)] == []
