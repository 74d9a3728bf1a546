"""Open-circuit voltage of one cell against charge: the published families, and tables over charge."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Array
from estimator.fitting.pack.curve_families import CHARGE, FAMILIES

GRID_LOW, GRID_HIGH, GRID_STEP = -0.30, 1.06, 0.005
GRID: Array = np.round(np.arange(GRID_LOW, GRID_HIGH + GRID_STEP / 2, GRID_STEP), 6)
"""Charges at which every curve of the pack model is tabulated, from below empty to above full."""


N_MODES = 9
"""Principal curves of a family."""
ACID_RUNS_OUT = 8.0
"""Slope [V per unit charge] of a lead-acid cell below empty: it is rated down to 1.75 V at the 20 hour rate
and holds little more."""


@cache
def _family(chemistry: str) -> Array:
    """(1 + modes, charges) the mean curve and the principal curves [V] of one family at `CHARGE`."""
    rows = np.array(FAMILIES[chemistry].split(), float).reshape(-1, len(CHARGE)) / 1e4
    return np.pad(rows, ((0, 1 + N_MODES - len(rows)), (0, 0)))


@cache
def grid_open_circuit_v(chemistry: str) -> Array:
    """Mean open-circuit voltage [V] of a cell of the family at every charge of `GRID`; beyond 0 and 1 it goes
    on with the slopes at the ends."""
    mean = _family(chemistry)[0]
    low = max((mean[1] - mean[0]) / CHARGE[1], ACID_RUNS_OUT)
    high = (mean[-1] - np.interp(0.96, CHARGE, mean)) / 0.04
    v = (
        monotone_cubic(CHARGE, mean, np.clip(GRID, 0.0, 1.0))
        + low * np.minimum(GRID, 0.0)
        + high * np.maximum(GRID - 1.0, 0.0)
    )
    v.setflags(write=False)
    return np.asarray(v)


@cache
def family_modes_v(chemistry: str) -> Array:
    """(grid, modes) principal curves [V]: cells of the family differ from the mean by each of them times a
    standard normal number."""
    inside = np.clip(GRID, 0.0, 1.0)
    modes = np.stack([monotone_cubic(CHARGE, mode, inside) for mode in _family(chemistry)[1:]], axis=1)
    modes.setflags(write=False)
    return modes


def places(charge: Array) -> tuple[NDArray[np.intp], Array]:
    """The grid index below each charge, and how far the charge is towards the next one, 0..1."""
    place = np.clip((charge - GRID_LOW) / GRID_STEP, 0.0, len(GRID) - 1.001)
    low = place.astype(np.intp)
    return low, place - low


def at_charge(table: Array, charge: Array) -> Array:
    """Values of a (grid,) or (grid, k) table at (n,) charges."""
    low, part = places(charge)
    part = part[:, None] if table.ndim == 2 else part
    return np.asarray(table[low] * (1 - part) + table[low + 1] * part)


def cubic_basis(x: Array, knots: Array) -> Array:
    """(n, k - 4) cubic B-splines at x (n,) over k rising knots, the first four equal and the last four too.

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
    """Values at `at` (n,) of a cubic through the points x, y (m,) that never overshoots them.

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
