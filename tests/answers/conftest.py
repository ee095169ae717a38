"""What the tests of answers share."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from carbdiag.knowledge import default_folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shipped languages, to change or to break."""
    shutil.copytree(default_folder() / "languages", tmp_path / "languages")
    return tmp_path
