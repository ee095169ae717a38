"""What all tests share: the shipped knowledge, and how property tests draw."""

import pytest
from hypothesis import settings

from carbdiag.knowledge import Knowledge, shipped_knowledge

#: Every property test draws the same examples on every machine, and none is judged by the clock.
settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.load_profile("steady")


@pytest.fixture(scope="session")
def k() -> Knowledge:
    """The shipped knowledge; it is never changed, so what is worked out from it is worked out once."""
    return shipped_knowledge()
