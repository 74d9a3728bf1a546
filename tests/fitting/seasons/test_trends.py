"""Trends over the years: planted slopes, bands that hold, and how many mows until one could tell."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.fitting.seasons.measures import CAPACITY, ENERGY, RESISTANCE, Observed
from estimator.fitting.seasons.trends import trend


def seasons_of(n: int, years: int) -> list[date]:
    return [date(2022 + y, 4, 5) + timedelta(days=round(180 * k / n)) for y in range(years) for k in range(n)]


def planted(
    n: int, years: int, a_year: float, rng: np.random.Generator, noise: float = 0.08, drift: float = 0.0
) -> list[Observed]:
    """A slope with grass, noise, and a drift of the season that nobody notes, anew every 40 days."""
    found = []
    for day in seasons_of(n, years):
        damp, growth = float(rng.random() < 0.5), 0.3 * rng.standard_normal()
        value = math.log(0.25) + a_year * (day - date(2022, 4, 5)).days / 365.25 + 0.1 * damp + 0.4 * growth
        value += noise * rng.standard_normal()
        found.append(Observed(day, math.exp(value), 0.01, (damp, 0.0, growth, 0.0, 0.0), "rows"))
    knots = drift * rng.standard_normal(12 * years)
    at = [(one.day - date(2022, 4, 5)).days / 40 for one in found]
    wandered = np.exp(np.interp(at, np.arange(len(knots)), knots))
    return [replace(one, value=one.value * float(by)) for one, by in zip(found, wandered, strict=True)]


@pytest.mark.parametrize(("n", "years"), [(4, 2), (10, 3)])
def test_the_band_of_a_slope_holds(n: int, years: int) -> None:
    inside = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        a_year = float(rng.normal(0, 0.08))
        found = trend(ENERGY, planted(n, years, a_year, rng, drift=0.04))
        inside.append(found.low <= math.expm1(a_year) <= found.high)
    assert 0.83 <= np.mean(inside) <= 0.97


def test_no_trend_is_seldom_called_one() -> None:
    called = [trend(ENERGY, planted(8, 2, 0.0, np.random.default_rng(s))).more_than_noise for s in range(60)]
    assert np.mean(called) <= 0.16


def test_resistance_is_freed_of_cold() -> None:
    """Springs are cold, autumns warm: without the temperature the rise of 10 % a year would drown."""
    rng = np.random.default_rng(3)
    mows = []
    for day in seasons_of(12, 3):
        cold = 1000 / (273.15 + 18 + 9 * rng.standard_normal()) - 1000 / 298.15
        years = (day - date(2022, 4, 5)).days / 365.25
        value = 0.1 * math.exp(0.10 * years + 2.2 * cold + 0.02 * rng.standard_normal())
        mows.append(Observed(day, value, 0.01, (cold,)))
    found = trend(RESISTANCE, mows)
    assert found.more_than_noise and found.low < math.expm1(0.10) < found.high
    assert np.std(np.log([p.value for p in found.points]) - np.log(0.1)) < np.std(
        np.log([m.value for m in mows])
    )


def test_the_line_runs_from_first_to_last_day_inside_its_band() -> None:
    mows = planted(6, 2, 0.1, np.random.default_rng(4))
    found = trend(ENERGY, mows)
    assert found.days[0] == mows[0].day and abs((found.days[-1] - mows[-1].day).days) <= 1
    low, line, high = (np.array(part) for part in (found.line_low, found.line, found.line_high))
    assert np.all(low < line) and np.all(line < high)
    growth = (line[-1] / line[0]) ** (365.25 / (found.days[-1] - found.days[0]).days) - 1
    assert growth == pytest.approx(found.per_year, rel=0.05, abs=0.005)


def test_mows_to_tell_hold_what_they_promise() -> None:
    """As many more mows as said, at the same pace, tell the planted slope about four times in five."""
    told = []
    for seed in range(40):
        rng = np.random.default_rng(1000 + seed)
        days = [date(2022, 4, 1) + timedelta(days=21 * k) for k in range(40)]
        a_year = 0.05
        noise = rng.standard_normal(400)
        values = [
            Observed(d, 10 * math.exp(-a_year * (d - days[0]).days / 365.25 + 0.03 * e), 0.002)
            for d, e in zip([days[0] + timedelta(days=21 * k) for k in range(400)], noise, strict=True)
        ]
        first = next((n for n in (12, 16, 20) if not trend(CAPACITY, values[:n]).more_than_noise), None)
        if first is None:
            continue
        # what the true slope and noise need, by the same rule: sum of squares grows as n³
        apart = 21 / 365.25
        n = next(
            k for k in range(first, 400) if 2.487 * 0.03 / (apart * math.sqrt(k * (k**2 - 1) / 12)) < a_year
        )
        told.append(trend(CAPACITY, values[:n]).more_than_noise)
    assert len(told) > 20 and 0.6 <= np.mean(told) <= 0.97


@pytest.mark.parametrize(("n", "seed"), [(6, 6), (8, 4), (10, 5)])
def test_more_mows_agree_with_a_count_one_by_one(n: int, seed: int) -> None:
    """The slope's variance falls as the squared distances of the days from their middle grow (least
    squares); it is told four times of five at 1.6449 + 0.8416 of its deviations."""
    seen = planted(n, 2, 0.03, np.random.default_rng(seed))
    found = trend(ENERGY, seen)
    assert found.more_mows and "after allowing for" in found.sentence
    slope = abs(math.log1p(found.per_year))
    std = (math.log1p(found.high) - math.log1p(found.low)) / 2 / 1.6449
    years = np.array([one.day.toordinal() for one in seen]) / 365.25
    apart = np.ptp(years) / (len(years) - 1)

    def told(more: int) -> bool:
        longer = np.concatenate([years, years.max() + apart * np.arange(1, more + 1)])
        return slope >= (1.6449 + 0.8416) * std * float(years.std() / longer.std()) * math.sqrt(
            len(years) / len(longer)
        )

    needed = next(more for more in range(1, 10_000) if told(more))
    assert found.more_mows == pytest.approx(needed, rel=0.05, abs=1)


def test_more_mows_are_named_in_the_sentence() -> None:
    mows = planted(6, 2, 0.02, np.random.default_rng(6))
    found = trend(ENERGY, mows)
    assert not found.more_than_noise and found.more_mows
    assert f"about {found.more_mows} more mow" in found.sentence
    assert found.sentence.startswith("Energy per area moves by ")


def test_one_mow_and_one_day_still_answer() -> None:
    one = trend(ENERGY, planted(1, 1, 0.1, np.random.default_rng(7)))
    assert one.mows == 1 and not one.more_than_noise and one.more_mows is None
    same_day = [Observed(date(2024, 5, 1), v, 0.01) for v in (9.8, 9.9, 10.1)]
    assert trend(CAPACITY, same_day).low < 0 < trend(CAPACITY, same_day).high
    with pytest.raises(InputError) as refused:
        trend(CAPACITY, [])
    assert str(refused.value) == "no mow shows usable capacity; add mows"


def test_a_fortnight_says_hardly_anything_of_a_year() -> None:
    """Before any mow a figure may move by tens of per cent a year, not by double (common practice): two mows
    that differ by 4 % within two weeks leave it at that, where a straight line would have 180 % a year."""
    seen = [Observed(date(2024, 5, day), value, 0.02) for day, value in ((1, 10.0), (15, 10.4))]
    found = trend(CAPACITY, seen)
    assert not found.more_than_noise
    assert -0.50 < found.low < -0.30 and 0.45 < found.high < 0.90
