"""Printed reports, and figures turned into SVG for a page."""

from __future__ import annotations

import re
from base64 import b64encode
from datetime import date
from hashlib import sha256
from html import unescape

import httpx
import pytest

from estimator.answers.why import Part, Why
from estimator.report.printable import STYLE, STYLE_SOURCE, Section, printable
from estimator.report.sections import WIDTH


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


def test_what_cannot_be_answered_yet_stays_on_the_sheet(reader: httpx.Client) -> None:
    text = unescape(reader.get("/seasons/report?pack=old+box").text)
    blocks = re.findall(r"<pre[^>]*>(.*?)</pre>", text, re.DOTALL)
    assert any("Not yet: no mow of old box" in " ".join(block.split()) for block in blocks)
    assert max(len(line) for block in blocks for line in block.splitlines()) <= WIDTH
