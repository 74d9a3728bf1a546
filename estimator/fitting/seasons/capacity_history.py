"""The capacity of a pack mow by mow, from whatever shows it best, ready for trends and fade forecasts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.fade import FadeSeries, fade_series
from estimator.fitting.seasons.measures import Observed, capacity_observed
from estimator.fitting.seasons.relative_capacity import relative_capacity
from estimator.shown import shown

TELLING_MOWS = 4


@shown
@dataclass(frozen=True)
class CapacityHistory:
    """What each telling mow by itself says of the capacity.

    mow_number : counted from the pack's first mow; observed : one for each, with its own uncertainty
    scale_std : relative standard uncertainty that all of them share
    shown_by : "rest voltage" where mows could be held against each other, else "fit"
    """

    mow_number: tuple[int, ...]
    observed: tuple[Observed, ...]
    scale_std: float
    shown_by: str

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
) -> CapacityHistory:
    """Capacity mow by mow of one pack, oldest first.

    days, capacity_ah, std_ah : day of each mow, and capacity with its standard uncertainty [Ah] as fitted
        after it
    curves : the discharge curve of each mow, None where it gave none
    series : cells in series; rated_ah : before any mow

    A mow that began at a charge which only its voltage tells shows capacity and start together, by the curve
    that the other mows taught: it teaches the fit, but is no figure of its own.

    Where four or more mows can be held against each other by their rest voltage, that is taken, scaled to the
    fitted capacity; else each mow's own news in the chain of fits (`capacity_observed`).

    >>> days = [date(2024, 5, 1), date(2024, 6, 1)]
    >>> found = capacity_history(days, [9.8, 9.7], [0.2, 0.15], [None, None], series=13, rated_ah=10.0)
    >>> found.shown_by, found.mow_number
    ('fit', (1, 2))
    """
    news = capacity_observed(capacity_ah, std_ah, days, rated_ah)
    news = tuple(one for one in news if _starts_known(curves[one.place]))
    shared, shown_by = 0.0, "fit"
    if len(capacity_ah):
        fitted, std = np.array(capacity_ah, float), np.array(std_ah, float)
        usual = float(np.exp(np.average(np.log(fitted), weights=(fitted / std) ** 2)))
        compared = relative_capacity(curves, days, series, usual)
        if len(compared) >= TELLING_MOWS:
            news, shared, shown_by = compared, float(np.min(std / fitted)), "rest voltage"
    return CapacityHistory(tuple(one.place + 1 for one in news), news, shared, shown_by)


def _starts_known(curve: DischargeCurve | None) -> bool:
    return curve is None or curve.start_ah is not None
