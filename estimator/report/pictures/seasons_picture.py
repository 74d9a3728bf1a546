"""Discharge curves of the seasons, laid over each other."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.seasons import SeasonsAnswer
from estimator.errors import InputError
from estimator.fitting.seasons.season_curves import SeasonCurves
from estimator.report.pictures.style import DASHES, PALETTE, dressed, new_figure, plain_legend


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
            linewidth=1.8, label=f"{curve.season} ({curve.mows} mows, {100 * curves.level:.0f} % band)",
        )  # fmt: skip
    plain_legend(axes, loc="best")
