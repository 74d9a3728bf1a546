"""A fade forecast made directly from capacities seen, as `finish_forecast` makes it."""

from __future__ import annotations

from estimator.fitting.seasons.fade import FadeSeries, fade_draws
from estimator.predictor.fade_forecast import FadeForecast, first_under


def fade_forecast(
    series: FadeSeries, threshold_ah: float, *, level: float = 0.90, horizon: int = 500, seed: int = 7
) -> FadeForecast:
    return first_under(series, fade_draws(series, horizon=horizon, seed=seed), threshold_ah, level)
