"""How a figure moves over the years: a straight line on its logarithm, after allowing for grass, with its
band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from estimator.errors import InputError
from estimator.fitting.comparisons import (
    LEVEL_STD,
    SURE_Z,
    AdjustedPoint,
    coefficient_draws,
    fit_groups,
    percent,
)
from estimator.fitting.measures import Measure, Observed

Array = NDArray[np.float64]

SLOPE_STD = 0.3
"""Prior standard deviation of a yearly change, on the logarithm (common practice: tens of per cent at
most).
"""
LINE_POINTS = 40
MOST_MOWS = 500
DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Trend:
    """A figure's yearly change and the line to draw.

    per_year, low, high : yearly change as a fraction (0.05 is 5 % more a year), with its band
    days, line, line_low, line_high (n,) : the line under usual circumstances, with its band
    points : each mow's figure, taken to the usual circumstances
    more_mows : how many more mows, coming as often as so far, could tell a change of this size; 0 where it is
        told, None where 500 would not
    """

    measure: str
    unit: str
    level: float
    mows: int
    per_year: float
    low: float
    high: float
    more_than_noise: bool
    more_mows: int | None
    sentence: str
    days: tuple[date, ...]
    line: tuple[float, ...]
    line_low: tuple[float, ...]
    line_high: tuple[float, ...]
    points: tuple[AdjustedPoint, ...]


def trend(measure: Measure, mows: Sequence[Observed], level: float = 0.90) -> Trend:
    """The trend of `measure` over the mows' days. Raises InputError where there is no mow."""
    if not mows:
        raise InputError(f"no mow shows {measure.name}", mend="add mows")
    years = np.array([one.day.toordinal() for one in mows], float) / DAYS_A_YEAR
    middle = float(years.mean())
    y = np.log([one.value for one in mows])
    design = np.column_stack([np.ones(len(mows)), years - middle])
    fit = fit_groups(
        measure, mows, design, np.array([LEVEL_STD, SLOPE_STD]), np.array([float(y.mean()), 0.0])
    )
    drawn = coefficient_draws(fit)
    lawns = sorted({one.lawn or "" for one in mows})
    at_lawn = np.array([[(one.lawn or "") == name for name in lawns] for one in mows], float)
    effects = np.array([one.effects for one in mows], float).reshape(len(mows), len(measure.effects))
    rows = np.column_stack([effects, at_lawn])
    usual = rows.mean(axis=0)
    at = np.linspace(float(years.min()), float(years.max()), LINE_POINTS)
    lines = (drawn[:, 0] + drawn[:, 2:] @ usual)[:, None] + drawn[:, 1][:, None] * (at - middle)
    centre, below, above = np.exp(np.quantile(lines, [0.5, 0.5 - level / 2, 0.5 + level / 2], axis=0))
    slope, low, high = (float(v) for v in np.quantile(drawn[:, 1], [0.5, 0.5 - level / 2, 0.5 + level / 2]))
    real = low > 0 or high < 0
    more = 0 if real else _mows_to_tell(slope, float(drawn[:, 1].std()), years, level)
    adjusted = np.exp(y - (rows - usual) @ fit.coefficients[2:])
    first = min(one.day for one in mows)
    return Trend(
        measure=measure.name,
        unit=measure.unit,
        level=level,
        mows=len(mows),
        per_year=math.expm1(slope),
        low=math.expm1(low),
        high=math.expm1(high),
        more_than_noise=real,
        more_mows=more,
        sentence=_sentence(measure, math.expm1(slope), math.expm1(low), math.expm1(high), real, more),
        days=tuple(first + timedelta(days=round((x - at[0]) * DAYS_A_YEAR)) for x in at),
        line=tuple(centre.tolist()),
        line_low=tuple(below.tolist()),
        line_high=tuple(above.tolist()),
        points=tuple(AdjustedPoint(o.day, "", float(v)) for o, v in zip(mows, adjusted, strict=True)),
    )


def _mows_to_tell(slope: float, std: float, years: Array, level: float) -> int | None:
    """More mows, at the mean pace so far, until a slope of this size would usually be told.

    The variance of a slope is that of one mow over the sum of squared distances from the middle of the
    days; with n evenly spaced mows over a span T that sum is about n T²/12.
    """
    span, n = float(np.ptp(years)), len(years)
    squares = float(((years - years.mean()) ** 2).sum())
    if span <= 0 or squares <= 0 or slope == 0:
        return None
    needed = (std * (float(norm.ppf(0.5 + level / 2)) + SURE_Z) / slope) ** 2 * squares
    apart = span / max(n - 1, 1)
    more = np.arange(1, MOST_MOWS + 1)
    later = years.max() + apart * more
    total = np.concatenate([[years.sum()], years.sum() + np.cumsum(later)])[1:]
    square = float((years**2).sum()) + np.cumsum(later**2)
    enough = np.flatnonzero(square - total**2 / (n + more) >= needed)
    return int(more[enough[0]]) if len(enough) else None


def _sentence(
    measure: Measure, per_year: float, low: float, high: float, real: bool, more: int | None
) -> str:
    allowed = f" after allowing for {measure.allowed_for}" if measure.allowed_for else ""
    name = f"{measure.name[0].upper()}{measure.name[1:]}"
    said = f"{name} moves by {percent(per_year)} a year ({percent(low)} to {percent(high)}){allowed}; "
    if real:
        return said + "that is more than noise."
    if more is None:
        return said + "that is within the noise, and too small to be told by any likely number of mows."
    mows = "1 more mow" if more == 1 else f"{more} more mows"
    return said + f"that is within the noise; about {mows} could tell a change of this size."
