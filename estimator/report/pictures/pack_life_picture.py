"""The capacity of a pack so far and to come, beside what the lawns need."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from estimator.answers.pack_life import PackLifeAnswer
from estimator.report.pictures.style import CLAY, INK, RIVER, new_figure, plain_axes, plain_legend

if TYPE_CHECKING:
    from estimator.predictor.fade_forecast import FadeForecast


def pack_life_picture(answer: PackLifeAnswer) -> Figure:
    """Capacity [Ah] against the number of mows, with the band of its forecast."""
    forecast, share = answer.forecast.fade, answer.pack_now.usable_share
    seen_ah, low_ah, high_ah, course_ah = (
        share * np.array(each)
        for each in (answer.capacity_ah, forecast.low_ah, forecast.high_ah, forecast.capacity_ah)
    )
    needed_ah = share * answer.forecast.needed_ah
    figure = new_figure(
        answer.forecast.sentence,
        f"Usable capacity of {answer.pack} after each mow, and its forecast.",
        width_in=8.0,
    )
    axes = plain_axes(figure, "mows of this pack", "usable capacity [Ah]")
    axes.errorbar(
        answer.mow_number, seen_ah, 1.645 * share * np.array(answer.capacity_std_ah),
        fmt="o", color=INK, markersize=3, linewidth=0.8, label="as each mow shows it, 90 % band",
    )  # fmt: skip
    axes.fill_between(forecast.mows, low_ah, high_ah, color=RIVER, alpha=0.2, linewidth=0)
    axes.plot(forecast.mows, course_ah, color=RIVER, linewidth=1.8, label="forecast with its band")
    axes.axhline(needed_ah, color=CLAY, linestyle="--", linewidth=1.4, label="what the lawns need")
    # far below the need nothing is asked of the forecast any more
    axes.set_ylim(bottom=min(0.5 * needed_ah, 0.9 * seen_ah.min()))
    axes.set_xlim(0, _last_shown(forecast))
    plain_legend(axes, loc="best")
    return figure


def _last_shown(forecast: FadeForecast) -> float:
    """A little past the crossing; as far again as the pack has come, and twenty mows on, in any case."""
    now, end = forecast.mows[0], forecast.mows[-1]
    far = 1.2 * forecast.high if isfinite(forecast.high) else end
    return min(max(far, 2 * now, now + 20), end)
