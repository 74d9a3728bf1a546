"""One model for every measure: log value = design + effects allowed for + drift + lawn + day + rest
(`mixed_model`).

The design is what a comparison asks about: the levels of groups, or a level and a slope. Neighbouring mows
err alike, since grass, soil and weather change over weeks and are rarely noted. A drift of the season absorbs
that; without it, a handful of mows on either side of a day would show a change where there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from estimator.arrays import Array, Whole
from estimator.errors import InputError
from estimator.fitting.load.mixed_model import (
    MixedPrior,
    choose_points,
    draw_coefficients,
    fit_mixed,
    mixed_data,
)
from estimator.fitting.seasons.measures import Measure, Observed

DRAWS = 4000
"""The ends of a band from this many draws are off by a hundredth of its width."""
LEVEL_STD = 3.0
"""Prior standard deviation of a level, on the logarithm: wide, since nothing is known before the mows."""
SPREAD_LOG_STD = (0.6, 0.7, 0.6)
"""How well the three spreads are known before any mow: within a factor of two (common practice)."""
SLOPE_STD = 0.3
"""Prior standard deviation of a yearly change, on the logarithm (common practice: tens of per cent)."""
DAYS_A_YEAR = 365.25
"""Julian year."""
DRIFT_DAYS = 40.0
"""Days from one knot of the seasonal drift to the next; it moves freely between knots (common practice)."""
SURE_Z = 0.8416
"""Normal quantile of 0.80: a change is tellable where four in five such series of mows would show it."""
MOST_MOWS = 500
"""Nobody mows this often for an answer: more are said to be out of reach."""


@dataclass(frozen=True)
class AdjustedPoint:
    """One mow's figure as it would have been in the usual circumstances."""

    day: date
    group: str
    value: float


@dataclass(frozen=True)
class MeasureFit:
    """What the mows say about a measure.

    design (draws, g) : draws of the design's coefficients, on the logarithm
    usual (draws,) : what the usual circumstances (the mean over the mows) add to the logarithm
    log_value, adjusted (n,) : each mow's log value, as seen and as adjusted to the usual circumstances
    """

    design: Array
    usual: Array
    log_value: Array
    adjusted: Array


def fit_measure(
    measure: Measure, mows: Sequence[Observed], design: Array, design_std: Sequence[float]
) -> MeasureFit:
    """Fit the measure's model with `design` (n, g), whose first column or columns stand for the level.

    design_std (g,) : prior standard deviation of each coefficient, on the logarithm; coefficients as wide as
    `LEVEL_STD` are centred on the mows' mean, the others on zero

    Raises InputError where there is no mow.

    >>> from estimator.fitting.seasons.measures import CAPACITY
    >>> mows = [Observed(date(2024, 5, day), 10.0, 0.01) for day in (1, 8, 15)]
    >>> found = fit_measure(CAPACITY, mows, np.ones((3, 1)), [LEVEL_STD])
    >>> round(float(np.exp(np.median(found.design + found.usual[:, None]))), 1)
    10.0
    """
    if not mows:
        raise InputError(f"no mow shows {measure.name}", mend="add mows")
    y = np.log([one.value for one in mows])
    effects = np.array([one.effects for one in mows], float).reshape(len(mows), len(measure.effects))
    names = sorted({one.lawn or "" for one in mows})
    lawn = np.array([names.index(one.lawn or "") for one in mows], np.int64)
    day = np.array([one.day.toordinal() for one in mows], np.int64)
    noise = np.array([max(one.log_std, 1e-4) ** 2 for one in mows])
    std = np.asarray(design_std, float)
    drift = drift_columns(day)
    knots = np.full(drift.shape[1], measure.drift_std)
    prior = MixedPrior(
        mean=np.concatenate([np.where(std >= LEVEL_STD, y.mean(), 0.0), measure.effect_mean, 0.0 * knots]),
        std=np.concatenate([std, measure.effect_std, knots]),
        spread_median=np.array([measure.lawn_std, measure.day_std, measure.rest_std]),
        spread_log_std=np.array(SPREAD_LOG_STD),
    )
    data = mixed_data(y, np.column_stack([design, effects, drift]), lawn, len(names), day, noise)
    fit = fit_mixed(data, prior)
    rng = np.random.default_rng(11)
    unit = rng.standard_normal((DRAWS, fit.mean.shape[1]))
    drawn = draw_coefficients(fit, choose_points(fit, DRAWS, rng), unit)
    rows = np.column_stack([effects, 0.0 * drift, np.eye(len(names))[lawn]])
    usual, g = rows.mean(axis=0), design.shape[1]
    return MeasureFit(
        design=drawn[:, :g],
        usual=np.asarray(drawn[:, g:] @ usual),
        log_value=y,
        adjusted=y - (rows - usual) @ fit.coefficients[g:],
    )


def at_usual_circumstances(measure: Measure, mows: Sequence[Observed]) -> list[float]:
    """Each mow's figure as it would have been in the usual circumstances, with its trend kept.

    >>> from estimator.fitting.seasons.measures import CAPACITY
    >>> seen = [Observed(date(2024, 5, day), 10.0 - day / 8, 0.01) for day in (8, 16)]
    >>> [round(value, 2) for value in at_usual_circumstances(CAPACITY, seen)]
    [9.0, 8.0]
    """
    days = np.array([one.day.toordinal() for one in mows], float)
    design = np.column_stack([np.ones(len(mows)), (days - days.mean()) / DAYS_A_YEAR])
    return list(np.exp(fit_measure(measure, mows, design, [LEVEL_STD, SLOPE_STD]).adjusted).tolist())


def drift_columns(day: Whole) -> Array:
    """Hat functions (n, knots) over the days, one every `DRIFT_DAYS`; none where no mow is near.

    >>> drift_columns(np.array([0, 20, 40, 400])).tolist()
    [[1.0, 0.0, 0.0], [0.5, 0.5, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    """
    at = (day - day.min()) / DRIFT_DAYS
    knots = np.arange(np.ceil(at.max()) + 1)
    hats = np.maximum(1.0 - np.abs(at[:, None] - knots), 0.0)
    return np.asarray(hats[:, hats.any(axis=0)])


def percent(fraction: float) -> str:
    """A change as a signed percentage; below one per cent with a decimal, so that its sign shows.

    >>> percent(0.123), percent(0.004), percent(-0.0001)
    ('+12 %', '+0.4 %', '0 %')
    """
    value = 100 * fraction
    if abs(value) >= 0.95:
        return f"{round(value):+d} %"
    return f"{value:+.1f} %" if abs(value) >= 0.05 else "0 %"
