"""The motor's load compared with its rating and the old engine's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from estimator.conversion.bands import next_mow
from estimator.conversion.load_trace import LoadTrace
from estimator.conversion.motor import EFFICIENCY, WATTS_PER_HORSEPOWER, motor_load
from estimator.errors import InputError

STEADY = LoadTrace(np.full(600, 20.0), np.array(50.0))


def test_horsepower_from_its_definition() -> None:
    """NIST SP 811 (2008), B.8: horsepower (550 ft·lbf/s) is 7.456 999 E+02 W; foot and pound are exact."""
    assert pytest.approx(550 * 0.3048 * 4.4482216152605, abs=0.00005) == WATTS_PER_HORSEPOWER


def test_an_engine_of_five_horsepower() -> None:
    """NIST SP 811: 5 × 745.6999 W = 3728.5 W."""
    answer = motor_load([STEADY], engine_hp=5.0)
    assert answer.engine_w == pytest.approx(3728.5, abs=0.5)
    assert answer.of_engine is not None
    assert answer.of_engine.value == pytest.approx(1000 * EFFICIENCY.value / 3728.5, rel=1e-4)


def test_loading_and_smaller_motor_on_paper() -> None:
    """1000 W from the pack are 800 W at the shaft: 40 % of 2 kW, 80 % of 1 kW, 60 % of 1333 W."""
    answer = motor_load([STEADY], rated_w=2000.0)
    assert answer.shaft_w.value == pytest.approx(800.0)
    assert answer.rated_w == 2000.0 and answer.loading is not None
    assert answer.loading.value == pytest.approx(0.40)
    assert answer.loaded_80_w.value == pytest.approx(1000.0)
    assert answer.loaded_60_w.value == pytest.approx(1333.3, abs=0.1)
    loading = answer.loading
    share = f"40 % ({100 * loading.low:.0f} to {100 * loading.high:.0f})"
    assert f"to {share} of its rating. A motor rated 1000 to 1333 W would" in answer.verdict
    assert max(len(each.split()) for each in answer.verdict.split(". ")) < 25, "short sentences"
    assert answer.verdict.endswith(
        "The highest second took 800 W at the shaft, 0.8 times the smaller rating."
    )


def test_stops_do_not_count_as_mowing() -> None:
    """Ten minutes at 1 kW and ten minutes of standing: the motor's load is still 1 kW."""
    stops = LoadTrace(np.r_[np.full(600, 20.0), np.full(600, 0.02)], np.array(50.0))
    assert motor_load([stops]).typical_w.value == pytest.approx(1000.0)


def test_idle_typical_and_peak_are_told_apart() -> None:
    rng = np.random.default_rng(3)
    watts = np.r_[np.full(120, 250.0), rng.normal(900.0, 60.0, 900), np.full(2, 2000.0)]
    answer = motor_load([LoadTrace(watts / 50, np.array(50.0))])
    assert answer.idle_w is not None and answer.idle_w.value == pytest.approx(250.0, rel=0.01)
    assert answer.typical_w.value == pytest.approx(watts.mean(), rel=1e-6)
    assert answer.peak_w.value == pytest.approx(2000.0)


def test_the_peak_is_that_of_the_hardest_mow_in_any_order() -> None:
    """A second at 60 A and 50 V in one of two mows is 3 kW."""
    hard = LoadTrace(np.r_[np.full(599, 20.0), 60.0], np.array(50.0))
    for mows in ([STEADY, hard], [hard, STEADY]):
        assert motor_load(mows).peak_w.value == pytest.approx(3000.0)


def test_a_load_without_calm_low_stretches_shows_no_idle_power() -> None:
    assert motor_load([STEADY]).idle_w is None


def test_idle_power_is_the_one_that_the_features_of_the_mow_hold() -> None:
    """Found from all readings of a mow, it is used unchanged: `motor` and `seasons` give the same figure."""
    assert motor_load([replace(STEADY, idle_w=142.0)]).idle_w == next_mow([142.0])


def test_a_shaft_gives_less_than_the_pack_and_more_than_half_of_it() -> None:
    """Motors of 0.75 to 1.1 kW reach 77 to 84 % (IEC 60034-30-1, IE2 and IE3, two and four poles; from
    memory), of which the controller passes on 0.93 to 0.97 (common practice): 72 to 81 %."""
    assert EFFICIENCY.low < 0.72 < EFFICIENCY.value < 0.81 < EFFICIENCY.high < 0.95
    assert EFFICIENCY.low > 0.5


def test_more_mows_narrow_the_band() -> None:
    one = motor_load([STEADY]).typical_w
    many = motor_load([STEADY] * 10).typical_w
    assert many.high - many.low < 0.7 * (one.high - one.low)


@pytest.mark.parametrize(
    ("options", "line"),
    [
        ({"rated_w": 0.0}, "motor rating is 0 W; give 0.1 to 1000000 W"),
        ({"engine_hp": 0.0}, "horsepower of the old engine is 0 hp; give 0.01 to 10000 hp"),
    ],
)
def test_wrong_figures_are_refused(options: dict[str, float], line: str) -> None:
    with pytest.raises(InputError) as error:
        motor_load([STEADY], **options)
    assert str(error.value) == line


def test_a_log_at_rest_is_refused() -> None:
    with pytest.raises(
        InputError, match=r"^the motor never runs in this log; take a log that shows it mowing$"
    ):
        motor_load([LoadTrace(np.zeros(60), np.array(50.0))])


def test_a_highest_second_that_nobody_read_is_said_not_to_be_measured() -> None:
    noted = LoadTrace(np.r_[np.full(600, 4.2), 13.0], np.array(48.0), by_hand=True)
    assert "The highest second was not read, and usually takes " in motor_load([noted], rated_w=1000).verdict
    read = replace(noted, meter_gain=0.02)
    assert "The highest second took " in motor_load([noted, read], rated_w=1000).verdict
