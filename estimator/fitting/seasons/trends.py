"""How a figure moves over the years: a straight line on its logarithm, after allowing for grass, with its
band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.seasons.measure_model import (
    LEVEL_STD,
    MOST_MOWS,
    SURE_Z,
    AdjustedPoint,
    fit_measure,
    percent,
)
from estimator.fitting.seasons.measures import Measure, Observed
from estimator.results import shown

Array = NDArray[np.float64]

SLOPE_STD = 0.3
"""Prior standard deviation of a yearly change, on the logarithm (common practice: tens of per cent at
most).
"""
LINE_POINTS = 40
"""Points of a drawn line."""
DAYS_A_YEAR = 365.25
"""Julian year."""


@shown
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
    """The trend of `measure` over the mows' days. Raises InputError where there is no mow.

    >>> from estimator.fitting.seasons.measures import CAPACITY
    >>> days = [date(2023 + year, 4 + month, 1) for year in range(2) for month in range(6)]
    >>> seen = [Observed(day, 10.0 * 0.9 ** ((day - days[0]).days / 365.25), 0.01) for day in days]
    >>> found = trend(CAPACITY, seen)
    >>> percent(found.per_year), found.more_than_noise
    ('-10 %', True)
    """
    years = np.array([one.day.toordinal() for one in mows], float) / DAYS_A_YEAR
    middle = float(years.mean()) if len(years) else 0.0
    fit = fit_measure(
        measure, mows, np.column_stack([np.ones(len(mows)), years - middle]), [LEVEL_STD, SLOPE_STD]
    )
    rise = fit.design[:, 1]
    at = np.linspace(float(years.min()), float(years.max()), LINE_POINTS)
    lines = (fit.design[:, 0] + fit.usual)[:, None] + rise[:, None] * (at - middle)
    centre, below, above = np.exp(np.quantile(lines, [0.5, 0.5 - level / 2, 0.5 + level / 2], axis=0))
    slope, low, high = (float(v) for v in np.quantile(rise, [0.5, 0.5 - level / 2, 0.5 + level / 2]))
    real = low > 0 or high < 0
    more = 0 if real else _mows_to_tell(slope, float(rise.std()), years, level)
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
        points=tuple(
            AdjustedPoint(o.day, "", float(v)) for o, v in zip(mows, np.exp(fit.adjusted), strict=True)
        ),
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
    needed = (std * (NormalDist().inv_cdf(0.5 + level / 2) + SURE_Z) / slope) ** 2 * squares
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
        return said + "that is within the noise, and too small for any likely number of mows to show."
    mows = "1 more mow" if more == 1 else f"{more} more mows"
    return said + f"that is within the noise; about {mows} could tell a change of this size."
