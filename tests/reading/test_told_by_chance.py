"""Sentences put together by chance: what is there is not read as gone, nor a change as another; first wordings."""

from __future__ import annotations

import importlib.util
import random
import sys
from pathlib import Path
from types import ModuleType

import pytest

from carbdiag import Knowledge

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"


def _load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"{name}_benchmark", BENCHMARKS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


polarity, changes = _load("polarity"), _load("changes_told")


@pytest.mark.parametrize("there", [True, False])
@pytest.mark.parametrize("part", range(4))
def test_a_trouble_is_never_read_the_wrong_way_round(k: Knowledge, there: bool, part: int) -> None:
    chance = random.Random(7)
    wordings = (polarity.THERE if there else polarity.NOT_THERE)[part::4]
    sentences = [polarity.told(wording, there, chance, k) for wording in wordings for _ in range(4)]
    wrong = [(s.text, m) for s in sentences if (m := polarity.mistake(k, s)).startswith("wrong")]
    assert wrong == []


@pytest.mark.parametrize("wording", changes.MENDED, ids=lambda w: w.text)
def test_a_change_is_never_read_as_another(k: Knowledge, wording: object) -> None:
    chance = random.Random(7)
    sentences = [changes.told(wording, chance) for _ in range(4)]
    wrong = [(s.text, m) for s in sentences for m in changes.mistakes(k, s) if m.startswith("wrong")]
    assert wrong == []


def test_a_wrong_way_would_be_seen(k: Knowledge) -> None:
    sign = polarity.SIGNS[0]
    assert polarity.mistake(k, polarity.Told("It bogs at half throttle.", sign, False)) == "wrong: there"
    assert polarity.mistake(k, polarity.Told("It doesn't bog at half throttle.", sign, True)) == "wrong: denied"
    said = changes.Told("Raised the needle one notch, better.", (("needle", "leaner", None, ("better",)),))
    assert changes.mistakes(k, said)[0].startswith("wrong")
