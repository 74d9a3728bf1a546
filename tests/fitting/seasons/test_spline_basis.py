"""Our splines compared with scipy.interpolate.BSpline, inside the knots, at their ends and beyond."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline

from estimator.fitting.seasons.spline_basis import spline_basis, spline_slope

KNOTS = np.concatenate([[0.0] * 4, [0.7, 1.1, 2.9, 3.0], [4.0] * 4])
PLACES = np.concatenate([np.linspace(0.0, 4.0, 81), [0.7, 1.1, 2.9, 3.0]])


def test_basis_is_that_of_the_reference_library() -> None:
    theirs = BSpline.design_matrix(PLACES, KNOTS, 3).toarray()
    assert spline_basis(PLACES, KNOTS) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize("x", [np.linspace(0, 4, 33), np.array([-0.5, 4.0, 4.6, 6.0])])
def test_curve_and_slope_are_those_of_the_reference_library_beyond_the_knots_too(x: np.ndarray) -> None:
    factors = np.random.default_rng(3).normal(size=len(KNOTS) - 4)
    curve = BSpline(KNOTS, factors, 3)
    assert spline_basis(x, KNOTS) @ factors == pytest.approx(curve(x), abs=1e-9)
    assert spline_slope(x, KNOTS, factors) == pytest.approx(curve.derivative()(x), abs=1e-9)
