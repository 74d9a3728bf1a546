"""A picture for a page: sent once, true to what was drawn, fitting every width, readable aloud."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from estimator.report.pictures.curves import GRID
from estimator.report.pictures.picture import TYPE_PX, page_picture
from estimator.report.pictures.style import CLAY, RIVER, new_figure, plain_axes, plain_legend

SVG = "{http://www.w3.org/2000/svg}"


def _parsed(html: str) -> ElementTree.Element:
    return ElementTree.fromstring(f"<div>{html}</div>")


def _points(path: str) -> list[list[tuple[int, int]]]:
    """The pieces of a path of whole steps, as an SVG viewer draws it."""
    pieces: list[list[tuple[int, int]]] = []
    for kind, x, y in re.findall(r"([Ml])(-?\d+) (-?\d+)", path):
        if kind == "M":
            pieces.append([(int(x), int(y))])
        else:
            before = pieces[-1][-1]
            pieces[-1].append((before[0] + int(x), before[1] + int(y)))
    return pieces


def test_it_is_sound_xml_with_words_and_own_names() -> None:
    figure = new_figure("Charge & time", "From <full> to half.", width_in=8)
    for place in (1, 2):
        axes = plain_axes(figure, "time [min]", "charge [%]", (1, 2, place))
        axes.plot([0, 1], [100, 50], color=RIVER, label="charge <now>")
        axes.axvspan(0.2, 0.4, facecolor="none", edgecolor=CLAY, hatch="//", label="left out")
        plain_legend(axes, ncols=3)
    drawn, again = page_picture(figure), page_picture(new_figure("Other", "Other."))
    root = _parsed(drawn.html)
    named = {each.get("id"): each for each in root.iter() if each.get("id")}
    plots = [each for each in root.iter(f"{SVG}svg") if "plot" in (each.get("class") or "").split()]
    assert len(plots) == 2
    for plot in plots:
        assert named[plot.get("aria-labelledby")].text == "Charge & time"
        assert named[plot.get("aria-describedby")].text == "From <full> to half."
        assert plot.get("role") == "img"
    assert not any(each.get("style") for each in root.iter())
    assert RIVER in drawn.html
    assert not re.search(r"https?://(?!www\.w3\.org)", drawn.html)
    assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', drawn.html)) <= set(named)
    assert not set(named) & set(re.findall(r'id="([^"]+)"', again.html))


def test_a_curve_is_where_its_values_are() -> None:
    """Read back as a visitor's script does, every value is within half a step of the grid."""
    rng = np.random.default_rng(3)
    minutes, volts = np.sort(rng.uniform(0, 47, 200)), rng.uniform(44, 54, 200)
    volts[50:53] = np.nan
    figure = new_figure("Volts", "Volts over a mow.")
    axes = plain_axes(figure, "time [min]", "voltage [V]")
    axes.plot(minutes, volts)
    plot = next(each for each in _parsed(page_picture(figure).html).iter(f"{SVG}svg") if each.get("data-x"))
    (x0, x1), (y0, y1) = (
        [float(each) for each in plot.get(name, "").split()] for name in ("data-x", "data-y")
    )
    pieces = _points(
        next(each.get("d", "") for each in plot.iter(f"{SVG}path") if each.get("class") == "line")
    )
    assert [len(each) for each in pieces] == [50, 147], "a hole stays a hole"
    x, y = np.array([point for piece in pieces for point in piece]).T / GRID
    there = ~np.isnan(volts)
    assert x0 + (x1 - x0) * x == pytest.approx(minutes[there], abs=0.51 * (x1 - x0) / GRID)
    assert y1 - (y1 - y0) * y == pytest.approx(volts[there], abs=0.51 * (y1 - y0) / GRID)


def test_points_and_shades_stand_at_their_values() -> None:
    figure = new_figure("Points", "Points.")
    axes = plain_axes(figure, "mow", "energy [Wh]")
    axes.scatter([1, 3], [10, 20])
    axes.axvspan(1.0, 2.0)
    axes.set_xlim(0, 4)
    axes.set_ylim(0, 40)
    root = _parsed(page_picture(figure).html)
    dots = next(each.get("d") for each in root.iter(f"{SVG}path") if each.get("class") == "dots")
    assert dots == "M2500 7500h0M7500 5000h0"
    shade = next(root.iter(f"{SVG}rect"))
    assert [shade.get(name) for name in ("x", "width", "y", "height")] == [
        "25.000%",
        "25.000%",
        "0.00%",
        "100.00%",
    ]


def test_type_keeps_its_size_on_every_screen() -> None:
    """Twelve pixels or more on a phone: no picture is scaled as a whole, so its type is not scaled either."""
    assert TYPE_PX >= 12
    figure = new_figure("Charge", "Charge.")
    plain_axes(figure, "time [min]", "charge [%]").plot([0, 1], [1, 0])
    plot = next(each for each in _parsed(page_picture(figure).html).iter(f"{SVG}svg") if each.get("data-x"))
    assert plot.get("viewBox") is None
    inner = [each for each in plot.iter(f"{SVG}svg") if each.get("viewBox")]
    assert inner and not any(list(each.iter(f"{SVG}text")) for each in inner)


def test_a_picture_is_light() -> None:
    """The longest log that is drawn in full, twice; the page with everything else has 150 kB at most."""
    import gzip

    rng = np.random.default_rng(4)
    figure = new_figure("Log", "Log.")
    for place in (1, 2):
        plain_axes(figure, "time [min]", "current [A]", (2, 1, place)).plot(
            np.arange(1500), rng.normal(6, 2, 1500)
        )
    html = page_picture(figure).html
    assert len(html) < 60_000
    assert len(gzip.compress(html.encode())) < 25_000
