"""Figures of single mows and what each is uncertain by, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.phases import Phases, RunTrace
from estimator.fitting.seasons.measures import (
    ENERGY,
    IDLE,
    PACE,
    capacity_observed,
    energy_observed,
    idle_observed,
    idle_of_one_kind,
    observed,
    pace_observed,
)

MOW = MowFeatures(
    lawn="green", area_m2=300.0, energy_wh=90.0, motor_s=3600.0, mean_w=90.0, peak_1s_w=200.0, peak_5s_w=180,
    peak_30s_w=150.0, typical_v=50.0, energy_log_std=0.03, pace_log_std=0.02, gain_std=0.01, step_s=1.0,
    gap_s=0.0, trace=RunTrace.of(np.full(5, 90.0)), moisture="dry", growth_mm=25.0,
    started="2024-05-01T10:00", temperature_c=15.0,
)  # fmt: skip
"""5 m²/min, and 0.3 Wh/m²."""
SHORT = replace(
    MOW, tags=("stopped short",), started="2024-05-10", mean_w=120.0, motor_s=600.0, energy_wh=20.0
)


@pytest.mark.parametrize(
    ("grass", "energy_std", "pace_std"),
    [
        ({}, 0.0, 0.0),
        ({"moisture": None}, 0.10, 0.05),
        ({"growth_mm": None}, 0.15, 0.075),
        ({"growth_mm": None, "days_since_cut": 8.0}, 0.0, 0.0),  # the days say how much has grown
        ({"growth_mm": None, "moisture": None}, math.hypot(0.15, 0.10), math.hypot(0.075, 0.05)),
    ],
)
def test_grass_that_was_not_noted_leaves_its_spread(
    grass: dict[str, float | None], energy_std: float, pace_std: float
) -> None:
    mow = replace(MOW, **grass)  # type: ignore[arg-type]
    (energy,), (pace,) = energy_observed([mow]), pace_observed([mow])
    assert (energy.value, pace.value) == (pytest.approx(0.3), pytest.approx(5.0))
    assert energy.log_std == pytest.approx(math.hypot(0.03, energy_std))
    assert pace.log_std == pytest.approx(math.hypot(0.02, pace_std))
    assert (energy.day, energy.lawn, energy.place) == (date(2024, 5, 1), "green", 0)


def test_effects_are_damp_wet_growth_temperature_and_area() -> None:
    """On their columns: damp grass of 75 mm (log 4/2), ten degrees over 15 °C, half of 300 m²."""
    (found,) = energy_observed(
        [replace(MOW, moisture="damp", growth_mm=75.0, temperature_c=25.0, area_m2=150.0)]
    )
    assert found.effects == pytest.approx((1.0, 0.0, math.log(2.0), 1.0, math.log(0.5)))


def test_a_mow_that_stopped_short_has_its_power_at_the_pace_of_whole_mows() -> None:
    """120 W at 5 m²/min are 0.4 Wh/m²; two mows at e^0.1 and e^-0.1 of that pace scatter by 0.2/sqrt(2)."""
    whole = [
        replace(MOW, motor_s=3600 * math.exp(off), started=f"2024-05-0{day}")
        for day, off in ((2, 0.1), (4, -0.1))
    ]
    found = energy_observed([*whole, SHORT])
    assert found[2].value == pytest.approx(0.4)
    assert found[2].log_std == pytest.approx(math.hypot(0.03, 0.2 / math.sqrt(2)))
    untold = energy_observed([*whole, replace(SHORT, moisture=None)])[2]
    assert untold.log_std == pytest.approx(math.hypot(found[2].log_std, 0.10))


@pytest.mark.parametrize(
    ("change", "counts"),
    [
        ({"motor_s": 300.0}, True),
        ({"motor_s": 299.0}, False),  # too short to show its power
        ({"spot": True}, False),  # hand readings of a part of a lawn
        ({"started": None}, False),
    ],
)
def test_which_mows_that_stopped_short_count(change: dict[str, object], counts: bool) -> None:
    mows = [MOW, replace(MOW, started="2024-05-03"), replace(SHORT, **change)]  # type: ignore[arg-type]
    assert [one.place for one in energy_observed(mows)] == [0, 1] + [2] * counts


def test_a_zero_error_weighs_on_idle_power_as_much_as_it_is_smaller_than_the_mean() -> None:
    """3 % of 90 W is 15 % of 18 W; the reading itself adds 2 %."""
    mow = replace(MOW, phases=Phases(120.0, 18.0), temperature_c=5.0)
    unseen, undated = replace(MOW, phases=Phases(120.0, None)), replace(mow, started=None)
    (found,) = idle_observed([unseen, undated, mow])
    assert (found.value, found.effects, found.lawn, found.place) == (18.0, (-1.0,), None, 2)
    assert found.log_std == pytest.approx(math.hypot(0.02, 0.15))


@pytest.mark.parametrize(("by_hand", "kept"), [(1, [None, 20.0]), (2, [21.0, None])])
def test_idle_by_hand_counts_where_more_than_half_is_by_hand(by_hand: int, kept: list[float | None]) -> None:
    hand = replace(MOW, spot=True, noted_idle_w=21.0)
    logged = replace(MOW, phases=Phases(120.0, 20.0))
    assert idle_of_one_kind([hand] * by_hand + [logged]) == kept[:1] * by_hand + kept[1:]


def test_each_measure_has_its_own_figure() -> None:
    mow = replace(MOW, phases=Phases(120.0, 18.0))
    values = [observed(measure, [mow])[0].value for measure in (ENERGY, PACE, IDLE)]
    assert values == pytest.approx([0.3, 5.0, 18.0])


def fits(seen: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """The capacity after each of some measurements (value [Ah], std of its logarithm): a label of
    10 Ah within 7 %, a walk of 0.5 % a mow, and Kalman's update (1960, J. Basic Eng. 82, 35)."""
    mean, variance, after = math.log(10.0), 0.07**2, []
    for value, std in seen:
        gain = variance / (variance + std**2)
        mean, variance = mean + gain * (math.log(value) - mean), (1 - gain) * variance
        after.append((math.exp(mean), math.exp(mean) * math.sqrt(variance)))
        variance += 0.005**2
    return [each[0] for each in after], [each[1] for each in after]


def test_what_each_mow_added_to_a_fit_is_recovered() -> None:
    days = [date(2024, 5, day) for day in (1, 2, 3)]
    seen = [(9.5, 0.04), (9.9, 0.03), (9.2, 0.05)]
    found = capacity_observed(*fits(seen), days, 10.0)
    assert [(one.value, one.log_std) for one in found] == [pytest.approx(each) for each in seen]
    assert [one.place for one in found] == [0, 1, 2] and [one.day for one in found] == days


@pytest.mark.parametrize(
    ("known", "std", "counts"),
    [
        ([], 0.24, True),
        ([], 0.26, False),  # no better than a quarter
        ([(9.9, 0.02)], 0.13, True),
        ([(9.9, 0.02)], 0.15, False),  # less than 2 % of what was known within 0.02 (0.0192 with the label)
    ],
)
def test_a_mow_that_says_next_to_nothing_of_the_capacity_is_left_out(
    known: list[tuple[float, float]], std: float, counts: bool
) -> None:
    days = [date(2024, 5, 1)] * (len(known) + 1)
    found = capacity_observed(*fits([*known, (9.5, std)]), days, 10.0)
    assert len(found) == len(known) + counts
