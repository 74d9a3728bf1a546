"""Interpolation against the reference library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from estimator.fitting.pack.open_circuit import cubic_basis


@given(st.lists(st.floats(0.01, 0.99), max_size=12, unique=True), st.integers(0, 1000))
@settings(deadline=None, max_examples=60)
def test_basis_is_that_of_scipy(inner: list[float], seed: int) -> None:
    knots = np.concatenate([[0.0] * 4, np.sort(inner), [1.0] * 4])
    x = np.concatenate([[0.0, 1.0], np.random.default_rng(seed).random(30), inner])
    expected = BSpline.design_matrix(x, knots, 3).toarray()
    assert cubic_basis(x, knots) == pytest.approx(expected, abs=1e-12)
    assert cubic_basis(x, knots).sum(axis=1) == pytest.approx(1.0)
