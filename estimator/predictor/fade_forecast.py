"""When a fading capacity will fall below a threshold, from the capacities seen so far."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from estimator.errors import InputError
from estimator.fitting.seasons.fade import FadeDraws, FadeSeries
from estimator.results import result

COURSE_POINTS = 101
"""Points of the course that is plotted."""
SHOWN = 0.75
"""A fade is shown where at least this share of the draws lose capacity. In `tests/worlds` that holds for 32
of 35 packs that lost 4 to 10 % in 24 mows, and for 4 of 47 that lost nothing."""


@result
class FadeForecast:
    """The mow from which on the capacity is below a threshold.

    mow, low, high : the mows at which the middle and the two ends of the course fall below it; from `mow` on,
        the capacity is more likely below it than not. Infinite where that does not happen within `horizon`,
        the last mow looked at; `mow` and `high` also where the mows show no fade
    chance_within : chance that the capacity is below the threshold at the horizon, if it goes on as seen
    shows_fade : whether the mows so far show a fade at all
    faded, faded_low, faded_high : share of the capacity that was lost by the last mow seen, with its band
    under_now : whether the capacity, judged by all mows so far, is below the threshold; None where its band
        straddles the threshold
    reached : where it is below, the first mow that showed this beyond its own error; else None
    mows, capacity_ah, low_ah, high_ah (n,) : the forecast course of the capacity, for plotting
    """

    threshold_ah: float
    level: float
    mow: float
    low: float
    high: float
    chance_within: float
    horizon: int
    shows_fade: bool
    faded: float
    faded_low: float
    faded_high: float
    under_now: bool | None
    reached: float | None
    mows: tuple[float, ...]
    capacity_ah: tuple[float, ...]
    low_ah: tuple[float, ...]
    high_ah: tuple[float, ...]


def shows_fade(future: FadeDraws) -> bool:
    """Whether the mows seen show a fade: at least `SHOWN` of the draws lose capacity."""
    return bool((future.faded > 0).mean() >= SHOWN)


def first_under(
    series: FadeSeries, future: FadeDraws, threshold_ah: float, level: float = 0.90
) -> FadeForecast:
    """The first mow at which the course of the drawn futures is below `threshold_ah` [Ah].

    Middle and band of the course decide, not each future's first touch: one low reading by chance is not the
    end of a pack, and the plotted line crosses the threshold where the sentence says.

    Raises InputError where the threshold is not above zero.

    >>> from estimator.fitting.seasons.fade import FadeDraws, fade_series
    >>> futures = FadeDraws(
    ...     np.array([10.0, 11.0, 12.0]), np.array([[9.0, 8.0, 7.0], [9.0, 8.5, 7.9]]), np.full(2, 0.1)
    ... )
    >>> found = first_under(fade_series([9, 10], [9.2, 9.0]), futures, threshold_ah=8.2)
    >>> found.low, found.mow, found.high, found.chance_within
    (11.0, 12.0, 12.0, 1.0)
    """
    if threshold_ah <= 0 or not math.isfinite(threshold_ah):
        raise InputError(f"threshold is {threshold_ah} Ah", mend="give a number above zero")
    ends = [0.5, 0.5 - level / 2, 0.5 + level / 2]
    course = np.quantile(future.capacity_ah, ends, axis=0)
    now_low_ah, now_high_ah = course[1:, 0]
    under_now = True if now_high_ah < threshold_ah else False if now_low_ah >= threshold_ah else None
    reached = _first_shown_under(series, threshold_ah, level) if under_now else None
    below = course < threshold_ah
    mow, low, high = np.where(below.any(axis=1), future.mows[below.argmax(axis=1)], math.inf).tolist()
    fades = shows_fade(future)
    if not fades:
        high = math.inf
        mow = mow if mow == future.mows[0] else math.inf
    if reached is not None:
        mow = low = high = reached
    chance = 1.0 if reached is not None else float((future.capacity_ah[:, -1] < threshold_ah).mean())
    shown = np.unique(np.round(np.linspace(0, len(future.mows) - 1, COURSE_POINTS)).astype(int))
    faded, faded_low, faded_high = (float(each) for each in np.quantile(future.faded, ends))
    return FadeForecast(
        threshold_ah=threshold_ah,
        level=level,
        mow=mow,
        low=low,
        high=high,
        chance_within=chance,
        horizon=int(future.mows[-1]),
        shows_fade=fades,
        faded=faded,
        faded_low=faded_low,
        faded_high=faded_high,
        under_now=under_now,
        reached=reached,
        mows=tuple(future.mows[shown].tolist()),
        capacity_ah=tuple(course[0, shown].tolist()),
        low_ah=tuple(course[1, shown].tolist()),
        high_ah=tuple(course[2, shown].tolist()),
    )


def _first_shown_under(series: FadeSeries, threshold_ah: float, level: float) -> float:
    """The first mow after which none showed a capacity over the threshold, and which showed one below it,
    each beyond its own error; the last mow where none shows that by itself."""
    std = np.hypot(series.std_ah, series.scale_std * series.capacity_ah)
    half = NormalDist().inv_cdf(0.5 + level / 2) * std
    over = np.flatnonzero(series.capacity_ah - half >= threshold_ah)
    later = slice(over[-1] + 1 if len(over) else 0, None)
    shown = series.number[later][(series.capacity_ah + half < threshold_ah)[later]]
    return float(shown[0] if len(shown) else series.number[-1])


def no_fade_words(found: FadeForecast) -> str:
    """Why no last mow is named, where the mows show no fade."""
    lost, least, most = (f"{100 * each:.0f}" for each in (found.faded, found.faded_low, found.faded_high))
    return f"the mows show no fade yet ({lost} % lost, within {least} to {most} %), so no last mow is named"
