"""Cubic splines of our own, since scipy.interpolate takes longer to load than a season takes to fit."""

from __future__ import annotations

import numpy as np

from estimator.arrays import Array

CUBIC = 3  # degree


def spline_basis(x: Array, knots: Array, degree: int = CUBIC) -> Array:
    """The B-splines over `knots` at `x` (n,), one a column (n, m); beyond the knots the end pieces go on.

    Source: de Boor 2001, A Practical Guide to Splines, ch. X: the recurrence for all splines that are not
    zero at a place.

    >>> spline_basis(np.array([0.0, 0.5, 1.0]), np.array([0.0, 0, 0, 0, 1, 1, 1, 1])).round(3).tolist()
    [[1.0, 0.0, 0.0, 0.0], [0.125, 0.375, 0.375, 0.125], [0.0, 0.0, 0.0, 1.0]]
    """
    x = np.asarray(x, float)
    count = len(knots) - degree - 1
    piece = np.clip(np.searchsorted(knots, x, side="right") - 1, degree, count - 1)
    local = np.zeros((degree + 1, len(x)))
    local[0] = 1.0
    for order in range(1, degree + 1):
        carried = np.zeros(len(x))
        for k in range(order):
            after, before = knots[piece + k + 1] - x, x - knots[piece + k + 1 - order]
            share = local[k] / (after + before)
            local[k] = carried + after * share
            carried = before * share
        local[order] = carried
    basis = np.zeros((len(x), count))
    for k in range(degree + 1):
        basis[np.arange(len(x)), piece - degree + k] = local[k]
    return basis


def spline_slope(x: Array, knots: Array, spline: Array) -> Array:
    """The slope at `x` (n,) of a cubic spline with these coefficients (m,): a spline of one degree less.

    >>> knots = np.array([0.0, 0, 0, 0, 1, 1, 1, 1])
    >>> spline_slope(np.array([0.25]), knots, np.array([0.0, 1 / 3, 2 / 3, 1])).round(6).tolist()  # v = x
    [1.0]
    """
    apart = knots[CUBIC + 1 : CUBIC + len(spline)] - knots[1 : len(spline)]
    return np.asarray(spline_basis(x, knots[1:-1], CUBIC - 1) @ (CUBIC * np.diff(spline) / apart))
