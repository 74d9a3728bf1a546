"""Figures as SVG inside a web page: no inline styles, ids of their own, words for screen readers.

A picture is sent once and fits every width: curves stretch, type and strokes keep their size. Axes fill their
whole drawing; their labels hang over its edges, into margins that the style sheet leaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import count

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator, ScalarFormatter

from estimator.report.pictures.curves import GRID, Sheet, in_order, swatch
from estimator.report.pictures.style import INK, PALE

TYPE_PX = 14
"""Height of the type in a picture, the same on every screen."""

ROW_PX = 50
"""Height of the row of a bar that is listed by name, name included."""

PICTURE_STYLE = """
.plots { display: grid; gap: 0 1.2rem; grid-template-columns: minmax(0, 1fr); }
.plots.abreast { grid-template-columns: repeat(auto-fit, minmax(min(100%, 16rem), 1fr)); }
.plot { display: block; overflow: visible; margin: 36px 18px 54px 52px; width: calc(100% - 70px); }
.plot.listed { margin-left: 1px; width: calc(100% - 50px); margin-right: 49px; }
.plot > text { paint-order: stroke; stroke: var(--sheet, #ffffff); stroke-width: 4px; }
.plot .curves { overflow: hidden; }
.plot .curves path { vector-effect: non-scaling-stroke; }
.legend { list-style: none; padding: 0; margin: 0.4rem 0; display: flex; flex-wrap: wrap; gap: 0.2rem 1rem; }
.legend li { display: flex; align-items: center; gap: 0.45rem; }
.legend svg { width: 24px; height: 16px; flex: none; }
@media print { .plots { zoom: 0.7; } }
"""
"""The styles of pictures except their colours; the page's own style sheet ends with them."""

_numbers = count(1)


@dataclass(frozen=True)
class PagePicture:
    """A picture for a page: HTML with SVG inside, and its title in words."""

    html: str
    title: str


def page_picture(figure: Figure) -> PagePicture:
    """A figure of this package as a picture for a page.

    The figure's title is not drawn but given as text (`title`, and `<title>` inside). Styles are presentation
    attributes: a strict content-security policy forbids inline styles, and a style sheet can recolour
    attributes.

    >>> from estimator.report.pictures.style import new_figure, plain_axes
    >>> figure = new_figure("Charge falls", "From full to half.")
    >>> _ = plain_axes(figure, "time [min]", "charge [%]").plot([0, 30], [100, 50])
    >>> drawn = page_picture(figure)
    >>> drawn.title, "<desc" in drawn.html, "style=" in drawn.html
    ('Charge falls', True, False)
    """
    title, describing = figure.mowcharge_words  # type: ignore[attr-defined]
    name = f"p{next(_numbers)}"
    words = (
        f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(describing)}</desc>'
    )
    plots, legend = "", ""
    for place, axes in enumerate(figure.axes):
        sheet = Sheet(axes, f"{name}-{place}", _has_words(axes.yaxis))
        if axes.get_legend() is not None:
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
                legend += f"<li>{swatch(handle, sheet)}{escape(label)}</li>"
        plots += _plot(sheet, name, "" if place else words, figure.get_size_inches()[1] / _grid(axes)[0])
    abreast = " abreast" if any(_grid(axes)[1] > 1 for axes in figure.axes) else ""
    listed = f'<ul class="legend">{legend}</ul>' if legend else ""
    return PagePicture(f'{listed}<div class="plots{abreast}">{plots}</div>', title)


def _plot(sheet: Sheet, name: str, words: str, height_in: float) -> str:
    axes = sheet.axes
    for artist in in_order(axes):
        sheet.draw(artist)
    for text in axes.texts:
        x, y = sheet.places([text.get_position()], text)[0] / (GRID / 100)
        sheet.words.append(f'<text x="{x:.2f}%" y="{y:.2f}%" dy=".35em">{escape(text.get_text())}</text>')
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    height = ROW_PX * abs(y1 - y0) if sheet.named else min(max(72 * height_in, 170), 320)
    measured = ""
    if not sheet.named and not _has_words(axes.xaxis):
        measured = f' data-x="{x0:.8g} {x1:.8g}" data-y="{y0:.8g} {y1:.8g}"'
    return (
        f'<svg class="plot{" listed" if sheet.named else ""}" xmlns="http://www.w3.org/2000/svg" '
        f'width="100%" height="{height:.0f}" overflow="visible" font-size="{TYPE_PX}" fill="{INK}" '
        f'role="img" aria-labelledby="{name}-title" aria-describedby="{name}-desc"{measured} '
        f'data-across="{escape(axes.get_xlabel())}" data-up="{escape(axes.get_ylabel())}">{words}'
        f'<defs>{sheet.pattern_shapes()}</defs><g class="ticks">{_ticks(sheet)}</g>'
        f'<svg class="shades" width="100%" height="100%">{"".join(sheet.shades)}</svg>'
        f'<svg class="curves" width="100%" height="100%" viewBox="0 0 {GRID} {GRID}" '
        f'preserveAspectRatio="none">{"".join(sheet.curves)}</svg>{"".join(sheet.words)}'
        f'<text x="0" y="0" dx="{0 if sheet.named else -44}" dy="-14">{escape(axes.get_ylabel())}</text>'
        f'<text x="100%" y="100%" dy="44" text-anchor="end">{escape(axes.get_xlabel())}</text></svg>'
    )


def _ticks(sheet: Sheet) -> str:
    """The grid and the labels along it; the name of a bar goes above the bar."""
    axes, drawn = sheet.axes, '<g class="across">'
    for x, said in _written(axes.xaxis):
        at = f"{100 * sheet.across(x):.2f}%"
        if not _has_words(axes.xaxis):
            drawn += _rule(at, "0", at, "100%")
        lines = "".join(
            f'<tspan x="{at}" dy="{17 if place else 19}">{escape(each)}</tspan>'
            for place, each in enumerate(said.split("\n"))
        )
        drawn += f'<text y="100%" text-anchor="middle">{lines}</text>'
    drawn += "</g>"
    for y, said in _written(axes.yaxis):
        if sheet.named:
            drawn += f'<text y="{100 * sheet.down(y - 0.5):.2f}%" dy="17">{escape(said)}</text>'
            continue
        at = f"{100 * sheet.down(y):.2f}%"
        drawn += _rule("0", at, "100%", at)
        drawn += f'<text x="0" dx="-7" y="{at}" dy=".35em" text-anchor="end">{escape(said)}</text>'
    return drawn + _rule("0", "0", "0", "100%", INK) + _rule("0", "100%", "100%", "100%", INK)


def _rule(x1: str, y1: str, x2: str, y2: str, colour: str = PALE) -> str:
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{colour}"/>'


def _written(axis: Axis) -> list[tuple[float, str]]:
    """The labels along an axis: where they are, and their text."""
    low, high = sorted(axis.get_view_interval())
    locator = axis.get_major_locator()
    if isinstance(locator, NullLocator):
        return []
    if _has_words(axis):
        places = np.asarray(locator())
        return list(zip(places, (each.get_text() for each in axis.get_ticklabels()), strict=True))
    if not isinstance(locator, FixedLocator):
        locator = MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10])
    places = np.asarray(locator.tick_values(low, high))
    return [(at, f"{round(at, 9):g}") for at in places if low <= at <= high]


def _has_words(axis: Axis) -> bool:
    """Whether the labels along an axis are names and not numbers."""
    return isinstance(axis.get_major_locator(), FixedLocator) and not isinstance(
        axis.get_major_formatter(), ScalarFormatter
    )


def _grid(axes: Axes) -> tuple[int, int]:
    """Rows and columns of axes in the figure."""
    spec = axes.get_subplotspec()
    return (1, 1) if spec is None else spec.get_gridspec().get_geometry()
