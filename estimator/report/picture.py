"""Figures as SVG that can stand inside a web page: no inline styles, own ids, words for screen readers."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from html import escape
from itertools import count
from threading import Lock

from matplotlib.figure import Figure
from matplotlib.gridspec import GridSpec

NARROW_IN = 4.7
"""Width [inch] at which the type of a figure stays readable on a phone."""

_numbers = count(1)
_drawing = Lock()
_STYLE = re.compile(r' style="([^"]*)"')
_ID = re.compile(r'(\bid="|href="#|url\(#)([^")]+)')


@dataclass(frozen=True)
class PagePicture:
    """A picture for a page: its SVG text and its title in words."""

    svg: str
    title: str


def page_picture(figure: Figure, *, narrow: bool = True) -> PagePicture:
    """Draw a figure of this package as SVG text for a page.

    The figure's title stays in words (`title`, and `<title>` inside), so that it is not drawn twice; axes
    that stand side by side are stacked when `narrow`. Styles become presentation attributes, because a strict
    content-security policy forbids inline styles, and because a style sheet can then recolour them.

    >>> from estimator.report.style import new_figure, plain_axes
    >>> drawn = page_picture((figure := new_figure("Charge falls", "From full to half.")))
    >>> drawn.title, "<desc" in drawn.svg, "style=" in drawn.svg
    ('Charge falls', True, False)
    """
    title, describing = figure.mowcharge_words  # type: ignore[attr-defined]
    with _drawing:  # matplotlib's font cache is shared between threads
        figure.suptitle("")
        if narrow:
            _make_narrow(figure)
        held = io.StringIO()
        figure.savefig(held, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return PagePicture(_for_page(held.getvalue(), title, describing), title)


def _make_narrow(figure: Figure) -> None:
    side_by_side = [axes for axes in figure.axes if _columns(axes) > 1]
    width, height = figure.get_size_inches()
    if side_by_side:
        grid = GridSpec(len(side_by_side), 1, figure=figure)
        for place, axes in enumerate(side_by_side):
            axes.set_subplotspec(grid[place, 0])
        height = 3.1 * len(side_by_side)
    figure.set_size_inches(min(width, NARROW_IN), min(height, max(3.1, NARROW_IN * len(side_by_side))))


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
