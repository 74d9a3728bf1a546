"""The capacity of a pack mow by mow, from whatever shows it best, for trends and fade forecasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from estimator.fitting.pack.prior import LABEL_STD
from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.fade import FadeSeries, fade_draws, fade_series
from estimator.fitting.seasons.measures import Observed, capacity_observed
from estimator.fitting.seasons.relative_capacity import TELLING_MOWS, honest, relative_capacity
from estimator.results import result

RUN_DOWN_LOG_STD = 0.01
"""The charge drawn from full to the cut-off varies by at least this from mow to mow, with pace, warmth and
charger (common practice); a larger scatter is taken from the mows themselves."""
SCALE_LOG_STD = 0.04
"""However many mows agree, the fitted capacity as a whole may be off by this: what a slow discharge would
give is worked out from mows of less than an hour (0.046 in `tests/worlds`)."""
WILD = 2.0
"""The charge that mows drew to the cut-off needs no curve. The rest voltage replaces it only where it shows a
trend this many times better: simply taking the better of the two finds fades where there are none
(`tests/worlds`)."""
LEAST_SLOPE_V_AH = -1e-3
"""With volts that do not fall at all, the end could lie anywhere."""


@result
class CapacityHistory:
    """The capacity as each mow that shows it does so by itself.

    mow_number : counted from the pack's first mow; observed : one for each, with its own uncertainty
    scale_std : relative standard uncertainty that all of them share
    shown_by : "run down from full" or "rest voltage" where mows could be compared, else "fit"
    """

    mow_number: tuple[int, ...]
    observed: tuple[Observed, ...]
    scale_std: float
    shown_by: str

    def anchored(self, now_ah: float, log_std: float) -> CapacityHistory:
        """The history scaled so that its level after the last mow is what the pack is known to hold now.

        now_ah, log_std : that capacity [Ah] and its relative standard uncertainty, the least for `scale_std`
        """
        if not self.observed:
            return self
        held = replace(self, scale_std=max(self.scale_std, log_std))
        factor = now_ah / float(np.median(fade_draws(held.series()).capacity_ah[:, 0]))
        return replace(held, observed=tuple(replace(one, value=factor * one.value) for one in self.observed))

    def series(self) -> FadeSeries:
        """The history in the form that the fade forecast takes."""
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
    rated_log_std: float = LABEL_STD,
) -> CapacityHistory:
    """Capacity mow by mow of one pack, oldest first.

    days, capacity_ah, std_ah : day of each mow, and capacity with its standard uncertainty [Ah] as fitted
        after it
    curves : the discharge curve of each mow, None where it gave none
    series : cells in series; rated_ah, rated_log_std : capacity [Ah] before any mow, and how well its
        logarithm was known
    run_down : whether each mow ended at the cut-off; empty where that is not known

    A mow whose start charge only its voltage shows gives capacity and start charge together, by the curve
    learnt from the other mows: it adds to the fit but gives no figure of its own.

    Four or more mows are compared with each other, scaled to the fitted capacity: by what they drew from full
    to the cut-off or, where thick patches ended them anywhere, by their rest voltage. With fewer, each figure
    is what the mow added to the chain of fits (`capacity_observed`). Uncertainties are at least the scatter.

    >>> days = [date(2024, 5, 1), date(2024, 6, 1)]
    >>> found = capacity_history(days, [9.8, 9.7], [0.2, 0.15], [None, None], series=13, rated_ah=10.0)
    >>> found.shown_by, found.mow_number
    ('fit', (1, 2))
    """
    news = capacity_observed(capacity_ah, std_ah, days, rated_ah, rated_log_std)
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
    """Standard uncertainty of a straight trend through these mows, infinite where there are too few."""
    if len(seen) < TELLING_MOWS:
        return math.inf
    place, weight = np.array([one.place for one in seen]), np.array([one.log_std for one in seen]) ** -2.0
    return float((weight @ (place - np.average(place, weights=weight)) ** 2) ** -0.5)


def _run_down(
    curves: Sequence[DischargeCurve | None], days: Sequence[date], usual_ah: float, ended: Sequence[bool]
) -> tuple[Observed, ...]:
    """What mows from full to the cut-off drew, scaled so that their mean is the usual capacity [Ah].

    A thick patch stops the motor with some charge left. So each mow counts until its rest voltage fell to the
    upper quartile of those at which they ended.
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
    """Charge [Ah] drawn from full until the rest voltage fell to `rest_v` [V]; a curve that ended above that
    is continued along its last tenth."""
    drawn, rest = np.array(curve.used_ah) + (curve.start_ah or 0.0), np.minimum.accumulate(curve.rest_v)
    if rest[-1] <= rest_v:
        return float(np.interp(-rest_v, -rest, drawn))
    tail = max(3, len(rest) // 10)
    slope = (rest[-1] - rest[-tail]) / (drawn[-1] - drawn[-tail])
    return float(drawn[-1] + (rest_v - rest[-1]) / min(slope, LEAST_SLOPE_V_AH))
