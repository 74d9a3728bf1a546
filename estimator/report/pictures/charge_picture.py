"""The charge of the pack through one mow."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.charge_curve import ChargeOfMow
from estimator.answers.minutes import ChargeTrace
from estimator.report.pictures.style import RIVER, new_figure, plain_axes, plain_legend
from estimator.report.words.answer_text import percent


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
