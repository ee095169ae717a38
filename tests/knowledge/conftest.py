"""Copies of knowledge to break in one place at a time."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from carbdiag.knowledge import default_folder
from tests.knowledge.copies import Copy
from tests.toy_scales import toy_scales

_TOY = Path(__file__).parent.parent / "toy"


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    """The toy knowledge of the tests, with the shipped scales."""
    folder = tmp_path / "knowledge"
    shutil.copytree(_TOY, folder)
    (folder / "scales.yaml").write_text(toy_scales(), encoding="utf-8")
    return Copy(folder)


@pytest.fixture
def shipped(tmp_path: Path) -> Copy:
    """A copy of the knowledge that carbdiag ships."""
    folder = tmp_path / "shipped"
    shutil.copytree(default_folder(), folder)
    return Copy(folder)
