"""The benchmark of reported cases still runs: what it prints is quoted in docs/measured.md."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from carbdiag import Knowledge

BENCHMARKS = Path(__file__).parent.parent / "benchmarks"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"benchmark_{name}", BENCHMARKS / f"{name}.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


reported_cases = load("reported_cases")


@pytest.mark.parametrize("method", sorted(reported_cases.METHODS))
def test_each_method_ranks_the_groups_of_a_reported_case(method: str) -> None:
    k = Knowledge.load()
    case = reported_cases.load_reported()[0][0]
    ranking = reported_cases.METHODS[method](k, case.case)
    groups = {key: p for key, p in ranking.items() if ":" not in key}
    assert set(groups) <= set(k.groups)
    assert all(0 <= p <= 1 + 1e-9 for p in groups.values())
    assert reported_cases.rank_of(case, ranking)[0] >= 1
