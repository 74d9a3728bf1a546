"""Bands hold what they claim to hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat
from uncertainties.umath import log

from estimator.conversion.bands import (
    MOW_SPREAD,
    Band,
    draws_of,
    next_mow,
    of_draws,
    of_meter,
    product,
)
from estimator.fitting.load.grass_effects import COLUMNS, ENERGY_PRIOR, PRIOR_GROWTH_STD

Z90 = 1.6448536


def test_product_agrees_with_the_uncertainties_package() -> None:
    """For narrow bands the product's half-width is that of first-order propagation (JCGM 100, 5.1.2)."""
    one, other = ufloat(12.0, 0.10), ufloat(3.0, 0.04)
    band = product(
        Band(12.0, 12.0 - Z90 * 0.10, 12.0 + Z90 * 0.10), Band(3.0, 3.0 - Z90 * 0.04, 3.0 + Z90 * 0.04)
    )
    assert band.high - band.value == pytest.approx(Z90 * (one * other).std_dev, rel=0.02)
    assert math.log(band.high / band.low) == pytest.approx(2 * Z90 * log(one * other).std_dev, rel=0.01)


@given(st.floats(0.1, 1e3), st.floats(0.5, 1.0), st.floats(1.0, 2.0), st.floats(0.1, 10.0))
def test_product_with_a_sure_figure_only_scales(value: float, down: float, up: float, sure: float) -> None:
    band = Band(value, value * down, value * up)
    scaled = product(band, Band(sure, sure, sure))
    assert (scaled.low, scaled.value, scaled.high) == pytest.approx(
        (band.low * sure, band.value * sure, band.high * sure)
    )


def test_nothing_stays_nothing() -> None:
    assert product(Band(0.0, 0.0, 0.0), Band(2.0, 1.0, 3.0)) == Band(0.0, 0.0, 0.0)
    assert of_meter(0.0, gain=0.02, zero=0.1).low == 0.0


def test_a_band_out_of_order_is_a_mistake_in_the_program() -> None:
    with pytest.raises(ValueError, match="out of order"):
        Band(1.0, 2.0, 3.0)


@pytest.mark.parametrize("mows", [1, 2, 5, 15])
def test_the_next_mow_falls_into_its_band_nine_times_in_ten(mows: int) -> None:
    """Spreads drawn as assumed before any mow: scaled inverse chi-square, four degrees of freedom."""
    rng = np.random.default_rng(mows)
    inside = 0
    for _ in range(3000):
        spread = MOW_SPREAD * math.sqrt(4 / rng.chisquare(4))
        values = np.exp(rng.normal(6.0, spread, mows + 1))
        band = next_mow(values[:-1].tolist())
        inside += band.low <= values[-1] <= band.high
    assert inside / 3000 == pytest.approx(0.90, abs=0.02)


def test_the_assumed_spread_is_that_of_mows_whose_grass_nobody_noted() -> None:
    """What the load model believes before any mow: spreads of days, mows and growth, in root-sum-square."""
    growth = ENERGY_PRIOR.mean[COLUMNS.index("growth")] * PRIOR_GROWTH_STD
    days_and_mows = ENERGY_PRIOR.spread_median[1:]
    assert pytest.approx(math.hypot(growth, *days_and_mows), rel=0.35) == MOW_SPREAD


@pytest.mark.parametrize(("spread", "least"), [(0.05, 0.88), (0.20, 0.88), (0.40, 0.85)])
def test_ten_mows_are_enough_to_follow_another_spread(spread: float, least: float) -> None:
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(2000):
        values = np.exp(rng.normal(6.0, spread, 11))
        band = next_mow(values[:-1].tolist())
        inside += band.low <= values[-1] <= band.high
    assert inside / 2000 >= least


def test_draws_give_their_band_back() -> None:
    band = Band(100.0, 80.0, 150.0)
    again = of_draws(draws_of(band, 40_000, np.random.default_rng(1)))
    assert (again.low, again.value, again.high) == pytest.approx((80.0, 100.0, 150.0), rel=0.02)
