"""Money, on cases worked on paper."""

from __future__ import annotations

import pytest

from estimator.conversion.bands import Band
from estimator.conversion.running_cost import CYCLES, Petrol, running_cost, wear_of_cycles, wear_of_fade
from estimator.errors import InputError

MAINS = Band(250.0, 220.0, 290.0)


def test_a_season_on_paper() -> None:
    """0.25 kWh a mow at 0.30: 0.075. 25 mows: 1.875. 500 m²: 0.15 per 1,000 m²."""
    answer = running_cost(MAINS, 0.30, area_m2=500.0, mows_per_season=25)
    assert answer.electricity.per_mow.value == pytest.approx(0.075)
    assert answer.electricity.per_season is not None and answer.electricity.per_1000_m2 is not None
    assert answer.electricity.per_season.value == pytest.approx(1.875)
    assert answer.electricity.per_season.high == pytest.approx(25 * 0.29 * 0.30)
    assert answer.electricity.per_1000_m2.value == pytest.approx(0.15)
    assert answer.mains_kwh_per_season is not None
    assert answer.mains_kwh_per_season.value == pytest.approx(6.25)
    assert answer.petrol is None and answer.saved_per_season is None


def test_wear_of_the_pack_by_its_discharges_and_by_its_fade() -> None:
    """400 for 800 full discharges: half of one wears off 0.25; 0.02 % a mow out of 20 % wears off 0.40."""
    wear = wear_of_cycles(400.0, 0.5, Band(800.0, 800.0, 800.0))
    assert wear.value == pytest.approx(0.25)
    assert wear_of_fade(400.0, Band(0.0002, 0.0001, 0.0004)).value == pytest.approx(0.40)
    answer = running_cost(
        MAINS, 0.30, area_m2=500.0, mows_per_season=20, petrol=Petrol(1.8, l_per_mow=0.5), wear=wear
    )
    assert answer.wear is not None and answer.wear.per_season is not None
    assert answer.wear.per_season.value == pytest.approx(5.0)
    assert answer.saved_per_season is not None
    assert answer.saved_per_season.value == pytest.approx(20 * (0.9 - 0.075 - 0.25))
    assert not any("wear of the pack" in said for said in answer.assumptions)


@pytest.mark.parametrize(
    ("chemistry", "least", "most"),
    [("nmc", 500, 1000), ("nca", 500, 1000), ("lco", 300, 700), ("lfp", 2000, 3500), ("lead_acid", 250, 500)],
)
def test_full_discharges_are_those_of_data_sheets(chemistry: str, least: float, most: float) -> None:
    """Full discharges to 80 % of the capacity as data sheets state them (common practice)."""
    cycles = CYCLES[chemistry]
    assert least <= cycles.value <= most
    assert cycles.low <= least and cycles.high >= most
    assert cycles.high / cycles.low < 5, "a price a mow that is of use"


def test_a_chemistry_that_is_not_known_may_be_any_that_a_tool_pack_has() -> None:
    unknown, families = CYCLES["lithium"], [CYCLES[each] for each in ("nmc", "nca", "lfp")]
    assert unknown.low <= min(each.low for each in families)
    assert min(each.value for each in families) < unknown.value < max(each.value for each in families)
    assert unknown.high == max(each.value for each in families)


def test_petrol_by_the_hour_and_by_the_mow() -> None:
    """0.8 l/h for 45 min is 0.6 l; at 1.70 it costs 1.02 a mow, 25.50 a season."""
    for petrol in (Petrol(1.70, l_per_hour=0.8), Petrol(1.70, l_per_mow=0.6)):
        answer = running_cost(MAINS, 0.30, mows_per_season=25, petrol=petrol, minutes=45.0)
        assert answer.petrol is not None and answer.petrol.per_season is not None
        assert answer.petrol.per_mow.value == pytest.approx(1.02)
        assert answer.petrol.per_season.value == pytest.approx(25.5)
        assert answer.saved_per_season is not None
        assert answer.saved_per_season.value == pytest.approx(25.5 - 1.875)
        assert answer.saved_per_season.low == pytest.approx(25.5 - 25 * 0.29 * 0.30)


def test_dear_electricity_can_cost_more_than_petrol() -> None:
    answer = running_cost(MAINS, 5.0, mows_per_season=10, petrol=Petrol(1.0, l_per_mow=0.5))
    assert answer.saved_per_season is not None
    assert answer.saved_per_season.value == pytest.approx(10 * (0.5 - 1.25))


def test_what_is_not_given_is_not_told() -> None:
    answer = running_cost(MAINS, 0.30)
    assert answer.electricity.per_season is None and answer.electricity.per_1000_m2 is None
    assert any("wear of the pack" in said for said in answer.assumptions)


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (lambda: running_cost(MAINS, -0.1), "price of a kWh is -0.1; give 0 to 1000000"),
        (lambda: running_cost(MAINS, 0.3, area_m2=0.0), "area is 0 m²; give 0.01 to 10000000 m²"),
        (
            lambda: running_cost(MAINS, 0.3, mows_per_season=-1),
            "mows in a season is -1; give 0 to 10000",
        ),
        (lambda: Petrol(1.7), "petrol needs litres per mow or per hour; give one of the two"),
        (lambda: Petrol(1.7, l_per_mow=-1.0), "litres of petrol per mow is -1 l; give 0 to 10000 l"),
        (
            lambda: running_cost(MAINS, 0.3, petrol=Petrol(1.7, l_per_hour=0.8)),
            "litres per hour need the minutes of a mow; give the minutes, or litres per mow",
        ),
    ],
)
def test_wrong_money_figures_are_refused(make, line: str) -> None:
    with pytest.raises(InputError) as error:
        make()
    assert str(error.value) == line


@pytest.mark.parametrize("chemistry", CYCLES)
def test_the_discharges_a_pack_lasts_are_a_figure_give_or_take_a_factor(chemistry: str) -> None:
    """As many times more as fewer, two or three."""
    cycles = CYCLES[chemistry]
    assert cycles.low * cycles.high == pytest.approx(cycles.value**2, rel=0.2)
    assert 1.5 < cycles.value / cycles.low < 3.0
