"""A log's voltage split into a smooth rest voltage and what the load takes off it, at once and with delay.

Voltage = rest voltage over the charge drawn − quick resistance × current − three slow resistances × current
delayed by resistor-capacitor pairs (`circuit.pair_voltage`); linear least squares finds them all at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack.circuit import pair_voltage
from estimator.fitting.seasons.spline_basis import spline_basis

SETTLE_S = (12.0, 40.0, 200.0)
"""Time constants [s] of the slow resistances: charge transfer, near and far diffusion. With only two, of 15
and 250 s, the slower one took up what a pack recovers within a minute and bent the rest voltage as much."""
PAIR_SHARE, PAIR_SHARE_STD = (0.2, 0.25, 0.3), (0.25, 0.25, 0.3)
"""Prior ratio of each slow resistance to the quick one (common practice)."""
WARMING_STD = 0.1
"""How far all resistances may change from the start of a mow to its end, as a share of their mean: the pack
warms and empties (common practice)."""
END_KNOTS_AH = (0.04, 0.12, 0.3)  # from either end, each two to three times as far: curves bend most there
BEND_STD_V_AH = 3.0
"""How much the slope [V/Ah] of rest voltage may change between neighbouring control points, one sigma."""


@dataclass(frozen=True)
class VoltageSplit:
    """What a log's voltage is made of.

    knots, spline : rest voltage [V] over the charge drawn [Ah], a cubic B-spline
    quick_ohm : the resistance that acts at once; total_ohm : that to a lasting load, all four together
    line_std_v : standard uncertainty [V] of the line at the mow's mean load
    """

    knots: Array
    spline: Array
    quick_ohm: float
    quick_std_ohm: float
    total_ohm: float
    total_std_ohm: float
    line_std_v: float

    def rest_v(self, drawn_ah: Array) -> Array:
        """Rest voltage [V] after `drawn_ah` [Ah]."""
        return np.asarray(spline_basis(drawn_ah, self.knots) @ self.spline)


def split_voltage(
    time_s: Array, current_a: Array, voltage_v: Array, drawn_ah: Array, volts_read: Array | None = None
) -> VoltageSplit:
    """Split the voltage of a log; all arrays are (n,), one value a reading.

    volts_read : (n,) at which readings the voltage was read, None for all; the current counts at all of them

    >>> time_s = np.arange(900.0)
    >>> amps = np.where(time_s % 40 < 30, 6.0, 2.0)
    >>> drawn = np.cumsum(amps) / 3600
    >>> found = split_voltage(time_s, amps, 54.0 - drawn - 0.1 * amps, drawn)
    >>> round(found.quick_ohm, 3), round(float(found.rest_v(np.array([0.5]))[0]), 1)
    (0.1, 53.5)
    """
    knots = _knots(drawn_ah)
    basis = spline_basis(drawn_ah, knots)
    drives = np.column_stack([current_a, *_pair_parts(time_s, current_a)])
    course = drawn_ah / max(float(drawn_ah.max()), 1e-9) - 0.5
    if volts_read is not None:
        read = np.asarray(volts_read, bool)
        basis, drives, course, voltage_v = basis[read], drives[read], course[read], voltage_v[read]
    return _least_squares(basis, knots, drives, course, voltage_v)


def _pair_parts(time_s: Array, current_a: Array) -> list[Array]:
    """The voltage [V] across a resistor-capacitor pair of 1 ohm at each reading, for each time constant."""
    step = max(float(np.median(np.diff(time_s))), float(time_s[-1] - time_s[0]) / 20000, 0.2)
    grid = np.arange(time_s[0], time_s[-1] + step, step)
    even = np.interp(grid, time_s, current_a)
    return [np.interp(time_s, grid, pair_voltage(even, step, tau)) for tau in SETTLE_S]


def _knots(drawn_ah: Array) -> Array:
    """Knots of cubic B-splines over the charge drawn: one about every 0.6 Ah, closer at both ends."""
    top, low = float(drawn_ah.max()) + 1e-9, min(float(drawn_ah.min()), 0.0) - 1e-9
    pieces = int(np.clip(round((top - low) / 0.6), 2, 14))
    even = np.linspace(low, top, pieces + 1)[1:-1]
    ends = np.concatenate([low + np.array(END_KNOTS_AH), top - np.array(END_KNOTS_AH)])
    ends = ends[(ends > low) & (ends < top) & (np.abs(ends - (low + top) / 2) > 0.05 * (top - low))]
    inner = np.unique(np.concatenate([even[(even > low + 0.45) & (even < top - 0.45)], ends]))
    return np.concatenate([[low] * 4, inner, [top] * 4])


def _least_squares(
    basis: Array, knots: Array, drives: Array, course: Array, voltage_v: Array
) -> VoltageSplit:
    """Least squares for spline and resistances, with the slow resistances loosely tied to the quick one.

    course : (n,) from -0.5 at the start to 0.5 at the end; all resistances change along it by one share,
        which is found from round to round so that the problem stays linear

    Residuals of neighbouring readings are alike, so the number of readings counts (1 − r)/(1 + r) times, with
    r their first-order correlation (Bartlett 1946, Suppl. J. Royal Stat. Soc. 8, 27).
    """
    design = np.column_stack([basis, -drives, np.zeros(len(course))])
    p, k = design.shape[1], basis.shape[1]
    noise, shrink, solution, covariance = 0.05, 1.0, np.zeros(p), np.eye(p)
    quick = _first_look(drives[:, 0], voltage_v)
    bend = np.zeros((k - 2, p))
    bend[:, :k] = _slope_changes(knots, k) / BEND_STD_V_AH
    for _ in range(4):
        weight = shrink / noise**2
        hold = np.zeros((len(SETTLE_S) + 1, p))
        hold[-1, -1] = 1 / WARMING_STD
        for row, (share, share_std) in enumerate(zip(PAIR_SHARE, PAIR_SHARE_STD, strict=True)):
            hold[row, k], hold[row, k + 1 + row] = -share, 1.0
            hold[row] /= share_std * quick
        information = weight * design.T @ design + hold.T @ hold + bend.T @ bend + 1e-9 * np.eye(p)
        covariance = np.linalg.inv(information)
        solution = covariance @ (weight * design.T @ voltage_v)
        residual = voltage_v - design @ solution
        noise = max(float(np.std(residual)), 1e-4)
        alike = _alike(residual)
        shrink = (1 - alike) / (1 + alike)
        quick = max(float(solution[k]), 1e-4)
        design[:, -1] = -course * (drives @ solution[k:-1])
    total = np.zeros(p)
    total[k:-1] = 1.0
    mean_row = design.mean(axis=0)
    floor = 0.03 * float(total @ solution)
    return VoltageSplit(
        knots=knots,
        spline=np.asarray(solution[:k]),
        quick_ohm=quick,
        quick_std_ohm=math.hypot(math.sqrt(covariance[k, k]), 0.01 * quick),
        total_ohm=max(float(total @ solution), 1e-4),
        total_std_ohm=math.hypot(math.sqrt(float(total @ covariance @ total)), floor),
        line_std_v=math.hypot(math.sqrt(max(float(mean_row @ covariance @ mean_row), 0.0)), 0.3 * noise),
    )


def _slope_changes(knots: Array, k: int) -> Array:
    """Changes of slope (k - 2, k) between the control points of a cubic spline, at its Greville points."""
    place = (knots[1 : k + 1] + knots[2 : k + 2] + knots[3 : k + 3]) / 3
    slope = np.diff(np.eye(k), axis=0) / np.diff(place)[:, None]
    return np.diff(slope, axis=0)


def _first_look(current_a: Array, voltage_v: Array) -> float:
    """Resistance [ohm] from neighbouring readings: the volts lost per amp from one to the next."""
    step_a, step_v = np.diff(current_a), np.diff(voltage_v)
    moved = float(step_a @ step_a)
    return max(-float(step_a @ step_v) / moved, 1e-3) if moved > 0 else 0.05


def _alike(residual: Array) -> float:
    """First-order correlation of neighbouring residuals, from 0 to 0.995."""
    centred = residual - residual.mean()
    power = float(centred @ centred)
    return float(np.clip(centred[:-1] @ centred[1:] / power, 0.0, 0.995)) if power > 0 else 0.0
