"""The track record: what was predicted beside what came."""

from __future__ import annotations

from matplotlib.figure import Figure

from estimator.answers.track_record import TrackRecordAnswer
from estimator.report.pictures.style import CLAY, RIVER, new_figure, plain_axes, plain_legend


def record_picture(answer: TrackRecordAnswer) -> Figure:
    """Each mow's band of energy [Wh] in the order of time, and the energy that came."""
    spoken = "Energy of each mow as predicted from the mows before it, and as measured."
    figure = new_figure(answer.sentence, spoken, width_in=8.4)
    axes = plain_axes(figure, "mow, in the order of time", "energy [Wh]")
    for held, colour, name in ((True, RIVER, "within its band"), (False, CLAY, "outside its band")):
        places = [k for k, each in enumerate(answer.predicted) if each.held is held]
        mows = [answer.predicted[k] for k in places]
        if not mows:
            continue
        counted = [k + 1 for k in places]
        axes.vlines(
            counted, [each.energy_low_wh for each in mows], [each.energy_high_wh for each in mows],
            color=colour, linewidth=4, alpha=0.3,
        )  # fmt: skip
        axes.scatter(
            counted,
            [each.energy_came_wh for each in mows],
            s=26,
            color=colour,
            marker="o" if held else "X",
            label=name,
            zorder=3,
        )
    axes.set_ylim(bottom=0)
    plain_legend(axes, loc="upper left")
    return figure
