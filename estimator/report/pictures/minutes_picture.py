"""Charge so far and the minutes that are left, in one picture."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.minutes import MinutesAnswer
from estimator.predictor.minutes import MinutesLeft
from estimator.report.pictures.charge_picture import draw_charge
from estimator.report.pictures.style import CLAY, INK, STRAW, new_figure, plain_axes, plain_legend
from estimator.report.words.answer_text import percent


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
    """How likely the motor still turns after so many minutes [min], with band and middle."""
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
