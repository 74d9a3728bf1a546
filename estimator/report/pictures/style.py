"""The look of every figure: one palette that colour-blind readers can tell apart, one way to write files."""

from __future__ import annotations

import io
from html import escape
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from estimator.errors import InputError
from estimator.report.words.text import INSIDE_A_FIGURE

INK = "#2b2f1c"
RIVER = "#1549b5"
CLAY = "#b54c0e"
MOSS = "#8f9772"
PLUM = "#69155d"
STRAW = "#eeab22"
PALETTE = (RIVER, CLAY, PLUM, STRAW, MOSS, INK)
"""Colours that can be told apart with protanopia, deuteranopia and tritanopia; a test checks it."""
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 1)))
"""Dashes that tell lines apart without colour, in the order of the palette."""
PAPER = "#ffffff"
PALE = "#d9dbcf"


class PlainFigure(Figure):
    """A figure in which text stays text: a name with two dollar signs is never taken for a formula."""

    def draw(self, renderer: RendererBase) -> None:
        """Draw it."""
        for text in self.findobj(Text):
            assert isinstance(text, Text)
            if not text.get_wrap():  # wrapped text needs formulas on in matplotlib: see new_figure
                text.set_parse_math(False)
        super().draw(renderer)


def new_figure(title: str, describing: str, width_in: float = 7.2, height_in: float = 4.4) -> Figure:
    """An empty figure with its title; `describing` is read aloud by screen readers.

    It uses no global plotting state, so several threads may draw figures at once.
    """
    figure = PlainFigure(figsize=(width_in, height_in), facecolor=PAPER, layout="constrained")
    FigureCanvasAgg(figure)
    shown = INSIDE_A_FIGURE.sub(
        "\u00a0", title.replace("$", r"\$")
    )  # no line ends between a figure and its unit
    figure.suptitle(shown, x=0.01, ha="left", fontsize=12, color=INK, wrap=True)
    figure.mowcharge_words = (title, describing)  # type: ignore[attr-defined]
    return figure


def plain_axes(
    figure: Figure, x_label: str, y_label: str, position: tuple[int, int, int] = (1, 1, 1)
) -> Axes:
    """Axes with labels and a faint grid, without a box around them."""
    return dressed(figure.add_subplot(*position), x_label, y_label)


def dressed(axes: Axes, x_label: str, y_label: str) -> Axes:
    """The axes with labels and a faint grid, without a box around them."""
    axes.set_xlabel(x_label, color=INK)
    axes.set_ylabel(y_label, color=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(INK)
    axes.tick_params(colors=INK)
    axes.grid(color=PALE, linewidth=0.6)
    axes.set_axisbelow(True)
    return axes


def plain_legend(axes: Axes, **where: Any) -> None:
    """A legend without an edge, on a pale ground, so that it can be read over what is drawn behind it."""
    axes.legend(
        facecolor=PAPER, edgecolor="none", framealpha=0.85, fancybox=False, labelcolor=INK, fontsize=9,
        **where,
    )  # fmt: skip


def picture(figure: Figure, kind: str = "svg") -> bytes:
    """The figure as SVG or PNG; an SVG holds a title and a description for screen readers."""
    held = io.BytesIO()
    if kind == "png":
        figure.savefig(held, format="png", dpi=130)
        return held.getvalue()
    figure.savefig(held, format="svg", metadata={"Date": None, "Creator": None})
    title, describing = figure.mowcharge_words  # type: ignore[attr-defined]
    text = held.getvalue().decode("utf-8")
    start = text.index("<svg")
    inside = text.index(">", start)
    words = f"\n <title>{escape(title)}</title>\n <desc>{escape(describing)}</desc>"
    return (text[:inside] + ' role="img"' + text[inside : inside + 1] + words + text[inside + 1 :]).encode(
        "utf-8"
    )


def write_picture(figure: Figure, path: str | Path) -> Path:
    """Write the figure to a .png or .svg file."""
    path = Path(path)
    kind = path.suffix.lower().lstrip(".")
    if kind not in ("png", "svg"):
        raise InputError(
            f"picture {path.name}: {path.suffix or 'no ending'!r}", mend="end its name in .png or .svg"
        )
    content = picture(figure, kind)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise InputError(
            f"picture cannot be written ({error.strerror})", file=path, mend="choose another place"
        ) from None
    return path
