"""Interpolation against the reference library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline, PchipInterpolator

from estimator.fitting.pack.open_circuit import cubic_basis, monotone_cubic


@given(st.lists(st.floats(0.01, 0.99), max_size=12, unique=True), st.integers(0, 1000))
@settings(deadline=None, max_examples=60)
def test_basis_is_that_of_scipy(inner: list[float], seed: int) -> None:
    knots = np.concatenate([[0.0] * 4, np.sort(inner), [1.0] * 4])
    x = np.concatenate([[0.0, 1.0], np.random.default_rng(seed).random(30), inner])
    expected = BSpline.design_matrix(x, knots, 3).toarray()
    assert cubic_basis(x, knots) == pytest.approx(expected, abs=1e-12)
    assert cubic_basis(x, knots).sum(axis=1) == pytest.approx(1.0)


@given(st.lists(st.floats(-5, 5).map(lambda v: round(v, 3)), min_size=3, max_size=25), st.integers(0, 1000))
@settings(deadline=None, max_examples=60)
def test_monotone_cubic_is_that_of_scipy(values: list[float], seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.cumsum(0.05 + rng.random(len(values)))
    y = np.array(values)
    at = np.concatenate([x, rng.uniform(x[0], x[-1], 50)])
    assert monotone_cubic(x, y, at) == pytest.approx(np.asarray(PchipInterpolator(x, y)(at)), abs=1e-9)


def test_monotone_cubic_does_not_overshoot() -> None:
    x, y = np.arange(6.0), np.array([0.0, 0.0, 1.0, 1.0, 5.0, 5.0])
    at = np.linspace(0, 5, 501)
    found = monotone_cubic(x, y, at)
    assert np.all(np.diff(found) >= -1e-12)
    assert found.min() >= 0.0
    assert found.max() == pytest.approx(5.0)
