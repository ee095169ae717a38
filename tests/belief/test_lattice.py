"""The mixture axis beside numpy's own quadrature."""

import numpy as np
import pytest

from carbdiag.belief.lattice import Lattice


def test_the_residual_is_integrated_at_the_points_of_gauss_and_hermite() -> None:
    nodes, weights = np.polynomial.hermite_e.hermegauss(5)
    fine = Lattice(1e-6, 0.4, 0.03, 0.10)
    offsets, counts = fine.quadrature(np.array([0.03, 0.05]))
    assert offsets * 1e-6 == pytest.approx(np.outer([0.03, 0.05], nodes), abs=1e-6)
    assert counts == pytest.approx(weights / weights.sum(), abs=1e-14)
