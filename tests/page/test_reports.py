"""Printed reports, and figures turned into SVG for a page."""

from __future__ import annotations

import re
from base64 import b64encode
from datetime import date
from hashlib import sha256
from xml.etree import ElementTree

import httpx
import pytest

from estimator.answers.why import Part, Why
from estimator.report.pictures.picture import page_picture
from estimator.report.pictures.style import RIVER, new_figure, plain_axes, plain_legend
from estimator.report.printable import STYLE, STYLE_SOURCE, Section, printable


def test_a_report_stands_alone_and_escapes_everything() -> None:
    sections = [
        Section("<b>one</b>", "a < b", Why((Part("<i>part</i>", 1.0),)), "", [("<u>", "1 & 2", "")], ["<s>"]),
    ]
    text = printable("<h1>", sections, date(2025, 5, 4), "<p>under")
    for tag in ("<b>", "<i>", "<u>", "<s>", "<h1><"):
        assert tag not in text
    assert "2025-05-04" in text
    assert not re.search(r"\b(src|href)=|@import|url\(", text)


@pytest.mark.parametrize("path", ["/mows/1/report", "/seasons/report"])
def test_reports_are_shown_under_a_policy_that_lets_only_their_own_style_in(
    reader: httpx.Client, path: str
) -> None:
    answer = reader.get(path)
    style = re.search(r"<style>(.*?)</style>", answer.text, re.DOTALL)
    assert style is not None
    assert style[1] == STYLE
    digest = "'sha256-" + b64encode(sha256(style[1].encode()).digest()).decode() + "'"
    assert digest == STYLE_SOURCE
    assert f"style-src {digest};" in answer.headers["content-security-policy"]
    assert " style=" not in answer.text
    assert "<script" not in answer.text
    assert answer.text.count("<svg") >= 2


def test_a_page_picture_is_sound_xml_with_words_and_own_names() -> None:
    figure = new_figure("Charge & time", "From <full> to half.", width_in=8)
    for place in (1, 2):
        axes = plain_axes(figure, "time [min]", "charge [%]", (1, 2, place))
        axes.plot([0, 1], [100, 50], color=RIVER, label="charge")
        plain_legend(axes, ncols=3)
    drawn = page_picture(figure)
    again = page_picture(new_figure("Other", "Other."))
    for svg in (drawn.wide, drawn.narrow):
        root = ElementTree.fromstring(svg)
        named = {each.get("id"): each for each in root.iter() if each.get("id")}
        assert named[root.get("aria-labelledby")].text == "Charge & time"
        assert named[root.get("aria-describedby")].text == "From <full> to half."
        assert root.get("role") == "img"
        assert not any(each.get("style") for each in root.iter())
        assert RIVER in svg
        assert not re.search(r"https?://(?!www\.w3\.org)", svg)
        used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg))
        assert used <= set(named)
    everything = [set(re.findall(r'id="([^"]+)"', svg)) for svg in (drawn.wide, drawn.narrow, again.wide)]
    assert not (everything[0] & everything[1] or everything[0] & everything[2])


def test_side_by_side_axes_are_stacked_for_a_phone() -> None:
    figure = new_figure("Two", "Two.", width_in=9)
    for place in (1, 2):
        plain_axes(figure, "x", "y", (1, 2, place))
    drawn = page_picture(figure)
    size = [
        [float(each) for each in re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', svg).groups()]  # type: ignore[union-attr]
        for svg in (drawn.wide, drawn.narrow)
    ]
    assert size[0][0] > size[0][1]
    assert size[1][1] > size[1][0]
    assert size[1][0] <= 4.01 * 72
