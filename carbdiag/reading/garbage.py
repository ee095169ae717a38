"""No search for garbage while many small objects are made that stay: each search looks through all of them again."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_search_for_garbage() -> Iterator[None]:
    """Hold off the search for garbage in cycles, which can take half the time of a long text."""
    searches = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searches:
            gc.enable()
