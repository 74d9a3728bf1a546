"""One function that draws any result of the library that can be drawn."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from estimator.errors import InputError
from estimator.fitting.seasons.comparisons import GroupComparison
from estimator.fitting.seasons.season_curves import SeasonCurves
from estimator.importer.cleaning.mending import Examined
from estimator.importer.log import Log
from estimator.predictor.lawns.lawns_per_charge import LawnsPerCharge
from estimator.predictor.minutes import MinutesLeft
from estimator.predictor.sizing.recommend import RecommendedCapacity
from estimator.report.pictures.answer_pictures import draw_charge, draw_margin, draw_minutes, draw_odds
from estimator.report.pictures.log_picture import draw_log
from estimator.report.pictures.season_pictures import draw_comparison, draw_seasons
from estimator.report.pictures.style import dressed


def plot(result: Any, axes: Any = None) -> Any:
    """Draw a result on matplotlib axes.

    Parameters
    ----------
    result : Log, Examined, MinutesLeft, LawnsPerCharge, RecommendedCapacity, SeasonCurves, GroupComparison or
        the DataFrame of `charge_curve`
    axes : matplotlib Axes to draw on, two of them for a log; None makes a figure with them

    Returns
    -------
    matplotlib Axes, or an array of two for a log

    Raises
    ------
    InputError
        for a result that has no picture

    >>> import matplotlib; matplotlib.use("agg")
    >>> from estimator import Log
    >>> import pandas as pd
    >>> steady = pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 9.0, "voltage_v": [52.0, 51.8]})
    >>> [each.get_ylabel() for each in plot(Log(steady))]
    ['current [A]', 'voltage [V]']
    """
    if isinstance(result, (Log, Examined)):
        pair: Any = _made(2) if axes is None else np.ravel(axes)
        if isinstance(result, Log):
            draw_log(pair, result)
        else:
            draw_log(pair, result.log, result)
        return pair
    draw = _drawing(result)
    on: Axes = _made(1)[0] if axes is None else axes
    draw(on)
    return on


def _drawing(result: Any) -> Any:
    """The function that draws this result on one pair of axes."""
    if isinstance(result, MinutesLeft):
        return lambda on: draw_minutes(
            dressed(on, "minutes left [min]", "chance of still mowing [%]"), result
        )
    if isinstance(result, LawnsPerCharge):
        return lambda on: draw_odds(dressed(on, "odds of finishing [%]", ""), result)
    if isinstance(result, RecommendedCapacity):
        return lambda on: draw_margin(dressed(on, "capacity [Ah]", ""), result)
    if isinstance(result, SeasonCurves):
        return lambda on: draw_seasons(on, result)
    if isinstance(result, GroupComparison):
        return lambda on: draw_comparison(on, result)
    if {"time_s", "charge", "low", "high"} <= set(getattr(result, "columns", ())):
        return lambda on: draw_charge(dressed(on, "time [min]", "charge [%]"), result, 0.90)
    raise InputError(
        f"a {type(result).__name__} has no picture",
        mend="give a log, a charge curve, minutes left, a plan, a capacity, seasons or a comparison",
    )


def _made(count: int) -> Any:
    """`count` pairs of axes, one above the other, in a new figure that a notebook shows."""
    import matplotlib.pyplot as plt

    _, axes = plt.subplots(count, 1, figsize=(7.2, 2.2 + 1.4 * count), layout="constrained", squeeze=False)
    return np.ravel(axes)
