"""A log as the meters gave it: amps and volts over time, gaps shown as gaps, mended stretches marked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.importer.cleaning.mending import Examined
from estimator.importer.cleaning.readings_in_work import Mark
from estimator.importer.log import Log
from estimator.report.pictures.style import (
    CLAY,
    INK,
    MOSS,
    PLUM,
    RIVER,
    STRAW,
    dressed,
    new_figure,
    plain_legend,
)

MOST_SPANS = 60
"""How many stretches are shaded at most; more cannot be told apart."""
MOST_POINTS = 1500
"""Of a log with more readings, only the lowest and highest of each stretch are drawn, so no peak is lost."""

_MARKED = {
    "gap": ("gap, not counted", STRAW, "////"),
    "overload": ("overload, left out", CLAY, "xxxx"),
    "asleep": ("no readings, filled in", STRAW, "...."),
    "missing": ("no reading", STRAW, "...."),
    "spike": ("spike, corrected", PLUM, ""),
    "stuck": ("stuck, left out", PLUM, "\\\\\\\\"),
    "saturated": ("end of the range", CLAY, "----"),
    "zero": ("zero taken here", MOSS, ""),
    "charging": ("charging, left out", RIVER, "++"),
    "dead": ("no volts, left out", INK, "o"),
}
_BESIDE = ("charging", "dead")
"""Marks that may lie before or after the kept log; the picture then shows some of what was left out there."""
_ROOM_BESIDE = 0.25
"""How much of that is shown, as a share of the length of the log."""


def log_picture(log: Log, examined: Examined | None = None, other: tuple[str, Log] | None = None) -> Figure:
    """Amps above, volts below, over minutes; steps longer than the log's gap length are shaded.

    examined : draws the readings as they were in the file thinly behind, marks each mended stretch, and shows
        up to a quarter of the log's length of what was left out before and after it
    other : the name of a second log and the log itself, drawn over the first, both from their start on
    """
    time_s = log.readings["time_s"].to_numpy(float)
    current_a = log.readings["current_a"].to_numpy(float)
    voltage_v = log.readings["voltage_v"].to_numpy(float)
    gaps = np.count_nonzero(np.diff(time_s) > log.longest_step_s)
    extremes = f"up to {np.nanmax(current_a):.1f} A, down to {np.nanmin(voltage_v):.1f} V"
    title = f"{time_s[-1] / 60:.0f} minutes, {extremes}"
    described = " ".join(m.said for m in _marks(examined))
    figure = new_figure(
        title,
        f"Two curves over {time_s[-1] / 60:.0f} minutes. Current lies between {np.nanmin(current_a):.1f} and "
        f"{np.nanmax(current_a):.1f} A with a mean of {np.nanmean(current_a):.1f} A; voltage starts at "
        f"{voltage_v[0]:.1f} V and ends at {voltage_v[-1]:.1f} V. "
        f"{gaps or 'No'} stretch{'' if gaps == 1 else 'es'} without readings. {described}".strip(),
        height_in=5.0,
    )
    pair = figure.add_subplot(2, 1, 1), figure.add_subplot(2, 1, 2)
    draw_log(pair, log, examined)
    if other is not None:
        _lay_over(pair, log, *other)
    return figure


def _lay_over(pair: Sequence[Axes], log: Log, name: str, other: Log) -> None:
    """Draw a second log over one that has been drawn."""
    time_s = other.readings["time_s"].to_numpy(float)
    longest_s = max(float(log.readings["time_s"].iloc[-1]), float(time_s[-1]))
    for axes, column, colour in zip(pair, ("current_a", "voltage_v"), (RIVER, CLAY), strict=True):
        this = next(line for line in axes.lines if line.get_color() == colour)
        this.set(label="this mow", color=RIVER)  # one legend for both panels
        values = other.readings[column].to_numpy(float)
        look = {"color": PLUM, "linewidth": 1.0, "zorder": 2.5, "alpha": 0.8}
        _draw(axes, time_s, values, other.longest_step_s, name, look)
        low, high = axes.get_ylim()
        axes.set_ylim(min(low, float(np.nanmin(values))), max(high, float(np.nanmax(values))))
        axes.set_xlim(right=longest_s / 60)
    plain_legend(pair[0], loc="upper center", ncols=4)


def draw_log(pair: Sequence[Axes], log: Log, examined: Examined | None = None) -> None:
    """Amps on the first axes, volts on the second, over time [min], with what was marked in the log."""
    time_s = log.readings["time_s"].to_numpy(float)
    steps = np.flatnonzero(np.diff(time_s) > log.longest_step_s)
    gaps = np.stack([time_s[steps], time_s[steps + 1]], axis=1) / 60
    marks = _marks(examined)
    first_s, last_s = _shown_s(marks, float(time_s[-1]))
    quantities = (("current_a", "current [A]", RIVER), ("voltage_v", "voltage [V]", CLAY))
    for place, (axes, (column, label, colour)) in enumerate(zip(pair, quantities, strict=True), start=1):
        values = log.readings[column].to_numpy(float)
        dressed(axes, "time [min]" if place == 2 else "", label)
        lowest, highest = float(np.nanmin(values)), float(np.nanmax(values))
        if examined is not None and examined.as_read is not None and marks:
            read = examined.as_read.current_a if place == 1 else examined.as_read.voltage_v
            if place == 1 and any(m.kind == "reversed" for m in examined.marks):
                read = -read
            behind = {"color": "0.55", "linewidth": 0.7, "zorder": 1}
            seen = (examined.as_read.time_s >= first_s) & (examined.as_read.time_s <= last_s)
            _draw(axes, examined.as_read.time_s[seen], read[seen], log.longest_step_s, "as read", behind)
            if place == 1 and any(m.kind == "charging" for m in marks):
                lowest = min(lowest, float(np.nanmin(read[seen])))
        kept = {"color": colour, "linewidth": 1.2, "zorder": 2}
        _draw(axes, time_s, values, log.longest_step_s, "as kept" if marks else "", kept)
        named: set[str] = set()
        for mark in marks:
            _shade(axes, mark, float(time_s[-1]), mark.kind not in named)
            named.add(mark.kind)
        if not marks:
            for gap in gaps[:MOST_SPANS]:
                shade = axes.axvspan(gap[0], gap[1], color=STRAW, alpha=0.3, linewidth=0)
                said = f"{60 * (gap[1] - gap[0]):.0f} s without readings, not counted in the charge used."
                shade.mowcharge_said = said  # type: ignore[attr-defined]
        axes.set_xlim(first_s / 60, max(last_s / 60, 0.1))
        room = max(0.06 * (highest - lowest), 0.2)
        axes.set_ylim(lowest - room, highest + room * (5 if marks and place == 1 else 1))
        if marks and place == 1:
            plain_legend(axes, loc="upper center", ncols=4)


def _marks(examined: Examined | None) -> list[Mark]:
    return [] if examined is None else [mark for mark in examined.marks if mark.kind in _MARKED]


def _shown_s(marks: Sequence[Mark], end_s: float) -> tuple[float, float]:
    """Start and end of the picture [s]: the kept log, and some of what was left out before and after it."""
    spans = [mark.spans_s for mark in marks if mark.kind in _BESIDE and len(mark.spans_s)]
    if not spans:
        return 0.0, end_s
    left_out, room = np.concatenate(spans), _ROOM_BESIDE * end_s
    return (max(-room, min(0.0, float(left_out.min()))), min(end_s + room, max(end_s, float(left_out.max()))))


def _draw(
    axes: Axes, time_s: np.ndarray, values: np.ndarray, longest_s: float, label: str, look: dict[str, Any]
) -> None:
    """One line, interrupted where a step is longer than what counts as measured."""
    times, thinned = _thinned(time_s / 60, values)
    ends = np.flatnonzero(np.diff(times) > longest_s / 60) + 1
    axes.plot(np.insert(times, ends, np.nan), np.insert(thinned, ends, np.nan), label=label, **look)


def _shade(axes: Axes, mark: Mark, last_s: float, named: bool) -> None:
    """Shade the stretches of a mark; a hatch tells it apart without colour.

    The hatch is drawn by itself: in one patch with the shade, SVG would give both the same colour.
    """
    label, colour, hatch = _MARKED[mark.kind]
    least = 0.004 * last_s
    for number, (start, end) in enumerate(mark.spans_s[:MOST_SPANS]):
        middle, half = (start + end) / 2, max((end - start) / 2, least / 2)
        ends, said = ((middle - half) / 60, (middle + half) / 60), "" if number or not named else label
        shade = axes.axvspan(
            *ends, color=colour, alpha=0.2, linewidth=0, zorder=0, label="" if hatch else said
        )  # fmt: skip
        shade.mowcharge_said = f"{mark.said.rstrip('.')}."  # type: ignore[attr-defined]
        if hatch:
            axes.axvspan(
                *ends, facecolor="none", edgecolor=colour, hatch=hatch, alpha=0.6, linewidth=0, zorder=0,
                label=said,
            )  # fmt: skip


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
