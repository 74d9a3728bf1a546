"""A log as the meters gave it: amps and volts over time, gaps shown as gaps."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from estimator.importer.log import Log
from estimator.report.style import CLAY, RIVER, STRAW, new_figure, plain_axes

MOST_POINTS = 1500
"""A longer log is drawn by the lowest and highest reading of each stretch, so that no peak is lost."""


def log_picture(log: Log) -> Figure:
    """Amps above, volts below, over minutes; steps longer than the log's gap length are shaded."""
    time_s = log.readings["time_s"].to_numpy(float)
    current_a = log.readings["current_a"].to_numpy(float)
    voltage_v = log.readings["voltage_v"].to_numpy(float)
    gaps = np.flatnonzero(np.diff(time_s) > log.longest_step_s)
    extremes = f"up to {np.nanmax(current_a):.1f} A, down to {np.nanmin(voltage_v):.1f} V"
    title = f"{time_s[-1] / 60:.0f} minutes, {extremes}"
    figure = new_figure(
        title,
        f"Two curves over {time_s[-1] / 60:.0f} minutes. Current lies between {np.nanmin(current_a):.1f} and "
        f"{np.nanmax(current_a):.1f} A with a mean of {np.nanmean(current_a):.1f} A; voltage starts at "
        f"{voltage_v[0]:.1f} V and ends at {voltage_v[-1]:.1f} V. "
        f"{len(gaps) or 'No'} stretch{'' if len(gaps) == 1 else 'es'} without readings.",
        height_in=5.0,
    )
    for place, (values, label, colour) in enumerate(
        ((current_a, "current [A]", RIVER), (voltage_v, "voltage [V]", CLAY)), start=1
    ):
        axes = plain_axes(figure, "time [min]" if place == 2 else "", label, (2, 1, place))
        times, thinned = _thinned(time_s / 60, values)
        for piece in np.split(
            np.arange(len(times)), np.flatnonzero(np.diff(times) > log.longest_step_s / 60) + 1
        ):
            axes.plot(times[piece], thinned[piece], color=colour, linewidth=1.2)
        for gap in gaps:
            axes.axvspan(time_s[gap] / 60, time_s[gap + 1] / 60, color=STRAW, alpha=0.3, linewidth=0)
        axes.set_xlim(0, time_s[-1] / 60)
    return figure


def _thinned(times: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    if len(times) <= MOST_POINTS:
        return times, values
    kept: list[int] = []
    for piece in np.array_split(np.arange(len(times)), MOST_POINTS // 2):
        inside = values[piece]
        if np.all(np.isnan(inside)):
            kept.append(int(piece[0]))
            continue
        kept.extend(sorted({int(piece[np.nanargmin(inside)]), int(piece[np.nanargmax(inside)])}))
    return times[kept], values[kept]
