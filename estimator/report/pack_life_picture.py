"""The capacity of a pack so far and to come, beside what the lawns need."""

from __future__ import annotations

from math import isfinite

from matplotlib.figure import Figure

from estimator.answers.pack_life import PackLifeAnswer
from estimator.report.style import CLAY, INK, RIVER, new_figure, plain_axes, plain_legend


def pack_life_picture(answer: PackLifeAnswer) -> Figure:
    """Capacity [Ah] against the number of mows, with the band of its forecast."""
    forecast = answer.forecast.fade
    figure = new_figure(
        forecast.sentence, f"Capacity of {answer.pack} after each mow, and its forecast.", width_in=8.0
    )
    axes = plain_axes(figure, "mows of this pack", "capacity [Ah]")
    axes.errorbar(
        answer.mow_number, answer.capacity_ah, [1.645 * each for each in answer.capacity_std_ah],
        fmt="o", color=INK, markersize=3, linewidth=0.8, label="as each mow shows it, 90 % band",
    )  # fmt: skip
    axes.fill_between(forecast.mows, forecast.low_ah, forecast.high_ah, color=RIVER, alpha=0.2, linewidth=0)
    axes.plot(forecast.mows, forecast.capacity_ah, color=RIVER, linewidth=1.8, label="forecast with its band")
    axes.axhline(
        answer.forecast.needed_ah, color=CLAY, linestyle="--", linewidth=1.4, label="what the lawns need"
    )
    # far below the need nothing is asked of the forecast any more
    axes.set_ylim(bottom=0.5 * answer.forecast.needed_ah)
    if isfinite(forecast.high):
        axes.set_xlim(0, min(1.2 * forecast.high, forecast.mows[-1]))
    plain_legend(axes, loc="lower left")
    return figure
