"""Pictures of answers used before and while mowing: charge, minutes left, odds of lawns, the pack to buy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from estimator.report.pictures.style import (
    CLAY,
    INK,
    MOSS,
    RIVER,
    STRAW,
    new_figure,
    plain_axes,
    plain_legend,
)
from estimator.report.words.answer_text import percent
from estimator.results import odds

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from estimator.answers.capacity import CapacityAnswer
    from estimator.answers.charge_curve import ChargeOfMow
    from estimator.answers.minutes import ChargeTrace, MinutesAnswer
    from estimator.answers.plan import PlanAnswer
    from estimator.predictor.lawns.lawns_per_charge import LawnsPerCharge
    from estimator.predictor.minutes import MinutesLeft
    from estimator.predictor.sizing.recommend import RecommendedCapacity


def charge_picture(answer: ChargeOfMow) -> Figure:
    """Charge [%] over time [min] with its band."""
    start = answer.trace.charge[0]
    title = f"{answer.pack} went from {100 * start:.0f} to {100 * answer.charge:.0f} % in this mow"
    figure = new_figure(
        title,
        f"Charge falls from {percent(start)} to {percent(answer.charge)} over "
        f"{answer.trace.time_s[-1] / 60:.0f} minutes; at the end it lies between {percent(answer.low)} and "
        f"{percent(answer.high)} with {percent(answer.level)} certainty.",
    )
    draw_charge(plain_axes(figure, "time [min]", "charge [%]"), answer.trace, answer.level)
    return figure


def draw_charge(axes: Axes, trace: ChargeTrace | pd.DataFrame, level: float) -> None:
    """Charge [%] over time [min] with its band, from time_s [s], charge, low and high [0..1]."""
    minutes = np.asarray(trace.time_s, float) / 60
    low, high, middle = (100 * np.asarray(each, float) for each in (trace.low, trace.high, trace.charge))
    band = f"{100 * level:.0f} % band"
    axes.fill_between(minutes, low, high, color=RIVER, alpha=0.22, linewidth=0, label=band)
    axes.plot(minutes, middle, color=RIVER, linewidth=1.8, label="charge")
    axes.set_ylim(0, 105)
    axes.set_xlim(left=0)
    plain_legend(axes, loc="best")


def minutes_picture(answer: MinutesAnswer) -> Figure:
    """Left: charge with its band over the mow so far. Right: how likely each number of minutes left is."""
    likely = f"{answer.low:.0f} to {answer.high:.0f}"
    title = f"About {answer.minutes:.0f} minutes left on {answer.pack}, {likely} likely"
    figure = new_figure(
        title,
        f"Charge falls from {percent(answer.trace.charge[0])} to {percent(answer.charge)} "
        f"over {answer.measured_minutes:.0f} minutes. The minutes left lie in {likely} with "
        f"{percent(answer.level)} certainty, the middle is {answer.minutes:.0f}.",
        width_in=9.0,
    )
    so_far = plain_axes(figure, "time [min]", "charge [%]", (1, 2, 1))
    draw_charge(so_far, answer.trace, answer.level)
    so_far.set_title("Charge so far", loc="left", fontsize=10, color=INK)
    left = plain_axes(figure, "minutes left [min]", "chance of still mowing [%]", (1, 2, 2))
    draw_minutes(left, answer)
    left.set_title("Still mowing after", loc="left", fontsize=10, color=INK)
    return figure


def draw_minutes(left: Axes, answer: MinutesAnswer | MinutesLeft) -> None:
    """The chance that the motor still turns after each number of minutes [min], with band and median."""
    ends = np.asarray(answer.ends_min)
    ends = ends[np.isfinite(ends)]
    if ends.size:
        still = 100 * (1 - (np.arange(ends.size) + 0.5) / len(answer.ends_min))
        left.plot(np.concatenate([[0], ends]), np.concatenate([[100], still]), color=INK, linewidth=1.8)
    left.axvspan(
        answer.low, min(answer.high, left.get_xlim()[1]), color=STRAW, alpha=0.3, linewidth=0, label="band"
    )
    if np.isfinite(answer.minutes):
        left.axvline(answer.minutes, color=CLAY, linestyle="--", linewidth=1.4, label="middle")
    left.set_xlim(left=0)
    left.set_ylim(0, 105)
    plain_legend(left, loc="upper right")


def plan_picture(answer: PlanAnswer) -> Figure:
    """One bar for each lawn in the order of mowing; the line is the certainty asked for."""
    of = len(answer.lawns)
    title = f"{answer.count} of {of} lawns finish on {answer.pack} with {100 * answer.sure:.0f} % certainty"
    spoken = "; ".join(f"{lawn.lawn} {odds(lawn.odds, answer.sure)}" for lawn in answer.lawns)
    figure = new_figure(title, f"Odds of finishing each lawn in order: {spoken}.", height_in=1.8 + 0.42 * of)
    draw_odds(plain_axes(figure, "odds of finishing [%]", ""), answer)
    return figure


def draw_odds(axes: Axes, answer: PlanAnswer | LawnsPerCharge) -> None:
    """One bar for each lawn in the order of mowing; the line is the certainty asked for."""
    places = range(len(answer.lawns))
    colours = [RIVER if lawn.odds >= answer.sure else STRAW for lawn in answer.lawns]
    hatches = ["" if lawn.odds >= answer.sure else "//" for lawn in answer.lawns]
    axes.barh(
        list(places), [100 * lawn.odds for lawn in answer.lawns], color=colours, hatch=hatches,
        edgecolor=INK, linewidth=0.6, height=0.62,
    )  # fmt: skip
    axes.set_yticks(list(places), [f"{lawn.lawn}, {lawn.area_m2:.0f} m²" for lawn in answer.lawns])
    for place, lawn in zip(places, answer.lawns, strict=True):
        axes.text(102, place, odds(lawn.odds, answer.sure), va="center", fontsize=9, color=INK)
    axes.axvline(100 * answer.sure, color=CLAY, linestyle="--", linewidth=1.4, label="certainty chosen")
    axes.set_xlim(0, 118)
    axes.set_xticks(range(0, 101, 20))
    axes.invert_yaxis()
    axes.grid(axis="y", visible=False)
    plain_legend(axes, loc="lower center", bbox_to_anchor=(0.5, 1.0))


def margin_picture(answer: CapacityAnswer) -> Figure:
    """Bars that step from the mean need to the recommended capacity [Ah], from the top down."""
    bought = [] if answer.choice is None else [answer.choice.capacity_ah]
    title = (
        f"{answer.capacity_ah:.1f} Ah finish {_lawns(answer)} with {100 * answer.sure:g} % certainty; "
        + (f"build or buy {bought[0]:g} Ah" if bought else "none of the sizes on offer is enough")
    )
    spoken = ", ".join(f"{part.name} {part.ah:+.2f} Ah" for part in answer.parts)
    names = [*(part.name for part in answer.parts), "recommended", *(["to buy"] if bought else [])]
    figure = new_figure(
        title,
        f"Parts of the recommended capacity: {spoken}.",
        width_in=7.2,
        height_in=1.4 + 0.36 * len(names),
    )
    draw_margin(
        plain_axes(figure, "capacity [Ah]", ""), answer, f"{answer.pack}, {answer.rated}", answer.now_ah
    )
    return figure


def draw_margin(
    axes: Axes, answer: CapacityAnswer | RecommendedCapacity, now: str = "", now_ah: float = 0.0
) -> None:
    """Bars that step from the mean need to the recommended capacity [Ah]; a line at the pack in use."""
    bought = [] if answer.choice is None else [answer.choice.capacity_ah]
    names = [*(part.name for part in answer.parts), "recommended", *(["to buy"] if bought else [])]
    widest = max(answer.capacity_ah, now_ah, *bought)
    floor = 0.0
    for place, part in enumerate(answer.parts):
        colour = RIVER if place == 0 else STRAW if part.ah >= 0 else MOSS
        _bar(
            axes, place, floor, part.ah, colour, f"{part.ah:.2f}" if place == 0 else f"{part.ah:+.2f}", widest
        )
        floor += part.ah
        axes.plot([floor, floor], [place, place + 1], color=INK, linewidth=0.6, linestyle=":")
    last = len(answer.parts)
    for place, (ah, colour) in enumerate([(answer.capacity_ah, CLAY), *((each, INK) for each in bought)]):
        _bar(axes, last + place, 0.0, ah, colour, f"{ah:.1f}", widest)
    if now:
        axes.axvline(now_ah, color=INK, linestyle="--", linewidth=1.0, label=now, zorder=0.5)
    axes.set_yticks(range(len(names)), names)
    axes.set_xlim(0, 1.12 * widest)
    axes.invert_yaxis()
    axes.grid(axis="y", visible=False)
    if now:
        plain_legend(axes, loc="lower center", bbox_to_anchor=(0.5, 1.0))


def _bar(axes: Axes, place: int, left: float, ah: float, colour: str, label: str, widest: float) -> None:
    axes.barh(place, ah, left=left, color=colour, edgecolor=INK, linewidth=0.6, height=0.66)
    axes.text(max(left, left + ah) + 0.01 * widest, place, label, va="center", fontsize=9, color=INK)


def _lawns(answer: CapacityAnswer) -> str:
    return answer.lawns[0] if len(answer.lawns) == 1 else f"{len(answer.lawns)} lawns"
