"""When a fading capacity will first fall under a threshold, from the capacities seen so far."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from estimator.errors import InputError
from estimator.fitting.seasons.fade import FadeDraws, FadeSeries, fade_draws
from estimator.shown import shown

Array = NDArray[np.float64]

COURSE_POINTS = 101


@shown
@dataclass(frozen=True)
class FadeForecast:
    """The mow at which capacity first falls under the threshold.

    mow, low, high : median and band; infinite where that share of the futures does not cross within `horizon`
    chance_within : chance that it crosses at all within `horizon`, the last mow looked at
    under_now : whether the capacity, by all mows so far, is under the threshold; None where its band
        straddles it
    reached : where it is under, the mow that first showed so beyond its own error; else None
    mows, capacity_ah, low_ah, high_ah (n,) : the forecast course of capacity, for drawing
    """

    threshold_ah: float
    level: float
    mow: float
    low: float
    high: float
    chance_within: float
    horizon: int
    under_now: bool | None
    reached: float | None
    mows: tuple[float, ...]
    capacity_ah: tuple[float, ...]
    low_ah: tuple[float, ...]
    high_ah: tuple[float, ...]
    sentence: str


def fade_forecast(
    series: FadeSeries, threshold_ah: float, *, level: float = 0.90, horizon: int = 500, seed: int = 7
) -> FadeForecast:
    """The mow at which capacity first falls under `threshold_ah` [Ah].

    series : the capacities so far (`fade_series`); horizon : how many mows to look ahead

    >>> from estimator.fitting.seasons.fade import fade_series
    >>> seen = np.arange(1, 61)
    >>> found = fade_forecast(fade_series(seen, 10.0 - 0.02 * seen), threshold_ah=8.0)
    >>> found.low <= 100 <= found.high, found.reached
    (True, None)
    """
    return first_under(series, fade_draws(series, horizon=horizon, seed=seed), threshold_ah, level)


def first_under(
    series: FadeSeries, future: FadeDraws, threshold_ah: float, level: float = 0.90
) -> FadeForecast:
    """The first mow under `threshold_ah` [Ah] in futures that are drawn already.

    Raises InputError where the threshold is not above zero.

    >>> from estimator.fitting.seasons.fade import FadeDraws, fade_series
    >>> futures = FadeDraws(np.array([10.0, 11.0, 12.0]), np.array([[9.0, 8.0, 7.0], [9.0, 8.5, 7.9]]))
    >>> found = first_under(fade_series([9, 10], [9.2, 9.0]), futures, threshold_ah=8.2)
    >>> found.low, found.high, found.chance_within
    (11.0, 12.0, 1.0)
    """
    if threshold_ah <= 0 or not math.isfinite(threshold_ah):
        raise InputError(f"threshold is {threshold_ah} Ah", mend="give a number above zero")
    under = future.capacity_ah < threshold_ah
    first = np.where(under.any(axis=1), future.mows[under.argmax(axis=1)], np.inf)
    now_low_ah, now_high_ah = np.quantile(future.capacity_ah[:, 0], [0.5 - level / 2, 0.5 + level / 2])
    under_now = True if now_high_ah < threshold_ah else False if now_low_ah >= threshold_ah else None
    reached = _first_shown_under(series, threshold_ah, level) if under_now else None
    mow, low, high = (_quantile(first, q) for q in (0.5, 0.5 - level / 2, 0.5 + level / 2))
    if reached is not None:
        mow = low = high = reached
    shown = np.unique(np.round(np.linspace(0, len(future.mows) - 1, COURSE_POINTS)).astype(int))
    course = np.quantile(future.capacity_ah[:, shown], [0.5, 0.5 - level / 2, 0.5 + level / 2], axis=0)
    chance = float(np.mean(np.isfinite(first)))
    return FadeForecast(
        threshold_ah=threshold_ah,
        level=level,
        mow=mow,
        low=low,
        high=high,
        chance_within=1.0 if reached is not None else chance,
        horizon=int(future.mows[-1]),
        under_now=under_now,
        reached=reached,
        mows=tuple(future.mows[shown].tolist()),
        capacity_ah=tuple(course[0].tolist()),
        low_ah=tuple(course[1].tolist()),
        high_ah=tuple(course[2].tolist()),
        sentence=(
            f"Whether capacity is under {threshold_ah:.2f} Ah already, the mows cannot tell: it is "
            f"{now_low_ah:.2f} to {now_high_ah:.2f} Ah."
            if under_now is None and mow == future.mows[0]
            else _sentence(threshold_ah, mow, low, high, reached, int(future.mows[-1]), chance)
        ),
    )


def _first_shown_under(series: FadeSeries, threshold_ah: float, level: float) -> float:
    """The first mow that showed a capacity under the threshold beyond its error, after the last that showed
    one over it; the last mow where none did so by itself."""
    std = np.hypot(series.std_ah, series.scale_std * series.capacity_ah)
    half = float(norm.ppf(0.5 + level / 2)) * std
    over = np.flatnonzero(series.capacity_ah - half >= threshold_ah)
    later = slice(over[-1] + 1 if len(over) else 0, None)
    shown = series.number[later][(series.capacity_ah + half < threshold_ah)[later]]
    return float(shown[0] if len(shown) else series.number[-1])


def _quantile(first: Array, q: float) -> float:
    """Quantile of crossings of which some may be infinite (no interpolation)."""
    return float(np.sort(first)[min(int(q * len(first)), len(first) - 1)])


def _sentence(
    threshold: float, mow: float, low: float, high: float, reached: float | None, horizon: int, chance: float
) -> str:
    if reached is not None:
        return f"Capacity was under {threshold:.2f} Ah at mow {reached:.0f} already."
    if not math.isfinite(mow):
        return (
            f"Capacity most likely stays over {threshold:.2f} Ah up to mow {horizon} "
            f"(chance {100 * (1 - chance):.0f} %); no sudden fall is foreseen or ruled out."
        )
    until = f"{high:.0f}" if math.isfinite(high) else f"beyond {horizon}"
    return (
        f"Capacity is likely to fall under {threshold:.2f} Ah at about mow {mow:.0f} ({low:.0f} to {until}); "
        "a sudden fall would come earlier and cannot be foreseen."
    )
