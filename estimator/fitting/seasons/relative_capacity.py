"""Capacity of each mow compared with the others, from the discharge curves alone.

The rest voltage of a cell is a function of its charge. A pack that has lost capacity runs down the same
curve in fewer ampere-hours: rest voltage = F(Ah drawn from full / capacity). F comes from the mows
themselves, so no table of open-circuit voltages is needed, and an error that the clamp makes in every mow
cancels. Only ratios between mows are found this way; `usual_ah` sets the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from estimator.arrays import Array
from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.measures import Observed
from estimator.fitting.seasons.spline_basis import spline_basis, spline_slope

POINTS = 16
"""Points taken from each curve; their errors go together, so that more points would say no more."""
CURVE_PIECES = 10
"""Pieces of the curve that all mows share."""
ROUNDS = 6
"""Iterations between the shared curve and the place of each mow on it (common practice)."""
SHAPE_V_CELL = 0.003  # as in `mean_curve`
OFFSET_V_CELL = 0.004
"""How far a mow's rest curve may be off, per cell: from point to point, and as a whole (common practice)."""
DAY_LOG_STD = 0.015
"""The least change from mow to mow due to clamp and temperature, as a fraction of the capacity (common
practice). Depth, warmth and a flat curve make it larger, which the scatter shows (`honest`)."""
CAPACITY_LOG_STD = 0.15
"""How far a pack may have faded between two mows, before the curves are compared (common practice)."""
TELLING_LOG_STD = 0.10
"""A mow whose capacity is known no better than this says nothing about a fade of a tenth, and is left out."""
TELLING_MOWS = 4
"""Fewer mows than this do not show how they vary."""
FIRST_AH = 0.15
"""The curve before this is the surface charge of a full pack: a minute of a mow (common practice)."""
ALIKE_STD = 0.3
"""Prior for how the logarithm of the capacity that a mow shows varies with its depth (as a share of the
deepest) and with the ratio of lasting to quick resistance (a factor of e) (common practice). The end of a
curve is read lower than a deeper mow's curve at the same charge: depth and ratio explain .8 (nmc) and .6
(LFP) of the scatter between mows of one pack in `tests/worlds`."""
SLOW_LOG_STD = 0.02
"""Error that neighbouring mows share, mostly from the warmth of the season, and that their scatter does not
show: with it the trends of packs never emptied are off by 1.4 (nmc) and .7 (LFP) times their claim in
`tests/worlds`."""
FADE_A_MOW_STD = 0.01
"""A fade is no steeper than this from mow to mow (common practice)."""
OWN_STEP_AH = 0.6
"""Charge over which a mow's errors of shape are alike, since the knots of its curve are this far apart
(common practice)."""


@dataclass(frozen=True)
class _Laid:
    """All mows side by side: Ah drawn from full and rest voltage (n, points), and their errors (n,)."""

    drawn_ah: Array
    rest_v: Array
    point_std_v: Array
    offset_std_v: Array


@dataclass(frozen=True)
class _Own:
    """For each mow (n,): log of its relative capacity, that logarithm's standard uncertainty, offset [V]."""

    log_capacity: Array
    offset_v: Array
    log_std: Array


def relative_capacity(
    curves: Sequence[DischargeCurve | None], days: Sequence[date], series: int, usual_ah: float
) -> tuple[Observed, ...]:
    """Capacity as each mow's own rest voltage shows it, compared with the other mows of the same pack.

    Shallow mows are corrected to deep ones by the effect of depth that the mows themselves show (`_alike`).
    Mows that do not show their capacity to 10 % (started from an unknown charge, too short, or on the flat
    part of the curve) are left out; `place` says which mow each result is. Fewer than four mows do not show
    how they vary, and the result is empty.

    Parameters
    ----------
    curves : sequence of DischargeCurve or None, (n,)
        None where a mow gave no curve
    days : sequence of date, (n,)
        the day of each curve
    series : int, from 1
        cells in series
    usual_ah : float, above 0 [Ah]
        the mean capacity of the mows, as fitted or rated

    Returns
    -------
    tuple of Observed
        capacity [Ah] of each mow that shows it, with at least the uncertainty that their scatter shows

    Raises
    ------
    ValueError
        where there is not one day for each curve

    Source: curves of one pack differ by a stretch along the charge axis; Dubarry et al. 2012, J. Power
    Sources 219, 204.

    >>> def mow(capacity_ah: float) -> DischargeCurve:
    ...     drawn = np.linspace(0.0, 5.0, 50)
    ...     rest = 54.0 - 9.0 * drawn / capacity_ah - 2.0 * (drawn / capacity_ah) ** 3
    ...     known = (5.0, 0.1, 0.002, 0.08, 0.001, 0.01, 25.0, 1.0, 0.0)
    ...     return DischargeCurve(tuple(drawn), tuple(rest), *known)
    >>> days = [date(2024, month, 1) for month in (4, 5, 6, 7)]
    >>> found = relative_capacity([mow(ah) for ah in (10.0, 10.0, 9.0, 9.0)], days, 13, usual_ah=9.5)
    >>> round(found[2].value / found[0].value, 2)
    0.9
    """
    known = [i for i, curve in enumerate(curves) if curve is not None and curve.start_ah is not None]
    if len(known) < TELLING_MOWS:
        return ()
    laid = _lay([curve for curve in curves if curve is not None and curve.start_ah is not None], series)
    none = np.zeros(len(known))
    own = _Own(none, none, none)
    reach = float(laid.drawn_ah.max()) * 1.5
    inner = np.linspace(0.0, reach, CURVE_PIECES + 1)[1:-1]
    knots = np.concatenate([[0.0] * 4, inner, [reach] * 4])
    for _ in range(ROUNDS):
        own = _each_mow(laid, own, knots, _common_curve(laid, own, knots, series))
    found = tuple(
        Observed(days[i], usual_ah * math.exp(ratio), math.hypot(std, DAY_LOG_STD), place=i)
        for i, ratio, std in zip(known, own.log_capacity.tolist(), own.log_std.tolist(), strict=True)
        if std < TELLING_LOG_STD
    )
    return _alike(found, curves) if len(found) >= TELLING_MOWS else ()


def _alike(seen: tuple[Observed, ...], curves: Sequence[DischargeCurve | None]) -> tuple[Observed, ...]:
    """The capacities that mows as deep as the deepest, with equal ratios of resistances, would show.

    Linear regression of the logarithm on depth, ratio and the number of the mow. Where all mows draw the
    same, their depth varies with the capacity itself; where all end empty, what they draw does. So depth
    counts only as far as depth and charge drawn vary together.
    """
    own = [curve for one in seen if (curve := curves[one.place]) is not None]
    drawn = np.array([(c.start_ah or 0.0) + c.used_ah[-1] for c in own])
    depth = drawn / np.array([one.value for one in seen])
    ratio = np.log([c.resistance_ohm / c.quick_ohm for c in own])
    spread = np.cov(drawn, depth)
    alike = spread[0, 1] ** 2 / max(spread[0, 0] * spread[1, 1], 1e-12)
    columns = np.column_stack([depth / depth.max() - 1.0, ratio - ratio.mean()])
    design = np.column_stack([columns, [one.place for one in seen], np.ones(len(seen))])
    held = np.array([max(ALIKE_STD * alike, 1e-3), ALIKE_STD, FADE_A_MOW_STD, np.inf]) ** -2.0
    weighted = design.T / np.array([one.log_std for one in seen]) ** 2
    covariance = np.linalg.inv(weighted @ design + np.diag(held))
    value = np.log([one.value for one in seen])
    value -= columns @ (covariance @ weighted @ value)[:2]
    shown = honest(tuple(replace(o, value=math.exp(v)) for o, v in zip(seen, value.tolist(), strict=True)))
    return tuple(replace(one, log_std=math.hypot(one.log_std, SLOW_LOG_STD)) for one in shown)


def honest(news: tuple[Observed, ...]) -> tuple[Observed, ...]:
    """The same with uncertainties at least as large as the steps between neighbouring mows show.

    Steps count by their root mean square, so that a few wild mows count: with the median step, nmc mows in
    `tests/worlds` were off by 2.5 times their claim, now by .9, and more of the packs that fade are found.

    >>> seen = tuple(Observed(date(2024, 5, day), 10 + day % 2 / 2, 0.01) for day in (1, 2, 3, 4))
    >>> round(honest(seen)[0].log_std, 3)
    0.034
    """
    if len(news) < TELLING_MOWS:
        return news
    value, std = np.log([one.value for one in news]), np.array([one.log_std for one in news])
    more = max(1.0, float(np.sqrt(np.mean(np.diff(value) ** 2 / (std[1:] ** 2 + std[:-1] ** 2)))))
    return tuple(replace(one, log_std=more * one.log_std) for one in news)


def _lay(curves: Sequence[DischargeCurve], series: int) -> _Laid:
    drawn, rest, point, whole = [], [], [], []
    for curve in curves:
        places = np.array(curve.used_ah)
        at = np.linspace(min(FIRST_AH, places[-1]), places[-1], POINTS)
        alike = max(1.0, POINTS * OWN_STEP_AH / max(float(places[-1]), OWN_STEP_AH))
        drawn.append(at + (curve.start_ah or 0.0))
        rest.append(np.interp(at, places, np.array(curve.rest_v)))
        point.append(math.hypot(SHAPE_V_CELL * series, curve.line_std_v) * math.sqrt(alike))
        whole.append(math.hypot(OFFSET_V_CELL * series, curve.load_a * curve.resistance_std_ohm))
    return _Laid(np.array(drawn), np.array(rest), np.array(point), np.array(whole))


def _common_curve(laid: _Laid, own: _Own, knots: Array, series: int) -> Array:
    """F over Ah drawn per unit of relative capacity: the coefficients of a penalised cubic spline."""
    x = (laid.drawn_ah / np.exp(own.log_capacity)[:, None]).ravel()
    v = (laid.rest_v - own.offset_v[:, None]).ravel()
    weight = np.repeat(laid.point_std_v**-2.0, POINTS)
    basis = spline_basis(np.clip(x, 0.0, knots[-1]), knots)
    bend = np.diff(np.eye(basis.shape[1]), n=2, axis=0) / (0.05 * series)
    information = basis.T @ (basis * weight[:, None]) + bend.T @ bend + 1e-9 * np.eye(basis.shape[1])
    return np.asarray(np.linalg.solve(information, basis.T @ (weight * v)))


def _each_mow(laid: _Laid, own: _Own, knots: Array, spline: Array) -> _Own:
    """One Gauss-Newton step for every mow's relative capacity and offset, with priors on both."""
    x = laid.drawn_ah / np.exp(own.log_capacity)[:, None]
    moved = -spline_slope(x.ravel(), knots, spline).reshape(x.shape) * x
    jacobian = np.stack([moved, np.ones_like(moved)], axis=2)
    expected = (spline_basis(x.ravel(), knots) @ spline).reshape(x.shape)
    residual = laid.rest_v - expected + moved * own.log_capacity[:, None]
    weight = laid.point_std_v**-2.0
    information = np.einsum("npi,npj,n->nij", jacobian, jacobian, weight)
    information[:, 0, 0] += CAPACITY_LOG_STD**-2.0
    information[:, 1, 1] += laid.offset_std_v**-2.0
    covariance = np.linalg.inv(information)
    found = np.einsum("nij,npj,np,n->ni", covariance, jacobian, residual, weight)
    log_std = np.sqrt(covariance[:, 0, 0])
    ratio = np.clip(found[:, 0], -0.5, 0.5)
    return _Own(ratio - float(np.average(ratio, weights=log_std**-2.0)), found[:, 1], log_std)
