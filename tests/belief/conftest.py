"""What the tests of belief share."""

from __future__ import annotations

import dataclasses
import re
import shutil
from pathlib import Path

import pytest

from carbdiag import Knowledge
from tests.toy_scales import toy_scales

TOY = Path(__file__).parent.parent / "toy"


@pytest.fixture(scope="session")
def toy_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The toy records with the shipped scales, as a folder to load or to copy."""
    folder = tmp_path_factory.mktemp("knowledge") / "toy"
    shutil.copytree(TOY, folder)
    # the toy world is enumerated completely; what it costs to look at fewer pairs is test_screening's matter
    scales, replaced = re.subn(r"(?m)^  not_headed: [0-9.]+", "  not_headed: 0", toy_scales())
    assert replaced == 1
    (folder / "scales.yaml").write_text(scales, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def toy(toy_folder: Path) -> Knowledge:
    """A small invented world in which rich and lean are mirror images."""
    return Knowledge.load(toy_folder)


@pytest.fixture(scope="session")
def complete(k: Knowledge) -> Knowledge:
    """The shipped knowledge, every pair of severities looked at."""
    return looking_at_all(k)


def looking_at_all(k: Knowledge) -> Knowledge:
    """The same knowledge with every pair of severities looked at."""
    pairs = k.scales.pairs.model_copy(update={"not_headed": 0.0})
    return dataclasses.replace(k, scales=k.scales.model_copy(update={"pairs": pairs}), memo={})
