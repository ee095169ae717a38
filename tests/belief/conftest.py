"""What the tests of belief share."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from carbdiag import Knowledge
from carbdiag.knowledge import default_folder

TOY = Path(__file__).parent.parent / "toy"


@pytest.fixture(scope="session")
def toy_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The toy records with the shipped scales, as a folder to load or to copy."""
    folder = tmp_path_factory.mktemp("knowledge") / "toy"
    shutil.copytree(TOY, folder)
    shutil.copy(default_folder() / "scales.yaml", folder / "scales.yaml")
    return folder


@pytest.fixture(scope="session")
def toy(toy_folder: Path) -> Knowledge:
    """A small invented world in which rich and lean are mirror images."""
    return Knowledge.load(toy_folder)


@pytest.fixture(scope="session")
def shipped() -> Knowledge:
    """The knowledge that carbdiag ships."""
    return Knowledge.load()
