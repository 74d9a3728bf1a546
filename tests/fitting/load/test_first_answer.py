"""A machine that was never logged: kind, width and pace say what it takes, compared with published mowing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Grass, Lawn, Machine
from estimator.errors import InputError
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.grass_effects import (
    COLUMNS,
    ENERGY_PRIOR,
    GROWTH_MM_A_DAY,
    GROWTH_RATE_LOG_STD,
    GROWTH_SCALE_MM,
    PACE_PRIOR,
    PRIOR_GROWTH_MM,
    PRIOR_GROWTH_STD,
    PRIOR_MOISTURE,
    circumstances,
    growth_column,
)
from estimator.fitting.load.mixed_model import MixedPrior
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.mowing_time import usual_area_rate
from estimator.fitting.load.profile import fit_profile
from estimator.importer.log import Log
from estimator.mow import Mow

LAWN = Lawn("plot", 300.0)
FLUCK_AND_BUSEY = {"St. Augustinegrass": (1153.0, 1.380), "bahiagrass": (1223.0, 3.900)}
"""Power [W] and energy [Wh/m²] of an electric rotary mower, measured (Fluck and Busey 1988, Trans. ASAE 31,
1304-1308; table as quoted at philbusey.com/refs/ref026.html)."""


def band(machine: Machine, grass: Grass) -> tuple[float, float, float]:
    rng = np.random.default_rng(1)
    needs = draw_needs(fit_profile([], machine), [LAWN], [grass], 4000, rng)
    low, middle, high = np.quantile(needs.energy_wh[:, 0] / LAWN.area_m2, [0.05, 0.5, 0.95])
    return float(low), float(middle), float(high)


def rotary_at(rate_m2_min: float) -> Machine:
    """A rotary mower half a metre wide, at the walking pace that gives `rate_m2_min`."""
    paces = np.linspace(0.05, 2.0, 400)
    rates = [usual_area_rate(LAWN, Machine(cutting_width_m=0.5, pace_m_s=pace)) for pace in paces]
    return Machine(kind="rotary", cutting_width_m=0.5, pace_m_s=float(np.interp(rate_m2_min, rates, paces)))


@pytest.mark.parametrize("turf", FLUCK_AND_BUSEY)
def test_measured_mowing_lies_inside_a_first_band(turf: str) -> None:
    """The rate follows from power over energy per area: 835 and 314 m²/h."""
    power_w, wh_m2 = FLUCK_AND_BUSEY[turf]
    low, _, high = band(rotary_at(power_w / wh_m2 / 60), Grass("dry", 25))
    assert low < wh_m2 < high
    assert high / low < 8


@pytest.mark.parametrize("kind", ["cylinder", "rotary", "flail"])
def test_the_ends_of_a_first_band_are_at_most_eight_times_apart(kind: str) -> None:
    machine = Machine(kind=kind, cutting_width_m=0.43, pace_m_s=1.0)
    for grass in (Grass("dry", 25), Grass("wet", 40), Grass()):
        low, _, high = band(machine, grass)
        assert high / low < 8


def test_a_kind_that_is_not_told_is_wider_than_any_that_is() -> None:
    low, _, high = band(Machine(cutting_width_m=0.43, pace_m_s=1.0), Grass("dry", 25))
    assert high / low > 8


def test_cylinder_takes_less_than_rotary_takes_less_than_flail() -> None:
    middles = [band(Machine(kind=kind), Grass("dry", 25))[1] for kind in ("cylinder", "rotary", "flail")]
    assert middles == sorted(middles)


def test_grass_acts_as_was_measured() -> None:
    """It takes more when wetter and when more is cut off (Fluck and Busey 1988: energy rose with moisture,
    fertiliser and a lower cut). Two turfs differed by 2.8 times with one mower; grass alone is less here."""
    machine = Machine(kind="rotary")
    dry, wet = band(machine, Grass("dry", 25))[1], band(machine, Grass("wet", 25))[1]
    short, long = band(machine, Grass("dry", 10))[1], band(machine, Grass("dry", 50))[1]
    assert 1.0 < wet / dry < 2.83
    assert 1.0 < long / short < 2.83


def test_cutting_alone_is_less_than_the_whole_mower_takes() -> None:
    """By the torque of rotary blades: 14.4 to 196.4 W at 4 to 2 cm (J. Keteknikan Pertanian 2008)."""
    machine = Machine(kind="rotary", cutting_width_m=0.43, pace_m_s=1.0)
    whole_w = np.array(band(machine, Grass("dry", 25))) * 60 * usual_area_rate(LAWN, machine)
    assert whole_w[0] > 196.4


def usual_w(kind: str, width_m: float) -> np.ndarray:
    """Ends and middle [W] of the band for a kind of mower in dry grass of 25 mm."""
    machine = Machine(kind=kind, cutting_width_m=width_m, pace_m_s=1.0)
    return np.array(band(machine, Grass("dry", 25))) * 60 * usual_area_rate(LAWN, machine)


def test_each_kind_takes_what_its_width_suggests() -> None:
    """A rotary mower of half a metre took 1,153 to 1,223 W (Fluck and Busey 1988). Pushing a cylinder mower
    by hand takes 3 METs more than walking (6 less 3; Compendium of Physical Activities, from memory): 262 W
    for 75 kg, which at a muscle's 25 % is 65 W at the handle, for which a small motor at 60 % takes 108 W;
    and it moves no air, so it takes less than half of a rotary. Engines of flail mowers are rated 1.2 to 2.5
    times those of rotary mowers of the same width (common practice)."""
    cylinder, rotary, flail = (usual_w(kind, 0.43) for kind in ("cylinder", "rotary", "flail"))
    assert usual_w("rotary", 0.5)[1] == pytest.approx(1190, rel=0.35)
    assert cylinder[0] > 0.95 * 108 and cylinder[1] < rotary[1] / 2
    assert 1.2 < flail[1] / rotary[1] < 2.5


def test_light_machines_of_a_kind_lie_within_its_band() -> None:
    """A light rotary mower a third of a metre wide takes some 300 W (common practice)."""
    assert usual_w("rotary", 0.33)[0] < 300


def test_a_machine_that_nobody_described_may_be_of_any_kind() -> None:
    low, _, high = band(Machine(), Grass("dry", 25))
    kinds = [band(Machine(kind=kind), Grass("dry", 25)) for kind in ("cylinder", "rotary", "flail")]
    assert low < min(each[0] for each in kinds)
    assert high > max(each[1] for each in kinds)
    assert high / low < 30


@pytest.mark.parametrize(
    ("grass", "least", "most"),
    [
        (Grass("damp", 25), 1.05, 1.18),  # a tenth more
        (Grass("wet", 25), 1.20, 1.38),  # a quarter more
        (Grass("dry", 50), 1.20, 1.40),  # twice the height: a quarter to a third, for idling takes the same
        (Grass("dry", 10), 0.77, 0.87),  # a trim: a fifth less
    ],
    ids=["damp", "wet", "tall", "trim"],
)
def test_grass_before_any_mow_as_gardeners_reckon(grass: Grass, least: float, most: float) -> None:
    """All common practice."""
    assert least < band(Machine(), grass)[1] / band(Machine(), Grass("dry", 25))[1] < most


def minutes(grass: Grass) -> tuple[float, float, float]:
    """Ends and middle of the band of minutes for a lawn, with a machine of known width and pace."""
    rng = np.random.default_rng(1)
    machine = Machine(cutting_width_m=0.43, pace_m_s=1.0)
    needs = draw_needs(fit_profile([], machine), [LAWN], [grass], 4000, rng)
    low, middle, high = np.quantile(needs.motor_s[:, 0] / 60, [0.05, 0.5, 0.95])
    return float(low), float(middle), float(high)


def test_minutes_before_any_mow_lie_within_a_factor_of_two() -> None:
    """With beds, trees and a box to empty: half to twice what rows and turns take (common practice)."""
    low, middle, high = minutes(Grass("dry", 25))
    usual = LAWN.area_m2 / usual_area_rate(LAWN, Machine(cutting_width_m=0.43, pace_m_s=1.0))
    assert middle == pytest.approx(usual, rel=0.05)
    assert 1.7 < high / middle < 2.4 and 1.7 < middle / low < 2.4


def test_wet_and_tall_grass_slow_one_down_by_some_per_cent() -> None:
    """People walk on at nearly the same pace while the motor works harder (common practice)."""
    dry = minutes(Grass("dry", 25))[1]
    assert 1.03 < minutes(Grass("wet", 25))[1] / dry < 1.10
    assert 1.025 < minutes(Grass("dry", 50))[1] / dry < 1.07


def test_a_season_without_sharpening_costs_a_tenth() -> None:
    """Common practice."""
    sharp, blunt = (
        np.median(
            draw_needs(
                fit_profile([]), [LAWN], [Grass()], 2000, np.random.default_rng(1), days_since_care=days
            ).energy_wh
        )
        for days in (0.0, 150.0)
    )
    assert 1.06 < blunt / sharp < 1.15


Z90 = 1.645


@pytest.mark.parametrize(
    ("column", "least", "most"),
    [
        ("damp", math.log(1.02), math.log(1.25)),
        ("wet", math.log(1.15 / 1.10), math.log(1.55 / 1.25)),
        ("growth", math.log(1.1) / math.log(1.5), math.log(1.5) / math.log(1.5)),
        ("blade care", 0.0, math.log(1.2)),
    ],
)
def test_what_is_believed_of_grass_leaves_room_for_all_of_common_practice(
    column: str, least: float, most: float
) -> None:
    """Damp grass takes 2 to 25 % more than dry, wet 15 to 55 %; 25 mm more of it takes 10 to 50 % more (a
    power of (50 + 25)/(25 + 25)); 100 days without care take up to a fifth more. Nothing takes much less."""
    mean, std = (each[COLUMNS.index(column)] for each in (ENERGY_PRIOR.mean, ENERGY_PRIOR.std))
    assert mean - Z90 * std < least < most < mean + Z90 * std
    assert mean - Z90 * std > -0.12 and mean + Z90 * std < max(1.3 * most, 0.4)


@pytest.mark.parametrize(
    ("prior", "which", "least", "most"),
    [
        (ENERGY_PRIOR, 0, 0.08, 0.30),
        (ENERGY_PRIOR, 1, 0.02, 0.12),
        (ENERGY_PRIOR, 2, 0.05, 0.16),
        (PACE_PRIOR, 0, 0.05, 0.18),
        (PACE_PRIOR, 2, 0.04, 0.12),
    ],
    ids=["energy of lawns", "of days", "of mows", "pace of lawns", "of mows"],
)
def test_lawns_days_and_mows_may_differ_as_they_do(
    prior: MixedPrior, which: int, least: float, most: float
) -> None:
    """From even ground and one person to slopes and helpers (common practice, standard deviations of
    logarithms)."""
    wide = math.exp(Z90 * prior.spread_log_std[which])
    middle = prior.spread_median[which]
    assert middle / wide < least < most < middle * wide
    assert wide**2 < 15


def test_grass_that_nobody_judged_was_cut_a_week_or_two_ago() -> None:
    """Lawns grow by 1 mm a day in drought to 7 mm in May; what is cut off is 5 to 75 mm, from a trim to three
    fingers' width, mostly 20 to 40 mm (common practice)."""
    slow, fast = (GROWTH_MM_A_DAY * math.exp(sign * Z90 * GROWTH_RATE_LOG_STD) for sign in (-1, 1))
    assert 1.0 < slow < 1.8 and 5.0 < fast < 8.0
    assert 7 <= PRIOR_GROWTH_MM / GROWTH_MM_A_DAY <= 14
    least, most = (
        GROWTH_SCALE_MM
        * math.expm1(math.log1p(PRIOR_GROWTH_MM / GROWTH_SCALE_MM) + sign * Z90 * PRIOR_GROWTH_STD)
        for sign in (-1, 1)
    )
    assert 2 < least < 12 and 60 < most < 90


def test_half_the_pace_takes_twice_as_much_on_the_same_lawn() -> None:
    slow, fast = (
        band(Machine(kind="flail", cutting_width_m=0.4, pace_m_s=p), Grass("dry", 25))[1] for p in (0.4, 0.8)
    )
    assert 1.5 < slow / fast < 2.0


def test_a_kind_that_is_not_known_is_refused() -> None:
    with pytest.raises(InputError) as told:
        Machine("own", kind="scythe")
    assert str(told.value) == "machine own: kind 'scythe' is not known; choose one of cylinder, rotary, flail"


def test_what_is_usual_before_any_mow_counts_as_two_of_them() -> None:
    """Two mows with a growth, twice as fast as is usual, and two without: a rate half-way by its logarithm,
    its scatter that of two at 0.5 and two at ln √2; heights, days and warmth by the same counts."""
    plain = mow_features(
        Mow(Log(pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 5.0, "voltage_v": 48.0})), LAWN)
    )
    grown = [
        replace(plain, growth_mm=2 * GROWTH_MM_A_DAY * days, days_since_cut=days) for days in (5.0, 10.0)
    ]
    mows = [
        replace(grown[0], moisture="wet", days_since_care=40.0, started="2031-05-02", temperature_c=20.0),
        replace(grown[1], moisture="damp", days_since_care=10.0, started="2031-06-02", temperature_c=10.0),
        replace(plain, days_since_care=30.0, started="2031-05-22"),
        plain,
    ]
    found, nothing = circumstances(mows), circumstances([])
    ln_root = math.log(2) / 2
    assert found.growth_mm_a_day == pytest.approx(GROWTH_MM_A_DAY * math.exp(ln_root))
    assert found.growth_rate_log_std == pytest.approx(math.sqrt((0.5**2 + ln_root**2) / 2))
    usual, one, two = (float(growth_column(mm)) for mm in (PRIOR_GROWTH_MM, 30.0, 60.0))
    centre = (2 * usual + one + two) / 4
    scatter = 2 * PRIOR_GROWTH_STD**2 + (one - centre) ** 2 + (two - centre) ** 2
    assert (found.growth, found.growth_std) == pytest.approx((centre, math.sqrt(scatter / 4)))
    assert (found.growth_share, found.moisture_share) == pytest.approx((4 / 6, 4 / 6))
    assert found.moisture == pytest.approx((2 * PRIOR_MOISTURE + [0, 1, 1]) / 4)
    assert (found.care_days, found.temperature_c) == (10.0, 15.0)
    assert (nothing.growth_mm_a_day, nothing.growth_rate_log_std) == pytest.approx((GROWTH_MM_A_DAY, 0.5))
    assert (nothing.growth, nothing.growth_std) == pytest.approx((usual, PRIOR_GROWTH_STD))
    assert (nothing.growth_share, nothing.moisture_share, nothing.care_days) == (1.0, 1.0, 0.0)
    assert nothing.moisture == pytest.approx(PRIOR_MOISTURE)
