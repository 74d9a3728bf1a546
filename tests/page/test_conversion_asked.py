"""Questions about the conversion, asked with less or with more than usual."""

from __future__ import annotations

import re

import httpx


def test_cost_without_petrol_or_season_shows_electricity_alone(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/cost?price_per_kwh=0.3&lawn=apple+rows&pack=green+crate").text
    table = shown.partition('<table class="sizes">')[2].partition("</table>")[0]
    assert 'class="amount">electricity</th>' in table and "1000\u00a0m²</th>" in table
    for other in ("season</th>", "petrol</th>", "A season saves"):
        assert other not in shown


def test_a_break_says_how_long_it_mows_for_where_the_lawns_are_named(reader: httpx.Client) -> None:
    asked = "/conversion/charging?charger_a=4&pack=green+crate&pause_minutes=20"
    named = reader.get(f"{asked}&lawn=apple+rows").text
    told = reader.get(f"{asked}&used_ah=5").text
    given = [page.partition("<dt>a break gives</dt><dd>")[2].partition("</dd>")[0] for page in (named, told)]
    assert re.search(r"\d\sAh<.*\), mowing \d.*\smin \(", given[0])
    assert re.search(r"\d\sAh<.*\), mowing unknown", given[1])


def test_cable_sizes_stand_beside_each_other_in_a_table(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/cable?size=6+mm2&one_way_m=1&pack=green+crate").text
    table = shown.partition('<table class="sizes">')[2].partition("</table>")[0]
    sizes = ("6\u00a0mm²", "4\u00a0mm²", "10\u00a0mm²")
    assert [f'class="amount">{size}</th>' in table for size in sizes] == [True] * 3
    for heading in ("V peak", "% lost", "min/charge"):
        assert f'<th scope="row">{heading}</th>' in table
    assert "; pack green crate" in shown


def test_a_long_verdict_opens_with_its_first_clause(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/cable?size=6+mm2&one_way_m=1&pack=green+crate").text
    bold = shown.partition('<p class="figure words">')[2].partition("</p>")[0]
    assert bold.startswith("The highest measured current is ") and bold.endswith("\u00a0A.")
    assert "<p>No limit for the cable was given.</p>" in shown


def test_what_the_verdict_of_the_limits_says_is_not_said_twice(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/limits?fuse_a=30&pack=green+crate").text
    answer = shown.partition('<p class="figure words">')[2].partition("<details")[0]
    assert [answer.count(name) for name in ("use 30\u00a0A", "battery management 25\u00a0A")] == [1, 1]


def test_trends_of_blade_care_are_sentences(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/care").text
    told = re.findall(
        r"<li>(.*?)</li>", shown.partition('<p class="figure words">')[2].partition("<details")[0]
    )
    assert any(each.startswith("Idle power changed by ") for each in told)
    assert all(each.endswith(".") and each[0].isupper() for each in told)
