"""The capacity of a pack mow by mow, from whatever shows it best, ready for trends and fade forecasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.fade import FadeSeries, fade_draws, fade_series
from estimator.fitting.seasons.measures import Observed, capacity_observed
from estimator.fitting.seasons.relative_capacity import TELLING_MOWS, honest, relative_capacity
from estimator.results import shown

RUN_DOWN_LOG_STD = 0.01
"""What a mow from full to the cut-off draws differs by this at least from one to the next: pace, warmth and
charger (common practice); where the mows scatter more, they say so themselves."""
SCALE_LOG_STD = 0.04
"""However many mows agree, the fitted capacity may be off by this as a whole: what a slow discharge would
give is reckoned from mows in less than an hour (0.046 in `tests/worlds`)."""
WILD = 2.0
"""What mows drew to the cut-off needs no curve, and is left for the rest voltage only where that shows a
trend so many times better (`tests/worlds`: taking the better of the two outright calls fades where none
are)."""
LEAST_SLOPE_V_AH = -1e-3
"""Volts that do not fall at all would put the end anywhere."""


@shown
@dataclass(frozen=True)
class CapacityHistory:
    """What each telling mow by itself says of the capacity.

    mow_number : counted from the pack's first mow; observed : one for each, with its own uncertainty
    scale_std : relative standard uncertainty that all of them share
    shown_by : "run down from full" or "rest voltage" where mows could be held against each other, else "fit"
    """

    mow_number: tuple[int, ...]
    observed: tuple[Observed, ...]
    scale_std: float
    shown_by: str

    def anchored(self, now_ah: float, log_std: float) -> CapacityHistory:
        """The same, scaled so that the level after the last mow is what the pack is known to hold now.

        now_ah, log_std : that capacity [Ah] and its relative standard uncertainty: they share no less
        """
        if not self.observed:
            return self
        held = replace(self, scale_std=max(self.scale_std, log_std))
        factor = now_ah / float(np.median(fade_draws(held.series()).capacity_ah[:, 0]))
        return replace(held, observed=tuple(replace(one, value=factor * one.value) for one in self.observed))

    def series(self) -> FadeSeries:
        """As the fade forecast takes it."""
        value = np.array([one.value for one in self.observed])
        own = np.array([one.log_std for one in self.observed])
        return fade_series(self.mow_number, value, value * own, self.scale_std)


def capacity_history(
    days: Sequence[date],
    capacity_ah: Sequence[float],
    std_ah: Sequence[float],
    curves: Sequence[DischargeCurve | None],
    series: int,
    rated_ah: float,
    run_down: Sequence[bool] = (),
) -> CapacityHistory:
    """Capacity mow by mow of one pack, oldest first.

    days, capacity_ah, std_ah : day of each mow, and capacity with its standard uncertainty [Ah] as fitted
        after it
    curves : the discharge curve of each mow, None where it gave none
    series : cells in series; rated_ah : before any mow
    run_down : whether each mow ended at the cut-off; none where that is not known

    A mow that began at a charge which only its voltage tells shows capacity and start together, by the curve
    that the other mows taught: it teaches the fit, but is no figure of its own.

    Where four or more mows can be held against each other, by what they drew from full to the cut-off or,
    where thick patches ended those anywhere, by their rest voltage, that is taken, scaled to the fitted
    capacity; else each mow's own news in the chain of fits (`capacity_observed`). Uncertainties are widened
    to the scatter.

    >>> days = [date(2024, 5, 1), date(2024, 6, 1)]
    >>> found = capacity_history(days, [9.8, 9.7], [0.2, 0.15], [None, None], series=13, rated_ah=10.0)
    >>> found.shown_by, found.mow_number
    ('fit', (1, 2))
    """
    news = capacity_observed(capacity_ah, std_ah, days, rated_ah)
    begun = [curve is None or curve.start_ah is not None for curve in curves]
    news = tuple(one for one in news if begun[one.place])
    shown_by, shared = "fit", SCALE_LOG_STD
    if len(capacity_ah):
        fitted, std = np.array(capacity_ah, float), np.array(std_ah, float)
        usual = float(np.exp(np.average(np.log(fitted), weights=(fitted / std) ** 2)))
        run = honest(_run_down(curves, days, usual, run_down))
        rest = relative_capacity(curves, days, series, usual)
        by_run = _trend_std(run) < WILD * _trend_std(rest)
        if len(seen := run if by_run else rest) >= TELLING_MOWS:
            news, shown_by = seen, "run down from full" if by_run else "rest voltage"
            shared = max(shared, float(np.min(std / fitted)))
    return CapacityHistory(tuple(one.place + 1 for one in news), honest(news), shared, shown_by)


def _trend_std(seen: tuple[Observed, ...]) -> float:
    """Standard uncertainty of a straight trend through them, infinite where they are too few to tell one."""
    if len(seen) < TELLING_MOWS:
        return math.inf
    place, weight = np.array([one.place for one in seen]), np.array([one.log_std for one in seen]) ** -2.0
    return float((weight @ (place - np.average(place, weights=weight)) ** 2) ** -0.5)


def _run_down(
    curves: Sequence[DischargeCurve | None], days: Sequence[date], usual_ah: float, ended: Sequence[bool]
) -> tuple[Observed, ...]:
    """What mows from full to the cut-off drew, against each other; their mean is the usual capacity [Ah].

    A thick patch stops the motor with some charge left, so each counts until its rest voltage fell to the one
    at which three of four of them ended.
    """
    down = {
        place: curve
        for place, (curve, end) in enumerate(zip(curves, ended, strict=False))
        if end and curve is not None and curve.start_ah is not None
    }
    if not down:
        return ()
    rest_v = float(np.quantile([curve.rest_v[-1] for curve in down.values()], 0.75))
    drawn = {place: (_drawn_ah(curve, rest_v), curve.start_std_ah) for place, curve in down.items()}
    scale = usual_ah / float(np.exp(np.mean([math.log(ah) for ah, _ in drawn.values()])))
    return tuple(
        Observed(days[place], scale * ah, math.hypot(RUN_DOWN_LOG_STD, std_ah / ah), place=place)
        for place, (ah, std_ah) in drawn.items()
    )


def _drawn_ah(curve: DischargeCurve, rest_v: float) -> float:
    """Charge [Ah] drawn from full until the rest voltage fell to `rest_v` [V]; where it ended above that, its
    last tenth is carried on."""
    drawn, rest = np.array(curve.used_ah) + (curve.start_ah or 0.0), np.minimum.accumulate(curve.rest_v)
    if rest[-1] <= rest_v:
        return float(np.interp(-rest_v, -rest, drawn))
    tail = max(3, len(rest) // 10)
    slope = (rest[-1] - rest[-tail]) / (drawn[-1] - drawn[-tail])
    return float(drawn[-1] + (rest_v - rest[-1]) / min(slope, LEAST_SLOPE_V_AH))
