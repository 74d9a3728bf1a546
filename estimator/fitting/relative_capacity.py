"""Capacity of each mow against the others, from the discharge curves alone.

The rest voltage of a cell is a function of its charge. A pack that has lost capacity runs down the same
curve in fewer ampere-hours: rest voltage = F(Ah drawn from full / capacity). F is taken from the mows
themselves, so that no table of open-circuit voltages comes in, and what the clamp reads too high or too
low on every mow cancels. Only the ratio between mows is known by this; `usual_ah` sets the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from estimator.fitting.discharge_curves import DischargeCurve
from estimator.fitting.measures import Observed

Array = NDArray[np.float64]

POINTS = 16
CURVE_PIECES = 10
ROUNDS = 6
SHAPE_V_CELL = 0.003
OFFSET_V_CELL = 0.004
"""What a mow's rest curve may be off by, per cell: in shape from point to point, and as a whole (common
practice).
"""
DAY_LOG_STD = 0.015
"""What clamp and temperature change from one mow to the next, as a fraction of the capacity (common
practice).
"""
CAPACITY_LOG_STD = 0.15
TELLING_LOG_STD = 0.10
FIRST_AH = 0.15
OWN_STEP_AH = 0.6


@dataclass(frozen=True)
class _Laid:
    drawn_ah: Array
    rest_v: Array
    point_std_v: float
    offset_std_v: float


@dataclass(frozen=True)
class _Own:
    log_capacity: float
    offset_v: float
    log_std: float


def relative_capacity(
    curves: Sequence[DischargeCurve | None], days: Sequence[date], series: int, usual_ah: float
) -> tuple[Observed, ...]:
    """Capacity [Ah] as each mow's own rest voltage shows it against the other mows of the same pack.

    curves, days : one of each per mow, None where a mow gave no curve
    series : cells in series; usual_ah : the capacity that the mows have between them [Ah], as fitted or rated

    Mows that cannot tell their capacity to 10 % (started from an unknown charge, too short, or on the flat
    part of the curve) are left out; `place` says which mow each result is. With fewer than three curves
    there is nothing to hold a mow against, and the result is empty.
    """
    known = [(i, _lay(c, series)) for i, c in enumerate(curves) if c is not None and c.start_ah is not None]
    laid = [one for _, one in known]
    if len(laid) < 3:
        return ()
    own = [_Own(0.0, 0.0, CAPACITY_LOG_STD)] * len(laid)
    reach = max(float(one.drawn_ah[-1]) for one in laid) * 1.5
    inner = np.linspace(0.0, reach, CURVE_PIECES + 1)[1:-1]
    knots = np.concatenate([[0.0] * 4, inner, [reach] * 4])
    for _ in range(ROUNDS):
        curve = _common_curve(laid, own, knots, series)
        slope = curve.derivative()
        own = [_one_mow(one, now.log_capacity, curve, slope) for one, now in zip(laid, own, strict=True)]
        middle = np.average([o.log_capacity for o in own], weights=[o.log_std**-2.0 for o in own])
        own = [replace(o, log_capacity=o.log_capacity - float(middle)) for o in own]
    return tuple(
        Observed(days[i], usual_ah * math.exp(o.log_capacity), math.hypot(o.log_std, DAY_LOG_STD), place=i)
        for (i, _), o in zip(known, own, strict=True)
        if o.log_std < TELLING_LOG_STD
    )


def _lay(curve: DischargeCurve, series: int) -> _Laid:
    places = np.array(curve.used_ah)
    at = np.linspace(min(FIRST_AH, places[-1]), places[-1], POINTS)
    alike = max(1.0, POINTS * OWN_STEP_AH / max(float(places[-1]), OWN_STEP_AH))
    point = math.hypot(SHAPE_V_CELL * series, curve.line_std_v)
    whole = math.hypot(OFFSET_V_CELL * series, curve.load_a * curve.resistance_std_ohm)
    drawn = at + (curve.start_ah or 0.0)
    return _Laid(drawn, np.interp(at, places, np.array(curve.rest_v)), point * math.sqrt(alike), whole)


def _common_curve(laid: Sequence[_Laid], own: Sequence[_Own], knots: Array, series: int) -> BSpline:
    """F over Ah drawn per unit of relative capacity: a penalised cubic spline through all mows."""
    x = np.concatenate([one.drawn_ah / math.exp(o.log_capacity) for one, o in zip(laid, own, strict=True)])
    v = np.concatenate([one.rest_v - o.offset_v for one, o in zip(laid, own, strict=True)])
    weight = np.concatenate([np.full(len(one.drawn_ah), one.point_std_v**-2.0) for one in laid])
    basis = BSpline.design_matrix(np.clip(x, 0.0, knots[-1]), knots, 3).toarray()
    bend = np.diff(np.eye(basis.shape[1]), n=2, axis=0) / (0.05 * series)
    information = basis.T @ (basis * weight[:, None]) + bend.T @ bend + 1e-9 * np.eye(basis.shape[1])
    return BSpline(knots, np.linalg.solve(information, basis.T @ (weight * v)), 3)


def _one_mow(one: _Laid, log_capacity: float, curve: BSpline, slope: BSpline) -> _Own:
    """One Gauss-Newton step for a mow's own relative capacity and offset, with priors on both."""
    x = one.drawn_ah / math.exp(log_capacity)
    jacobian = np.column_stack([-slope(x) * x, np.ones(len(x))])
    residual = one.rest_v - curve(x) + jacobian[:, 0] * log_capacity
    information = jacobian.T @ jacobian / one.point_std_v**2
    information += np.diag([CAPACITY_LOG_STD**-2.0, one.offset_std_v**-2.0])
    covariance = np.linalg.inv(information)
    found = covariance @ (jacobian.T @ residual) / one.point_std_v**2
    return _Own(float(np.clip(found[0], -0.5, 0.5)), float(found[1]), math.sqrt(covariance[0, 0]))
