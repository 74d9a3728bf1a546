"""Two small pieces of interpolation: the library that has them takes longer to load than most answers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def cubic_basis(x: Array, knots: Array) -> Array:
    """(n, k - 4) cubic B-splines at x (n,) over k rising knots, the first and last four alike.

    Cox-de Boor recurrence: de Boor 1972, J. Approximation Theory 6, 50, doi 10.1016/0021-9045(72)90080-9.

    >>> cubic_basis(np.array([0.0, 0.5, 1.0]), np.array([0.0] * 4 + [1.0] * 4)).round(3).tolist()
    [[1.0, 0.0, 0.0, 0.0], [0.125, 0.375, 0.375, 0.125], [0.0, 0.0, 0.0, 1.0]]
    """
    x, knots = np.asarray(x, float), np.asarray(knots, float)
    last = int(np.flatnonzero(np.diff(knots) > 0)[-1])
    place = np.clip(np.searchsorted(knots, x, side="right") - 1, 3, last)
    basis = (np.arange(len(knots) - 1) == place[:, None]).astype(float)
    for degree in (1, 2, 3):
        rising = knots[degree:] - knots[:-degree]
        weight = (x[:, None] - knots[:-degree]) / np.where(rising > 0, rising, np.inf)
        basis = weight[:, :-1] * basis[:, :-1] + (1 - weight[:, 1:]) * np.where(
            rising[1:] > 0, basis[:, 1:], 0.0
        )
    return np.asarray(basis)


def monotone_cubic(x: Array, y: Array, at: Array) -> Array:
    """Values at `at` (n,) of the cubic through points x, y (m,) that never overshoots them.

    Slopes after Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300, doi 10.1137/0905021; at the ends
    the non-centred three-point formula of Moler, Numerical Computing with MATLAB (2004), section 3.6.

    >>> x, y = np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.0])
    >>> monotone_cubic(x, y, np.array([0.5, 1.5])).round(3).tolist()
    [0.688, 1.0]
    """
    step, rise = np.diff(x), np.diff(y)
    slope = rise / step
    before, after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    alike = slope[:-1] * slope[1:] > 0
    left, right = np.where(alike, slope[:-1], 1.0), np.where(alike, slope[1:], 1.0)
    inner = np.where(alike, (before + after) / (before / left + after / right), 0.0)
    first = _end_slope(step[0], step[1], slope[0], slope[1])
    last = _end_slope(step[-1], step[-2], slope[-1], slope[-2])
    slopes = np.concatenate([[first], inner, [last]])
    place = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(step) - 1)
    h = step[place]
    t = (at - x[place]) / h
    return np.asarray(
        y[place] * (1 + 2 * t) * (1 - t) ** 2
        + slopes[place] * h * t * (1 - t) ** 2
        + y[place + 1] * t**2 * (3 - 2 * t)
        + slopes[place + 1] * h * t**2 * (t - 1)
    )


def _end_slope(step: float, next_step: float, slope: float, next_slope: float) -> float:
    found = ((2 * step + next_step) * slope - step * next_slope) / (step + next_step)
    if found * slope <= 0:
        return 0.0
    if slope * next_slope <= 0 and abs(found) > 3 * abs(slope):
        return 3 * slope
    return float(found)
