"""No line break separates a figure from its unit; what a form sends back is as it was typed."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import httpx
import pytest
from page_kit import token_of

from estimator.page.showing.words import unbroken

BROKEN = re.compile(r"\d (%|Ah|Wh|W|V|A|min|m²|m|mm|h)(?!\w)|± \d")


class Texts(HTMLParser):
    """What is read on a page: all text except that of pictures and choices."""

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag in ("svg", "option", "textarea"):
            self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if not self.inside:
            self.texts.append(data)


@pytest.mark.parametrize(
    "path",
    [
        "/", "/mows", "/mows/3", "/lawns", "/capacity?lawn=apple+rows&pack=green+crate",
        "/seasons?pack=green+crate", "/life?pack=green+crate", "/compare?changed_on=2025-01-01", "/record",
        "/conversion/motor?rated_w=500", "/conversion/care", "/list",
    ],
)  # fmt: skip
def test_figures_keep_their_units(reader: httpx.Client, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == 200
    page = Texts()
    page.feed(answer.text)
    text = "".join(page.texts)
    assert not [text[found.start() - 20 : found.end() + 10] for found in BROKEN.finditer(text)]
    if path != "/list":
        assert re.search("\\d\u00a0(%|min|W|Wh|Ah|m²)", text), "there are figures"


def test_a_name_with_a_figure_in_it_is_sent_back_as_it_is(writer: httpx.Client) -> None:
    fields = {"form_token": token_of(writer), "name": "strip 5 m wide", "area": "95.5"}
    assert writer.post("/list/lawn", data=fields).status_code == 200
    assert '<option value="strip 5 m wide">strip 5 m wide</option>' in writer.get("/compare").text
    assert 'value="strip 5 m wide"' in writer.get("/lawns").text


def test_tags_and_forms_are_left_alone() -> None:
    form = (
        '<input value="2 kW" title="9 % of 5 m"><textarea name="notes">9 min\n</textarea><select>'
        "<option>5 m strip</option><option selected>7 %</option></select>"
        "<svg><text>90 %</text></svg><script>var x = 5 % 3;</script>"
    )
    assert unbroken(form) == form
    assert unbroken(f"{form}<b>5 m</b>") == f"{form}<b>5\u00a0m</b>"


def test_dates_are_in_words_except_where_they_are_names_or_patterns() -> None:
    shown = "<p>2025-05-03.csv, 2025-05-03_v.csv of 2025-05-03 09:30; from 2025-05-04.</p>"
    words = "<p>2025-05-03.csv, 2025-05-03_v.csv of 3 May 2025, 09:30; from 4 May 2025.</p>"
    assert unbroken(shown) == re.sub(r"(\d) May ", "\\1\u00a0May\u00a0", words)
    for alone in ("<p>write it as 2025-05-01 or 2025-05-01T09:30</p>", '<input value="2025-05-01">'):
        assert unbroken(alone) == alone
    assert unbroken('<svg id="2025-05-01"><text>before 2025-09-01</text></svg>') == (
        '<svg id="2025-05-01"><text>before 1 Sep 2025</text></svg>'
    )


def test_words_that_only_begin_like_a_unit_may_break() -> None:
    text = "<p>3 mows, 2 Ahead, 5 small, 4 minutes, 12 volts, 9 windows, mow 3 Apple rows</p>"
    assert unbroken(text) == text


def test_a_unit_in_a_tag_of_its_own_stays_with_its_figure() -> None:
    assert unbroken('8.9 <span class="unit">Ah</span>') == '8.9\u00a0<span class="unit">Ah</span>'
