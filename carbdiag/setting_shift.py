"""What a change of setting does to the mixture."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.case_schema import Machine, Trial
from carbdiag.model import Model, area_shift
from carbdiag.terms import Change
from carbdiag.trials import direction_of, steps_moved

_JETS = ("main_jet", "pilot")


def shift_by_trial(model: Model, machine: Machine, trial: Trial) -> Floats | None:
    """Mixture shift at every place by a change of setting, shape (P,); None where the machine has no such part.

    A jet of stated sizes shifts by the change of its area, everything else by its practical steps.
    """
    assert trial.change is not None
    if trial.change not in model.step_x:
        return None
    circuit = model.knowledge.circuits[trial.change]
    ratio = _area_ratio(trial, machine)
    if ratio is not None:
        return area_shift(model, trial.change, ratio - 1)
    sign = 1 if direction_of(circuit, trial) is Change.RICHER else -1
    return np.asarray(model.step_x[trial.change] * steps_moved(circuit, trial) * sign)


def _area_ratio(trial: Trial, machine: Machine) -> float | None:
    """Area of the new jet over the old one's, where both sizes are known."""
    if trial.change not in _JETS or not trial.from_size or not trial.to_size:
        return None
    parts = machine.parts
    fitted = None if parts is None else parts.main_jet if trial.change == "main_jet" else parts.pilot_jet
    numbering = trial.numbering or (fitted.numbering if fitted else None)
    # of a numbering nobody told, the smaller of the two changes is taken
    return float((trial.to_size / trial.from_size) ** (2 if numbering == "bore" else 1))
