"""The model of measures with a slope over the years: planted slopes are found, and bands hold."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from yearly_change import yearly_change

from estimator.errors import InputError
from estimator.fitting.seasons.measures import CAPACITY, ENERGY, RESISTANCE, Observed


def seasons_of(n: int, years: int) -> list[date]:
    return [date(2022 + y, 4, 5) + timedelta(days=round(180 * k / n)) for y in range(years) for k in range(n)]


def planted(
    n: int, years: int, a_year: float, rng: np.random.Generator, noise: float = 0.08, drift: float = 0.0
) -> list[Observed]:
    """A slope with grass, noise, and a drift of the season that nobody notes, drawn again every 40 days."""
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
        found = yearly_change(ENERGY, planted(n, years, a_year, rng, drift=0.04))
        inside.append(found.low <= math.expm1(a_year) <= found.high)
    assert 0.83 <= np.mean(inside) <= 0.97


def test_no_trend_is_seldom_called_one() -> None:
    called = [
        yearly_change(ENERGY, planted(8, 2, 0.0, np.random.default_rng(s))).more_than_noise for s in range(60)
    ]
    assert np.mean(called) <= 0.16


def test_resistance_is_freed_of_cold() -> None:
    """Springs are cold, autumns warm: without temperature, the rise of 10 % a year would be hidden."""
    rng = np.random.default_rng(3)
    mows = []
    for day in seasons_of(12, 3):
        cold = 1000 / (273.15 + 18 + 9 * rng.standard_normal()) - 1000 / 298.15
        years = (day - date(2022, 4, 5)).days / 365.25
        value = 0.1 * math.exp(0.10 * years + 2.2 * cold + 0.02 * rng.standard_normal())
        mows.append(Observed(day, value, 0.01, (cold,)))
    found = yearly_change(RESISTANCE, mows)
    assert found.more_than_noise and found.low < math.expm1(0.10) < found.high
    assert np.std(np.log(found.adjusted) - np.log(0.1)) < np.std(np.log([m.value for m in mows]))


def test_one_mow_and_one_day_still_answer() -> None:
    assert not yearly_change(ENERGY, planted(1, 1, 0.1, np.random.default_rng(7))).more_than_noise
    same_day = [Observed(date(2024, 5, 1), v, 0.01) for v in (9.8, 9.9, 10.1)]
    assert yearly_change(CAPACITY, same_day).low < 0 < yearly_change(CAPACITY, same_day).high
    with pytest.raises(InputError) as refused:
        yearly_change(CAPACITY, [])
    assert str(refused.value) == "no mow shows usable capacity; add mows"


def test_a_fortnight_says_hardly_anything_of_a_year() -> None:
    """Before any mow, a figure may move by tens of percent a year but not double (common practice): two mows
    that differ by 4 % within two weeks leave it at that, where a straight line would give 180 % a year."""
    seen = [Observed(date(2024, 5, day), value, 0.02) for day, value in ((1, 10.0), (15, 10.4))]
    found = yearly_change(CAPACITY, seen)
    assert not found.more_than_noise
    assert -0.50 < found.low < -0.30 and 0.45 < found.high < 0.90
