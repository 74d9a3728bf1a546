"""Pictures that look back and ahead: seasons, two groups of mows, the pack's life, earlier answers."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from estimator.errors import InputError
from estimator.report.pictures.style import (
    CLAY,
    DASHES,
    INK,
    PALETTE,
    RIVER,
    dressed,
    new_figure,
    plain_axes,
    plain_legend,
)
from estimator.report.words.text import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from estimator.answers.looking_back.compare import CompareAnswer
    from estimator.answers.looking_back.pack_life import PackLifeAnswer
    from estimator.answers.looking_back.seasons import SeasonsAnswer
    from estimator.answers.looking_back.track_record import TrackRecordAnswer
    from estimator.fitting.seasons.comparisons import GroupComparison
    from estimator.fitting.seasons.season_curves import SeasonCurves
    from estimator.predictor.fade_forecast import FadeForecast


def seasons_picture(answer: SeasonsAnswer) -> Figure:
    """Voltage [V] against charge drawn [Ah], one line and band for each season."""
    if answer.curves is None:
        raise InputError(
            f"{answer.pack} has no discharge curves to draw", mend="log a mow straight from the charger"
        )
    curves = answer.curves
    title = curves.changes[-1].sentence if curves.changes else f"{answer.pack} in one season"
    spoken = "; ".join(f"{curve.season}: {curve.mows} mows" for curve in curves.curves)
    figure = new_figure(
        title, f"Discharge curves of {answer.pack} by season. {spoken}.", width_in=8.0, height_in=5.0
    )
    draw_seasons(figure.add_subplot(), curves)
    return figure


def draw_seasons(axes: Axes, curves: SeasonCurves) -> None:
    """Voltage [V] against charge drawn [Ah], one line and band for each season."""
    at = f"voltage at {curves.power_w:.0f} W and {curves.temperature_c:.0f} °C [V]"
    dressed(axes, "charge drawn from full [Ah]", at)
    for place, curve in enumerate(curves.curves):
        colour = PALETTE[place % len(PALETTE)]
        axes.fill_between(curve.used_ah, curve.low_v, curve.high_v, color=colour, alpha=0.18, linewidth=0)
        axes.plot(
            curve.used_ah, curve.voltage_v, color=colour, linestyle=DASHES[place % len(DASHES)],
            linewidth=1.8, label=f"{curve.season} ({counted(curve.mows)}, {100 * curves.level:.0f} % band)",
        )  # fmt: skip
    plain_legend(axes, loc="best")


def compare_picture(answer: CompareAnswer) -> Figure:
    """One panel for each figure: the mows of both groups as points, the groups' levels with their bands."""
    title = answer.sentences[0] if answer.sentences else f"{answer.earlier} against {answer.later}"
    count = len(answer.comparisons)
    figure = new_figure(title, " ".join(answer.sentences), width_in=max(3.6 * count, 5.0), height_in=4.4)
    for place, comparison in enumerate(answer.comparisons, start=1):
        draw_comparison(figure.add_subplot(1, count, place), comparison)
    return figure


def draw_comparison(axes: Axes, comparison: GroupComparison) -> None:
    """The mows of each group as points, the groups' levels with their bands."""
    dressed(axes, "", f"{comparison.measure} [{comparison.unit}]")
    names = [group.group for group in comparison.groups]
    for at, (group, colour, sign) in enumerate(zip(comparison.groups, PALETTE, "osD^vP", strict=False)):
        values = [point.value for point in comparison.points if point.group == group.group]
        beside = [at - 0.12 + 0.24 * (k + 0.5) / len(values) for k in range(len(values))]
        axes.scatter(beside, values, s=16, color=colour, alpha=0.55, marker=sign, linewidths=0)
        axes.errorbar(
            at + 0.28, group.value, [[group.value - group.low], [group.high - group.value]],
            fmt=sign, color=INK, capsize=4, markersize=7, linewidth=1.4,
        )  # fmt: skip
    axes.set_xticks(range(len(names)), [_short(name) for name in names], fontsize=8)
    axes.set_xlim(-0.4, len(names) - 0.4)
    axes.grid(axis="x", visible=False)


def _short(name: str) -> str:
    return name if len(name) <= 16 else name.replace(" ", "\n", 1)


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
    # how the forecast goes on far below the need is of no use to anybody
    axes.set_ylim(bottom=min(0.5 * needed_ah, 0.9 * seen_ah.min()))
    axes.set_xlim(0, _last_shown(forecast))
    plain_legend(axes, loc="best")
    return figure


def _last_shown(forecast: FadeForecast) -> float:
    """The last mow shown: a little past the crossing, and at least twice as far as now and twenty mows on."""
    now, end = forecast.mows[0], forecast.mows[-1]
    far = 1.2 * forecast.high if isfinite(forecast.high) else end
    return min(max(far, 2 * now, now + 20), end)


def record_picture(answer: TrackRecordAnswer) -> Figure:
    """Each mow's band of energy [Wh] in order of time, and the energy it took."""
    spoken = "Energy of each mow as predicted from the mows before it, and as measured."
    figure = new_figure(answer.sentence, spoken, width_in=8.4)
    axes = plain_axes(figure, "mow, in the order of time", "energy [Wh]")
    for held, colour, name in ((True, RIVER, "within its band"), (False, CLAY, "outside its band")):
        places = [k for k, each in enumerate(answer.predicted) if each.held is held]
        mows = [answer.predicted[k] for k in places]
        if not mows:
            continue
        counted = [k + 1 for k in places]
        axes.vlines(
            counted, [each.energy_low_wh for each in mows], [each.energy_high_wh for each in mows],
            color=colour, linewidth=4, alpha=0.3,
        )  # fmt: skip
        axes.scatter(
            counted,
            [each.energy_came_wh for each in mows],
            s=26,
            color=colour,
            marker="o" if held else "X",
            label=name,
            zorder=3,
        )
    axes.set_ylim(bottom=0)
    plain_legend(axes, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)
    return figure
