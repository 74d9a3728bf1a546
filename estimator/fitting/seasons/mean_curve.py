"""One mean curve of many mows' discharge curves, with its covariance."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array, Whole
from estimator.fitting.seasons.discharge_curves import DischargeCurve, voltage_at, voltage_std_at

GRID_STEP_AH = 0.1  # half a minute at 12 A: curves are straight within it
SPREAD_V_CELL, SPREAD_MOWS = 0.005, 3.0
"""Spread [V a cell] of whole curves between mows, and the weight of this guess in mows (common practice)."""
SHAPE_V_CELL = 0.003  # spread of one curve from point to point (common practice: half that of whole curves)
BEND_V_CELL_AH2 = 0.4  # how fast the slope may change: as an NMC curve bends near empty (common practice)
LONGEST_GRID = 120
"""Most points of a mean curve; bounds the work."""


@dataclass(frozen=True)
class MeanCurve:
    """A mean curve (n,) [V] over charge drawn (n,) [Ah], its covariance (n, n) and the mows at each point."""

    grid: Array
    mean: Array
    covariance: Array
    count: Whole


@dataclass(frozen=True)
class CurveSpread:
    """Spread [V] of whole curves from mow to mow, and the degrees of freedom with which it is known."""

    volts: float
    freedom: float


def curve_spread(
    groups: Iterable[Sequence[DischargeCurve]], series: int, power_w: float, temperature_c: float
) -> CurveSpread:
    """Spread of the curves about their own group's mean, pooled over the groups and with the prior guess."""
    total, freedom = SPREAD_MOWS * (SPREAD_V_CELL * series) ** 2, SPREAD_MOWS
    for group in groups:
        laid = [
            (np.array(c.used_ah) + (c.start_ah or 0.0), voltage_at(c, power_w, temperature_c)) for c in group
        ]
        if len(laid) < 2:
            continue
        low, high = max(a[0] for a, _ in laid), min(a[-1] for a, _ in laid)
        if high <= low:
            continue
        at = np.linspace(low, high, 20)
        offsets = np.array([np.interp(at, a, v).mean() for a, v in laid])
        known = np.mean([voltage_std_at(c, power_w, temperature_c) ** 2 for c in group])
        total += max(float(((offsets - offsets.mean()) ** 2).sum()) - (len(laid) - 1) * float(known), 0.0)
        freedom += len(laid) - 1
    return CurveSpread(math.sqrt(total / freedom), freedom)


def mean_curve(
    curves: Sequence[DischargeCurve], series: int, power_w: float, temperature_c: float, spread_v: float
) -> MeanCurve:
    """One curve for all mows: a random offset for each mow, a second-difference penalty on the curve.

    Each mow's offset is eliminated from the normal equations at once (Schur complement), so that the cost is
    proportional to the number of mows.
    """
    starts = [c.start_ah or 0.0 for c in curves]
    low = min(starts)
    # the last piece of a mow's curve is bent by the volts that rise after the motor has stopped
    high = max(s + c.used_ah[-2] for s, c in zip(starts, curves, strict=True))
    step = max(GRID_STEP_AH, (high - low) / LONGEST_GRID)
    grid = np.asarray(low + step * np.arange(int((high - low) / step) + 1), float)
    m = len(grid)
    bend = np.diff(np.eye(m), n=2, axis=0) / (BEND_V_CELL_AH2 * series * step**1.5)
    information = bend.T @ bend
    push = np.zeros(m)
    count = np.zeros(m, np.int64)
    for curve, start in zip(curves, starts, strict=True):
        places, volts = np.array(curve.used_ah) + start, voltage_at(curve, power_w, temperature_c)
        inside = np.flatnonzero((grid >= places[0] - 1e-9) & (grid <= places[-2] + 1e-9))
        seen = np.interp(grid[inside], places, volts)
        slope = np.interp(grid[inside], places, np.gradient(volts, places))
        own = math.hypot(spread_v, voltage_std_at(curve, power_w, temperature_c))
        shape_var = (SHAPE_V_CELL * series) ** 2 + (slope * max(curve.start_std_ah, 0.02)) ** 2
        weight = 1.0 / shape_var
        shared = weight / (float(weight.sum()) + own**-2.0)
        information[inside, inside] += weight
        information[np.ix_(inside, inside)] -= np.outer(weight, shared)
        push[inside] += weight * seen - weight * float(shared @ seen)
        count[inside] += 1
    kept = np.flatnonzero(count > 0)
    covariance = np.asarray(np.linalg.pinv(information, hermitian=True), np.float64)
    mean = np.asarray(covariance @ push, np.float64)
    return MeanCurve(
        grid[kept], mean[kept], np.asarray(covariance[np.ix_(kept, kept)], np.float64), count[kept]
    )
