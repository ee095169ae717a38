"""What the tests of belief share."""

from __future__ import annotations

from pathlib import Path

import pytest

from carbdiag import Knowledge

TOY = Path(__file__).parent.parent / "toy"


@pytest.fixture(scope="session")
def toy() -> Knowledge:
    """A small invented world in which rich and lean are mirror images."""
    return Knowledge.load(TOY)


@pytest.fixture(scope="session")
def shipped() -> Knowledge:
    """The knowledge that carbdiag ships."""
    return Knowledge.load()
