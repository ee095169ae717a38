"""The metering physics for a rider: the air, a machine moved to other air, a correction with its size, a sweep.

Everything is relative to a set-up that ran right, goes richer when in doubt, and says what it is worth.
"""

from carbdiag.tuning.air import air_state
from carbdiag.tuning.correcting import correct
from carbdiag.tuning.mixtures import mixture_span
from carbdiag.tuning.moving import resize
from carbdiag.tuning.sweeping import sweep

__all__ = ["air_state", "correct", "mixture_span", "resize", "sweep"]
