"""How much of a recommended capacity one more measurement would save, on paper."""

from __future__ import annotations

import math

import pytest

from estimator.predictor.narrowing import Doubt
from estimator.predictor.sizing.margin import Assured, best_saving, saved_by_cut_off


def need(lasting_std: float, days_std: float) -> Assured:
    return Assured(usual_day=1.0, need=2.0, lasting_std=lasting_std, days_std=days_std)


def test_a_good_measurement_halves_what_it_measures() -> None:
    """All doubt has one cause of 20 %: the need at 95 % is 1.6449 deviations up, so that halving the doubt is
    a factor of exp(-0.16449); 15.2 % of 20 Ah are 3.03 Ah."""
    saved = best_saving(need(0.20, 0.0), [Doubt("capacity", 1.0, "Log one mow.")], 0.95, 10.0)
    assert saved is not None
    assert saved.ah == pytest.approx(20.0 * (1 - math.exp(-0.16449)), rel=1e-3)
    assert saved.measure == "Log one mow."


def test_the_largest_cause_that_something_can_be_done_about_is_named() -> None:
    doubts = [
        Doubt("from day to day", 0.6, ""),
        Doubt("resistance", 0.1, "volts"),
        Doubt("grass", 0.3, "wet?"),
    ]
    saved = best_saving(need(0.1, 0.2), doubts, 0.95, 10.0)
    assert saved is not None and saved.measure == "wet?"
    assert best_saving(need(0.1, 0.2), doubts[:1], 0.95, 10.0) is None


def test_no_measurement_saves_more_than_all_of_its_part() -> None:
    """A share above the whole doubt is taken for all of it: 1.6449 · 0.05."""
    saved = best_saving(need(0.05, 0.20), [Doubt("capacity", 0.5, "log")], 0.95, 1.0)
    assert saved is not None and saved.ah == pytest.approx(2.0 * (1 - math.exp(-1.6449 * 0.05)), rel=1e-3)


def test_a_lower_cut_off_is_named_where_it_saves_a_tenth():
    saved = saved_by_cut_off(40.0, 0.15, 20.04, 12)
    assert saved is not None and round(saved.ah, 6) == 6.0
    assert saved.measure == "A cut-off of 20.0 V (1.67 V a cell), where the battery's maker allows it"
    assert saved_by_cut_off(40.0, 0.09, 20.04, 12) is None
