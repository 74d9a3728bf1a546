"""Questions about the conversion that are asked with less, or with more, than usual."""

from __future__ import annotations

import httpx


def test_cost_without_petrol_or_season_shows_electricity_alone(reader: httpx.Client) -> None:
    shown = reader.get("/conversion/cost?price_per_kwh=0.3&lawn=apple+rows&pack=green+crate").text
    assert "electricity, one mow" in shown
    assert "electricity, 1,000 m²" in shown
    for other in ("electricity, a season", "petrol, one mow", "saved in a season"):
        assert other not in shown


def test_a_break_says_how_long_it_mows_for_where_the_lawns_are_named(reader: httpx.Client) -> None:
    asked = "/conversion/charging?charger_a=4&pack=green+crate&pause_minutes=20"
    named = reader.get(f"{asked}&lawn=apple+rows").text
    told = reader.get(f"{asked}&used_ah=5").text
    assert "the break gives back" in named and "which mows for" in named
    assert "the break gives back" in told and "which mows for" not in told
