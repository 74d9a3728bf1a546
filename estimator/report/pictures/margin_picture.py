"""The recommended capacity as a waterfall: what each part of the margin adds."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.capacity import CapacityAnswer
from estimator.predictor.sizing.recommend import RecommendedCapacity
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
    draw_margin(plain_axes(figure, "capacity [Ah]", ""), answer, f"{answer.pack} now", answer.now_ah)
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
            axes,
            place,
            floor,
            part.ah,
            colour,
            f"{part.ah:.1f}" if place == 0 else f"{part.ah:+.2f}",
            widest,
        )
        floor += part.ah
        axes.plot([floor, floor], [place, place + 1], color=INK, linewidth=0.6, linestyle=":")
    last = len(answer.parts)
    for place, (ah, colour) in enumerate([(answer.capacity_ah, CLAY), *((each, INK) for each in bought)]):
        _bar(axes, last + place, 0.0, ah, colour, f"{ah:.1f}", widest)
    if now:
        label = f"{now}, {now_ah:.1f} Ah"
        axes.axvline(now_ah, color=INK, linestyle="--", linewidth=1.0, label=label, zorder=0.5)
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
