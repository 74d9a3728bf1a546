"""Figures as SVG that can stand inside a web page: no inline styles, own ids, words for screen readers."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from html import escape
from itertools import count
from math import ceil
from threading import Lock

from matplotlib.figure import Figure
from matplotlib.gridspec import GridSpec

from estimator.report.pictures.style import plain_legend

NARROW_IN = 4.0
"""Width [inch] at which the type of a figure stays readable on a phone."""

LEGEND_ROW_IN = 0.2
"""Height [inch] of one row of a legend."""

_numbers = count(1)
_drawing = Lock()
_STYLE = re.compile(r' style="([^"]*)"')
_ID = re.compile(r'(\bid="|href="#|url\(#)([^")]+)')


@dataclass(frozen=True)
class PagePicture:
    """A picture for a page: as SVG text for a wide and for a narrow screen, and its title in words."""

    wide: str
    narrow: str
    title: str


def page_picture(figure: Figure) -> PagePicture:
    """Draw a figure of this package as SVG text for a page, twice: as it is, and for a phone.

    The figure's title stays in words (`title`, and `<title>` inside), so that it is not drawn twice; on the
    narrow picture axes that stand side by side are stacked. Styles become presentation attributes, because a
    strict content-security policy forbids inline styles, and because a style sheet can then recolour them.

    >>> from estimator.report.pictures.style import new_figure, plain_axes
    >>> drawn = page_picture(new_figure("Charge falls", "From full to half."))
    >>> drawn.title, "<desc" in drawn.wide, "style=" in drawn.narrow
    ('Charge falls', True, False)
    """
    title, describing = figure.mowcharge_words  # type: ignore[attr-defined]
    with _drawing:  # matplotlib's font cache is shared between threads
        figure.suptitle("")
        wide = _drawn(figure)
        _make_narrow(figure)
        narrow = _drawn(figure)
    return PagePicture(_for_page(wide, title, describing), _for_page(narrow, title, describing), title)


def _drawn(figure: Figure) -> str:
    held = io.StringIO()
    figure.savefig(held, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return held.getvalue()


def _make_narrow(figure: Figure) -> None:
    for_legends = 0.0
    for axes in figure.axes:
        legend = axes.get_legend()
        if legend is None:
            continue
        if legend._ncols > 2:  # type: ignore[attr-defined]
            # Another number of columns moves nothing: a legend too wide is laid out anew, above the axes.
            plain_legend(axes, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)
            for_legends += LEGEND_ROW_IN * ceil(len(legend.get_texts()) / 2)
        else:
            legend.set_in_layout(False)
    side_by_side = [axes for axes in figure.axes if _columns(axes) > 1]
    width, height = figure.get_size_inches()
    if side_by_side:
        grid = GridSpec(len(side_by_side), 1, figure=figure)
        for place, axes in enumerate(side_by_side):
            axes.set_subplotspec(grid[place, 0])
        height = 2.7 * len(side_by_side)
    squeezed = 0.75 if width > 1.5 * NARROW_IN and not side_by_side else 1.0
    figure.set_size_inches(min(width, NARROW_IN), height * squeezed + for_legends)


def _columns(axes: object) -> int:
    spec = axes.get_subplotspec()  # type: ignore[attr-defined]
    return 1 if spec is None else int(spec.get_gridspec().ncols)


def _for_page(text: str, title: str, describing: str) -> str:
    number = next(_numbers)
    body = text[text.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    body = re.sub(r'<style type="text/css">.*?</style>', "", body, flags=re.DOTALL)
    body = _STYLE.sub(_as_attributes, body)
    body = _ID.sub(lambda found: f"{found[1]}p{number}-{found[2]}", body)
    inside = body.index(">")
    box = re.search(r'viewBox="[^"]*"', body[:inside])
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'{box[0] if box else ""} role="img" aria-labelledby="p{number}-title" '
        f'aria-describedby="p{number}-desc" '
        'stroke-linejoin="round" stroke-linecap="butt">'
        f'<title id="p{number}-title">{escape(title)}</title>'
        f'<desc id="p{number}-desc">{escape(describing)}</desc>'
    )
    return opening + re.sub(r">\s+<", "><", body[inside + 1 :].strip())


def _as_attributes(found: re.Match[str]) -> str:
    kept = []
    for rule in found[1].split(";"):
        name, _, value = rule.partition(":")
        if value.strip():
            kept.append(f' {name.strip()}="{value.strip()}"')
    return "".join(kept)
