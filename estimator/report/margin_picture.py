"""The recommended capacity as a waterfall: what each part of the margin adds."""

from __future__ import annotations

from matplotlib.figure import Figure

from estimator.answers.capacity import CapacityAnswer
from estimator.report.style import CLAY, INK, MOSS, RIVER, STRAW, new_figure, plain_axes


def margin_picture(answer: CapacityAnswer) -> Figure:
    """Bars that climb from the mean need to the recommended capacity [Ah]."""
    title = (
        f"{answer.capacity_ah:.1f} Ah finish {_lawns(answer)} with {answer.sure:.0%} certainty; "
        f"build or buy {answer.choice.capacity_ah:.1f} Ah"
    )
    spoken = ", ".join(f"{part.name} {part.ah:+.2f} Ah" for part in answer.parts)
    figure = new_figure(title, f"Parts of the recommended capacity: {spoken}.", width_in=8.4, height_in=4.8)
    axes = plain_axes(figure, "", "capacity [Ah]")
    names = [*(part.name for part in answer.parts), "recommended", "to buy"]
    floor = 0.0
    for place, part in enumerate(answer.parts):
        colour = RIVER if place == 0 else STRAW if part.ah >= 0 else MOSS
        axes.bar(place, part.ah, bottom=floor, color=colour, edgecolor=INK, linewidth=0.6, width=0.66)
        top = floor + part.ah
        axes.text(
            place, max(floor, top), _signed(part.ah, first=place == 0), ha="center", va="bottom", fontsize=9
        )
        axes.plot([place, place + 1], [top, top], color=INK, linewidth=0.6, linestyle=":")
        floor = top
    last = len(answer.parts)
    for place, (ah, colour) in enumerate(
        ((answer.capacity_ah, CLAY), (answer.choice.capacity_ah, INK)), start=last
    ):
        axes.bar(place, ah, color=colour, edgecolor=INK, linewidth=0.6, width=0.66)
        axes.text(place, ah, f"{ah:.1f}", ha="center", va="bottom", fontsize=9)
    if answer.now_ah:
        axes.axhline(answer.now_ah, color=INK, linestyle="--", linewidth=1.0)
        axes.text(0.01, answer.now_ah, f"{answer.pack} now, {answer.now_ah:.1f} Ah", fontsize=8, va="bottom",
                  transform=axes.get_yaxis_transform(), bbox={"color": "white", "pad": 1})  # fmt: skip
    axes.set_xticks(range(len(names)), names, rotation=30, ha="right")
    axes.grid(axis="x", visible=False)
    axes.margins(y=0.12)
    return figure


def _lawns(answer: CapacityAnswer) -> str:
    return answer.lawns[0] if len(answer.lawns) == 1 else f"{len(answer.lawns)} lawns"


def _signed(ah: float, first: bool) -> str:
    return f"{ah:.1f}" if first else f"{ah:+.2f}"
