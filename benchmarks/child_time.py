"""How long other processes took, as the two benchmarks of fresh processes measure it."""

from __future__ import annotations

import resource


def of_children() -> float:
    """Seconds of processor time that all finished children of this process took."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
