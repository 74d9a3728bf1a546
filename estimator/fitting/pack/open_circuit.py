"""Open-circuit voltage of one cell against charge, from published fits.

Each table is the difference of the two electrodes' open-circuit potentials of the paper, between the cell
voltages that the paper (or the parameter set made from it) names as empty and full; charge is the fraction
in between.

nmc : Chen et al. 2020, J. Electrochem. Soc. 167 080534, doi 10.1149/1945-7111/ab9050; 2.5 to 4.2 V
nca : Kim et al. 2011, J. Electrochem. Soc. 158 A955, doi 10.1149/1.3597614; 2.7 to 4.2 V
lco : Ramadass et al. 2004, J. Electrochem. Soc. 151 A196, doi 10.1149/1.1634273; 2.8 to 4.2 V
lfp : Prada et al. 2013, J. Electrochem. Soc. 160 A616, doi 10.1149/2.053304jes; 2.0 to 3.6 V
lithium : the mean of nmc, nca and lco, for cells charged to 4.2 V whose family nobody knows
lead_acid : Bode 1977 (Lead-acid batteries, Wiley) as quoted by Sulzer et al. 2019, J. Electrochem. Soc. 166
A2363,
    doi 10.1149/2.0301910jes; 5.65 mol/L when full, 1.2 mol/L when empty (common practice for
    absorbed-glass-mat blocks)

Two small pieces of interpolation: the library that has them takes longer to load than most answers.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRID_LOW, GRID_HIGH, GRID_STEP = -0.30, 1.06, 0.005
GRID: Array = np.round(np.arange(GRID_LOW, GRID_HIGH + GRID_STEP / 2, GRID_STEP), 6)
"""Charges at which every curve of the pack model is tabulated; a little beyond empty and full."""

# fmt: off
_CHARGE = np.array([
    0, .005, .01, .02, .03, .04, .05, .06, .08, .1, .125, .15, .175, .2, .225, .25, .275, .3, .325, .35,
    .375, .4, .425, .45, .475, .5, .525, .55, .575, .6, .625, .65, .675, .7, .725, .75, .775, .8, .825, .85,
    .875, .9, .925, .95, .96, .97, .98, .985, .99, .995, 1.0])
_TABLES = {
    "nmc": np.array([
        2.5000, 2.6146, 2.7114, 2.8625, 2.9712, 3.0504, 3.1094, 3.1553, 3.2276, 3.2959, 3.3787, 3.4339,
        3.4641, 3.4852, 3.5056, 3.5286, 3.5545, 3.5814, 3.6068, 3.6290, 3.6487, 3.6670, 3.6855, 3.7054,
        3.7273, 3.7509, 3.7750, 3.7983, 3.8200, 3.8406, 3.8624, 3.8896, 3.9206, 3.9479, 3.9713, 3.9943,
        4.0181, 4.0421, 4.0640, 4.0809, 4.0911, 4.0967, 4.1048, 4.1236, 4.1351, 4.1488, 4.1645, 4.1729,
        4.1817, 4.1907, 4.2000,
    ]),
    "nca": np.array([
        2.7000, 2.9017, 3.0127, 3.1181, 3.1610, 3.1816, 3.1939, 3.2036, 3.2234, 3.2471, 3.2787, 3.3099,
        3.3410, 3.3721, 3.4028, 3.4331, 3.4628, 3.4918, 3.5200, 3.5472, 3.5732, 3.5978, 3.6210, 3.6430,
        3.6641, 3.6846, 3.7048, 3.7253, 3.7461, 3.7678, 3.7909, 3.8163, 3.8444, 3.8742, 3.9031, 3.9300,
        3.9555, 3.9803, 4.0048, 4.0295, 4.0546, 4.0803, 4.1070, 4.1354, 4.1473, 4.1597, 4.1726, 4.1792,
        4.1860, 4.1929, 4.2000,
    ]),
    "lco": np.array([
        2.8000, 2.9686, 3.0828, 3.2310, 3.3261, 3.3941, 3.4462, 3.4877, 3.5504, 3.5955, 3.6365, 3.6663,
        3.6888, 3.7063, 3.7205, 3.7323, 3.7427, 3.7522, 3.7611, 3.7699, 3.7786, 3.7875, 3.7967, 3.8062,
        3.8162, 3.8266, 3.8376, 3.8491, 3.8612, 3.8738, 3.8870, 3.9009, 3.9153, 3.9304, 3.9462, 3.9626,
        3.9798, 3.9977, 4.0165, 4.0363, 4.0573, 4.0798, 4.1042, 4.1313, 4.1432, 4.1558, 4.1693, 4.1765,
        4.1840, 4.1918, 4.2000,
    ]),
    "lfp": np.array([
        2.0000, 2.1430, 2.2655, 2.4600, 2.6028, 2.7077, 2.7853, 2.8432, 2.9223, 2.9781, 3.0444, 3.1080,
        3.1491, 3.1685, 3.1781, 3.1857, 3.1945, 3.2058, 3.2190, 3.2324, 3.2439, 3.2525, 3.2584, 3.2621,
        3.2645, 3.2660, 3.2670, 3.2678, 3.2683, 3.2688, 3.2693, 3.2700, 3.2711, 3.2740, 3.2809, 3.2926,
        3.3037, 3.3097, 3.3121, 3.3132, 3.3137, 3.3142, 3.3146, 3.3164, 3.3193, 3.3274, 3.3502, 3.3743,
        3.4150, 3.4838, 3.6000,
    ]),
}
# fmt: on
_TABLES["lithium"] = np.mean([_TABLES[each] for each in ("nmc", "nca", "lco")], axis=0)


def _lead_acid_v(charge: Array) -> Array:
    """Bode's fits of the two electrode potentials [V] at the acid's molality; volumes and masses as in
    Sulzer 2019."""
    acid = 1200.0 + (5650.0 - 1200.0) * charge  # [mol/m3]
    water_volume, acid_volume, water_mass = 1.75e-5, 4.50e-5, 0.01801
    m = np.log10(acid * water_volume / ((1 - acid * acid_volume) * water_mass))
    lead_dioxide = 1.628 + 0.074 * m + 0.033 * m**2 + 0.043 * m**3 + 0.022 * m**4
    lead = -0.294 - 0.074 * m - 0.030 * m**2 - 0.031 * m**3 - 0.012 * m**4
    return np.asarray(lead_dioxide - lead)


@cache
def grid_open_circuit_v(chemistry: str) -> Array:
    """Open-circuit voltage [V] of one cell at every charge of `GRID`; beyond 0 and 1 the end slopes go on."""
    inside = np.clip(GRID, 0.0, 1.0)
    if chemistry == "lead_acid":
        v = _lead_acid_v(inside)
        low, high = 0.4, 0.2  # [V per unit charge]
    else:
        v = monotone_cubic(_CHARGE, np.asarray(_TABLES[chemistry]), inside)
        low = (_TABLES[chemistry][2] - _TABLES[chemistry][0]) / _CHARGE[2]
        high = (_TABLES[chemistry][-1] - _TABLES[chemistry][-5]) / (1 - _CHARGE[-5])
    v = v + low * np.minimum(GRID, 0.0) + high * np.maximum(GRID - 1.0, 0.0)
    v.setflags(write=False)
    return v


def open_circuit_v(chemistry: str, charge: Array | float) -> Array:
    """Open-circuit voltage [V] of one cell at `charge` (0..1), by the published fit of the chemistry.

    >>> open_circuit_v("nmc", [0.0, 0.5, 1.0]).round(2).tolist()
    [2.5, 3.75, 4.2]
    """
    return np.asarray(np.interp(np.asarray(charge, float), GRID, grid_open_circuit_v(chemistry)))


def places(charge: Array) -> tuple[NDArray[np.intp], Array]:
    """The grid's charge under each of some charges, and how far it is to the next, 0..1."""
    place = np.clip((charge - GRID_LOW) / GRID_STEP, 0.0, len(GRID) - 1.001)
    low = place.astype(np.intp)
    return low, place - low


def at_charge(table: Array, charge: Array) -> Array:
    """Values of a (grid,) or (grid, k) table at (n,) charges."""
    low, part = places(charge)
    part = part[:, None] if table.ndim == 2 else part
    return np.asarray(table[low] * (1 - part) + table[low + 1] * part)


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
