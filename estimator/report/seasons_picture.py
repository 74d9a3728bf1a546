"""Discharge curves of the seasons, laid over each other."""

from __future__ import annotations

from matplotlib.figure import Figure

from estimator.answers.seasons import SeasonsAnswer
from estimator.report.style import DASHES, PALETTE, new_figure, plain_axes, plain_legend


def seasons_picture(answer: SeasonsAnswer) -> Figure:
    """Voltage [V] against charge drawn [Ah], one line and band for each season."""
    real = [change for change in answer.changes if change.real]
    title = (real[0] if real else answer.changes[0]).sentence if answer.changes else "One season so far"
    drawn = [season for season in answer.seasons if season.curve is not None]
    spoken = "; ".join(
        f"{season.season}: {season.mows} mows"
        + (f", {season.capacity_ah.value:.1f} Ah" if season.capacity_ah is not None else "")
        for season in answer.seasons
    )
    figure = new_figure(title, f"Discharge curves of {answer.pack} by season. {spoken}.", width_in=8.0)
    axes = plain_axes(figure, "charge drawn from full [Ah]", f"voltage at {answer.common_power_w:.0f} W, "
                      f"{answer.common_temperature_c:.0f} °C [V]")  # fmt: skip
    for place, season in enumerate(drawn):
        curve = season.curve
        if curve is None:
            continue
        colour = PALETTE[place % len(PALETTE)]
        axes.fill_between(curve.ah, curve.low_v, curve.high_v, color=colour, alpha=0.18, linewidth=0)
        axes.plot(
            curve.ah, curve.voltage_v, color=colour, linestyle=DASHES[place % len(DASHES)], linewidth=1.8,
            label=f"{season.season} ({season.mows} mows)",
        )  # fmt: skip
    if drawn:
        plain_legend(axes, loc="lower left")
    return figure
