"""The contents of axes (lines, bands, points, bars, shades) as SVG that stretches to the space it gets.

Lines and bands lie in an inner drawing of GRID by GRID units, whatever its size on the screen, with strokes
that keep their width; whatever must keep its shape is placed by shares of the width and height.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection, PolyCollection
from matplotlib.colors import to_hex, to_rgba_array
from matplotlib.container import Container
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

GRID = 10_000  # steps to which places in a picture are rounded, across and down: finer than any screen
PX = 96 / 72
"""Pixels in a point of type (CSS: 96 pixels and 72 points to the inch)."""
ROUND_FROM = 20
"""A marker with more corners than this is drawn as a round dot, any other as a square."""
_HATCHES = {
    "/": '<path d="M0 8 8 0"/>',
    "\\": '<path d="M0 0 8 8"/>',
    "x": '<path d="M0 8 8 0M0 0 8 8"/>',
    "-": '<path d="M0 4H8"/>',
    "|": '<path d="M4 0V8"/>',
    "+": '<path d="M0 4H8M4 0V8"/>',
    ".": '<path d="M4 4h0" stroke-width="2" stroke-linecap="round"/>',
    "o": '<circle cx="4" cy="4" r="2.5" fill="none"/>',
}


@dataclass
class Sheet:
    """The places on one pair of axes, and what has been drawn on them so far.

    name : how the names of its patterns begin; named : whether bars are listed downwards, each below its name
    """

    axes: Axes
    name: str
    named: bool
    shades: list[str] = field(default_factory=list)
    curves: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    patterns: dict[tuple[str, str], str] = field(default_factory=dict)

    def across(self, x: Any) -> Any:
        """How far from the left [0..1] a value lies."""
        x0, x1 = self.axes.get_xlim()
        return (x - x0) / (x1 - x0)

    def down(self, y: Any) -> Any:
        """How far from the top [0..1] a value lies."""
        y0, y1 = self.axes.get_ylim()
        return (y1 - y) / (y1 - y0)

    def places(self, points: Any, artist: Artist) -> np.ndarray:
        """Points (n, 2) of an artist in steps of the grid, whether given in data or in shares of the axes."""
        at = np.array(points, float).reshape(-1, 2)
        dots = isinstance(artist, PathCollection)
        moved = artist.get_offset_transform() if dots else artist.get_transform()  # type: ignore[attr-defined]
        x_in_data, y_in_data = moved.contains_branch_seperately(self.axes.transData)
        if x_in_data:
            at[:, 0] = self.across(at[:, 0])
        if y_in_data and self.named and not isinstance(artist, Line2D):
            row = np.round((at[:, 1].min() + at[:, 1].max()) / 2)  # the upper part of a row is for its name
            at[:, 1] = row + 0.17 + 0.8 * (at[:, 1] - row)
        at[:, 1] = self.down(at[:, 1]) if y_in_data else 1 - at[:, 1]
        return GRID * at

    def draw(self, artist: Artist) -> None:
        """Draw one artist."""
        if not artist.get_visible():
            return
        if isinstance(artist, Line2D):
            self._line(artist)
        elif isinstance(artist, PathCollection):
            offsets = np.asarray(artist.get_offsets(), float)
            shape = "round" if len(np.asarray(artist.get_paths()[0].vertices)) > ROUND_FROM else "square"
            size = PX * float(np.sqrt(artist.get_sizes()[0]))
            self._points(self.places(offsets, artist), artist, _ink(artist.get_facecolor())[0], shape, size)
        elif isinstance(artist, LineCollection):
            path = "".join(_path(self.places(each, artist)) for each in artist.get_segments())
            self._curve(path, artist, _ink(artist.get_colors())[0], np.ravel(artist.get_linewidth())[0])
        elif isinstance(artist, PolyCollection):
            path = "".join(_path(self.places(each.vertices, artist)) + "z" for each in artist.get_paths())
            colour, opacity = _ink(artist.get_facecolor())
            filled = f'fill="{colour}" fill-opacity="{opacity:.3g}"'
            self.curves.append(f'<path class="band" d="{path}" {filled}{_named(artist)}/>')
        elif isinstance(artist, Patch):
            self._bar(artist)

    def _line(self, line: Line2D) -> None:
        at = self.places(line.get_xydata(), line)
        marker = str(line.get_marker())
        if marker not in ("None", "", "_", "|"):  # error bars need no strokes across their ends
            self._points(at, line, line.get_color(), "round" if marker == "o" else "square",
                         PX * line.get_markersize())  # fmt: skip
        if line.get_linestyle() != "None":
            self._curve(_path(at), line, line.get_color(), line.get_linewidth(), _dashes(line))

    def _curve(self, path: str, artist: Artist, colour: Any, width: float, dashed: str = "") -> None:
        self.curves.append(
            f'<path class="line" d="{path}" fill="none" stroke="{to_hex(colour)}" '
            f'stroke-width="{PX * width:.3g}"{_opacity(artist, "stroke")}{dashed}{_named(artist)}/>'
        )

    def _points(self, at: np.ndarray, artist: Artist, colour: Any, cap: str, size: float) -> None:
        """Dots that keep their shape: strokes without length, with round or square ends."""
        path = "".join(f"M{x} {y}h0" for x, y in np.round(at).astype(int))
        self.curves.append(
            f'<path class="dots" d="{path}" fill="none" stroke="{to_hex(colour)}" stroke-width="{size:.3g}" '
            f'stroke-linecap="{cap}"{_opacity(artist, "stroke")}{_named(artist)}/>'
        )

    def _bar(self, patch: Patch) -> None:
        corners = patch.get_patch_transform().transform(patch.get_path().vertices)
        at = self.places(corners, patch) / (GRID / 100)
        (x, y), (far, low) = at.min(axis=0), at.max(axis=0)
        rect = f'<rect x="{x:.3f}%" y="{y:.2f}%" width="{far - x:.3f}%" height="{low - y:.2f}%"'
        colour, opacity = _ink(patch.get_facecolor())
        edge, _ = _ink(patch.get_edgecolor())
        said = getattr(patch, "mowcharge_said", "")
        told = f' data-said="{escape(said)}"><title>{escape(said)}</title></rect>' if said else "/>"
        if opacity:
            width = PX * patch.get_linewidth()
            edged = f' stroke="{edge}" stroke-width="{width:.3g}"' if width else ""
            self.shades.append(f'{rect} fill="{colour}"{_opacity(patch, "fill")}{edged}{told}')
        if patch.get_hatch():
            self.shades.append(f'{rect} fill="{self.pattern(patch.get_hatch(), edge)}"/>')

    def pattern(self, hatch: str, colour: str) -> str:
        """The fill for a hatch; its pattern has no background, so that it shows on any ground."""
        name = self.patterns.setdefault((hatch[0], colour), f"{self.name}-h{len(self.patterns)}")
        return f"url(#{name})"

    def pattern_shapes(self) -> str:
        """The patterns that were used, as SVG."""
        return "".join(
            f'<pattern id="{name}" width="8" height="8" patternUnits="userSpaceOnUse"><g stroke="{colour}" '
            f'fill="none">{_HATCHES[sign]}</g></pattern>'
            for (sign, colour), name in self.patterns.items()
        )


def _path(at: np.ndarray) -> str:
    """Points on the grid as an SVG path, in whole steps from one to the next; nan lifts the pen.

    >>> _path(np.array([[0, 10], [5, 9.6], [np.nan, 0], [7, 7]]))
    'M0 10l5 0M7 7'
    """
    path, pen = "", False
    rounded = [None if x != x or y != y else (round(x), round(y)) for x, y in at.tolist()]
    for before, here in pairwise((None, *rounded)):
        if here is None:
            pen = False
        elif before is None or not pen:
            path, pen = f"{path}M{here[0]} {here[1]}", True
        else:
            path += f"l{here[0] - before[0]} {here[1] - before[1]}"
    return path


def _dashes(line: Line2D) -> str:
    _, dashes = line._unscaled_dash_pattern  # type: ignore[attr-defined]
    said = " ".join(f"{PX * each * line.get_linewidth():.3g}" for each in dashes or ())
    return f' stroke-dasharray="{said}"' if said else ""


def _ink(colours: Any) -> tuple[str, float]:
    """The first of some colours as text, and how opaque it is; 0 where there is none."""
    first = to_rgba_array(colours)[:1].tolist()
    return (to_hex(first[0][:3]), first[0][3]) if first else ("none", 0.0)


def _opacity(artist: Artist, of: str) -> str:
    alpha = artist.get_alpha()
    return "" if alpha in (None, 1) else f' {of}-opacity="{alpha:.3g}"'


def _named(artist: Artist) -> str:
    label = str(artist.get_label())
    return "" if not label or label.startswith("_") else f' data-name="{escape(label)}"'


def swatch(handle: Any, sheet: Sheet) -> str:
    """A small sample of how something is drawn, for the legend."""
    artist = handle[0] if isinstance(handle, Container) else handle
    if isinstance(artist, Line2D):
        colour = to_hex(artist.get_color())
        if artist.get_linestyle() == "None":
            shape = f'<circle cx="12" cy="8" r="5" fill="{colour}"/>'
        else:
            width, dashes = artist.get_linewidth(), _dashes(artist)
            shape = f'<path d="M0 8H24" stroke="{colour}" stroke-width="{PX * width:.3g}"{dashes}/>'
    else:
        colour, opacity = _ink(artist.get_facecolor())
        if isinstance(artist, PathCollection):
            shape = f'<circle cx="12" cy="8" r="5" fill="{colour}"/>'
        elif opacity:
            shape = f'<rect width="24" height="16" fill="{colour}" fill-opacity="{max(opacity, 0.3):.2g}"/>'
        else:
            fill = sheet.pattern(artist.get_hatch(), _ink(artist.get_edgecolor())[0])
            shape = f'<rect width="24" height="16" fill="{fill}"/>'
    return f'<svg class="swatch" width="24" height="16" aria-hidden="true">{shape}</svg>'


def in_order(axes: Axes) -> Iterable[Artist]:
    """What is drawn on the axes, from back to front."""
    return sorted((*axes.patches, *axes.collections, *axes.lines), key=lambda each: each.get_zorder())
