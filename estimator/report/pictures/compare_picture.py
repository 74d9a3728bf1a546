"""Two groups of mows, each mow a point, under the same grass."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from estimator.answers.compare import CompareAnswer
from estimator.fitting.seasons.comparisons import GroupComparison
from estimator.report.pictures.style import INK, PALETTE, dressed, new_figure


def compare_picture(answer: CompareAnswer) -> Figure:
    """One panel for each figure: the mows of both groups as points, the groups' levels with their bands."""
    title = answer.sentences[0] if answer.sentences else f"{answer.earlier} against {answer.later}"
    count = len(answer.comparisons)
    figure = new_figure(title, " ".join(answer.sentences), width_in=max(3.6 * count, 5.0), height_in=4.4)
    for place, comparison in enumerate(answer.comparisons, start=1):
        draw_comparison(figure.add_subplot(1, count, place), comparison)
    return figure


def draw_comparison(axes: Axes, comparison: GroupComparison) -> None:
    """The mows of each group as points, the groups' levels with their bands."""
    dressed(axes, "", f"{comparison.measure} [{comparison.unit}]")
    names = [group.group for group in comparison.groups]
    for at, (group, colour, sign) in enumerate(zip(comparison.groups, PALETTE, "osD^vP", strict=False)):
        values = [point.value for point in comparison.points if point.group == group.group]
        beside = [at - 0.12 + 0.24 * (k + 0.5) / len(values) for k in range(len(values))]
        axes.scatter(beside, values, s=16, color=colour, alpha=0.55, marker=sign, linewidths=0)
        axes.errorbar(
            at + 0.28, group.value, [[group.value - group.low], [group.high - group.value]],
            fmt=sign, color=INK, capsize=4, markersize=7, linewidth=1.4,
        )  # fmt: skip
    axes.set_xticks(range(len(names)), [_short(name) for name in names], fontsize=8)
    axes.set_xlim(-0.4, len(names) - 0.4)
    axes.grid(axis="x", visible=False)


def _short(name: str) -> str:
    return name if len(name) <= 16 else name.replace(" ", "\n", 1)
