"""One service for all tests of this folder, in this process and on a port."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from carbdiag_api.app import create_app

from carbdiag import Knowledge
from tests.api.service import InProcess, serving
from tests.toy_scales import toy_scales


@pytest.fixture(scope="session")
def service(k: Knowledge) -> Iterator[InProcess]:
    running = InProcess(create_app(k))
    yield running
    running.close()


@pytest.fixture(scope="session")
def port(k: Knowledge) -> Iterator[int]:
    with serving(create_app(k)) as number:
        yield number


@pytest.fixture
def toy_folder(tmp_path: Path) -> Path:
    """A small knowledge of its own, with the shipped scales."""
    root = Path(__file__).parents[2]
    shutil.copytree(root / "tests" / "toy", tmp_path / "toy")
    (tmp_path / "toy" / "scales.yaml").write_text(toy_scales(), encoding="utf-8")
    return tmp_path / "toy"
