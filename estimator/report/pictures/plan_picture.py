"""The odds of finishing each lawn on one charge."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.plan import PlanAnswer
from estimator.predictor.lawns.lawns_per_charge import LawnsPerCharge
from estimator.report.pictures.style import CLAY, INK, RIVER, STRAW, new_figure, plain_axes, plain_legend
from estimator.report.words.text import odds


def plan_picture(answer: PlanAnswer) -> Figure:
    """One bar for each lawn in the order of mowing; the line is the certainty asked for."""
    of = len(answer.lawns)
    title = f"{answer.count} of {of} lawns finish on {answer.pack} with {100 * answer.sure:.0f} % certainty"
    spoken = "; ".join(f"{lawn.lawn} {odds(lawn.odds)}" for lawn in answer.lawns)
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
        axes.text(102, place, odds(lawn.odds), va="center", fontsize=9, color=INK)
    axes.axvline(100 * answer.sure, color=CLAY, linestyle="--", linewidth=1.4, label="certainty chosen")
    axes.set_xlim(0, 118)
    axes.set_xticks(range(0, 101, 20))
    axes.invert_yaxis()
    axes.grid(axis="y", visible=False)
    plain_legend(axes, loc="lower center", bbox_to_anchor=(0.5, 1.0))
