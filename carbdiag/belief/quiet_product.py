"""Matrix products that wake no threads: those spin on the other cores for longer than so small a sum takes."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

_Real = TypeVar("_Real", np.float32, np.float64)

#: Multiplications up to which the matrix library stays on one core.
_MOST = 1 << 18


def quiet_product(a: NDArray[_Real], b: NDArray[_Real]) -> NDArray[_Real]:
    """a @ b for (R, M) and (M, C), a few rows at a time.

    >>> quiet_product(np.eye(700, 700, dtype=np.float32), np.ones((700, 3), dtype=np.float32)).sum()
    np.float32(2100.0)
    """
    rows = max(_MOST // max(b.size, 1), 1)
    out = np.empty((len(a), b.shape[1]), dtype=a.dtype)
    for start in range(0, len(a), rows):
        np.matmul(a[start : start + rows], b, out=out[start : start + rows])
    return out
