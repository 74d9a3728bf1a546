"""Rare days and packs: sizes beyond the common ones, lawns that should be done already, long holds."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Lawn, Pack
from estimator.fitting.by_hand.habit import _seen
from estimator.fitting.load.power_seconds import PowerSeconds
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.importer.log import Log
from estimator.predictor.lawns.day_unknowns import day_temperature, left_over, pack_causes
from estimator.predictor.lawns.one_more import LONGER, lawn_under_way
from estimator.predictor.simulation.future_load import even_power
from estimator.predictor.simulation.load_ahead import load_of_log
from estimator.predictor.simulation.peaks_apart import coarser
from estimator.predictor.sizing.pack_sizes import COMMON_AH, enough_of, sizes_on_offer

CRATE = Pack("nmc", 13, 10.0, 39.0)


def test_beyond_the_common_sizes_each_is_twice_the_one_before() -> None:
    largest = max(COMMON_AH)
    offered = sizes_on_offer(CRATE, 3 * largest)
    assert offered[-1] == 4 * largest and 2 * largest in offered
    assert min(offered) >= 0.45 * 3 * largest
    assert enough_of(CRATE, 3 * largest) == 3 * largest


def test_a_lawn_that_should_be_done_takes_a_share_of_the_time_so_far() -> None:
    """Ten hours on a lawn of a square metre: the time to come is a half normal with LONGER times that."""
    log = Log(
        pd.DataFrame({"time_s": np.arange(0.0, 36001, 10), "current_a": 5.0, "voltage_v": 50.0}),
        longest_step_s=30,
    )
    still = lawn_under_way(fit_profile([]), log, Lawn("a", 1.0), [np.inf] * 9)
    assert still.minutes == pytest.approx(0.6745 * LONGER * 600, rel=0.1)  # median of a half normal
    assert still.odds == 1.0


def test_a_peak_must_last_as_long_as_the_controller_waits() -> None:
    """Blocks of six seconds and a hold of two: a single second at 9 W counts as the mean of its pair."""
    watts = np.array([[1.0, 9.0, 1.0, 1.0, 1.0, 1.0]])
    load = coarser(iter([watts[:, :3], watts[:, 3:]]), 1.0, 2.0, 6.0)
    assert [chunk.tolist() for chunk in load.chunks] == [[[1.0, 5.0]]]
    assert load.turns == (4.0, 2.0)


def test_packs_side_by_side_share_current_and_warmth() -> None:
    one = draw_pack(CRATE, 20, np.random.default_rng(1))
    two = one.scaled(2.0)
    assert two.capacity_ah == pytest.approx(2 * one.capacity_ah)
    assert two.tables[:, 1:, 1:] == pytest.approx(one.tables[:, 1:, 1:] / 2, rel=1e-6)
    assert one.warmth is not None and two.warmth is not None
    assert two.warmth.kelvin_per_joule == pytest.approx(np.asarray(one.warmth.kelvin_per_joule) / 2)


@pytest.mark.parametrize(
    "mow",
    [
        SimpleNamespace(spot=False, phases=None, mean_w=300.0),
        SimpleNamespace(spot=False, phases=SimpleNamespace(cutting_w=0.0, idle_w=None), mean_w=300.0),
        SimpleNamespace(spot=True, hand_ratio=None, hand_ratio_std=0.1),
        SimpleNamespace(spot=True, hand_ratio=1.1, hand_ratio_std=None),
    ],
)
def test_a_mow_that_shows_no_habit_is_left_out(mow: SimpleNamespace) -> None:
    assert _seen(mow) is None  # type: ignore[arg-type]


def test_an_even_load_is_read_half_way_through_its_steps_and_lasts_as_long_as_its_energy() -> None:
    """5 A rising to 15 A over 600 s at 50 V: 500 W on average, so 250 Wh last half an hour; of a load of
    1 mA no charge is counted on for more than a day."""
    time_s = np.arange(0.0, 601, 100)
    log = Log(pd.DataFrame({"time_s": time_s, "current_a": 5 + time_s / 60, "voltage_v": 50.0}))
    power = even_power(log, 1.0)
    assert power.shape == (600,)
    assert power[[0, 299, 599]] == pytest.approx(250 + 500 / 600 * np.array([0.5, 299.5, 599.5]))
    ahead = load_of_log(log, 250.0)
    assert ahead.ahead_s == pytest.approx(1800.0) and ahead.means_w == pytest.approx([500.0])
    assert next(ahead.chunks)[0, :300] == pytest.approx(power[:300])
    weak = Log(log.readings.assign(current_a=0.001))
    assert load_of_log(weak, 250.0).ahead_s == 86400.0


def test_what_is_left_is_charge_where_the_day_was_done_and_else_the_energy_that_lacked() -> None:
    """40 of 50 Wh given: a fifth is missing. A pack stopped by its current limit may lack nothing."""
    run: Any = SimpleNamespace(
        delivered_wh=np.array([50.0, 40.0, 51.0]),
        finished=np.array([[True, True], [True, False], [False, False]]),
        charge_end=np.array([0.3, 0.0, 0.5]),
    )
    needs: Any = SimpleNamespace(energy_wh=np.array([[20.0, 30.0]] * 3))
    assert left_over(run, needs) == pytest.approx([0.3, -0.2, 0.0])


def test_a_day_of_which_no_temperature_is_given_is_as_warm_as_one_of_the_mows() -> None:
    seen: Any = SimpleNamespace(loads=[SimpleNamespace(temperature_c=each) for each in (12.0, None, 20.0)])
    rng = np.random.default_rng(1)
    assert day_temperature(seen, 5, 3, rng).tolist() == [5.0, 5.0, 5.0]
    assert set(day_temperature(seen, None, 50, rng)) == {12.0, 20.0}
    assert set(day_temperature(fit_profile([]), None, 50, rng)) == {25.0}


def test_the_causes_of_a_pack_are_its_curve_near_empty_and_its_resistance_half_way() -> None:
    draws = draw_pack(CRATE, 4, np.random.default_rng(2))
    causes = pack_causes(draws)
    tenth = [np.interp(0.1, GRID, each) for each in draws.tables[:, :, 0]]
    ohmic, quick = ([np.interp(0.5, GRID, each) for each in draws.tables[:, :, k]] for k in (1, 2))
    assert causes["open-circuit curve"] == pytest.approx(tenth, rel=1e-3)
    assert causes["resistance"] == pytest.approx(np.add(ohmic, quick), rel=0.02)
    assert causes["capacity"] is draws.capacity_ah and causes["temperature"] is draws.temperature_c


def test_no_common_size_is_more_than_half_as_large_again_as_the_one_before() -> None:
    """So that a size bought for its need is never much too large."""
    assert all(less < more <= 1.5 * less for less, more in pairwise(COMMON_AH))


def test_a_broken_second_at_the_end_has_its_energy_and_is_no_second_of_power() -> None:
    """100 W for 10.5 s, and as much after a gap of a minute, which is no time that was measured."""
    at_s = np.array([0.0, 5.0, 10.5])
    for time_s, seconds, gap_s in ((at_s, 10.5, 0.0), (np.concatenate([at_s, 70.5 + at_s]), 21.0, 60.0)):
        log = Log(pd.DataFrame({"time_s": time_s, "current_a": 2.0, "voltage_v": 50.0}), longest_step_s=10.0)
        found = PowerSeconds.of(log)
        assert (found.seconds, found.gap_s) == (seconds, gap_s)
        assert found.power_w == pytest.approx(np.full(int(seconds), 100.0))
        assert found.wh == pytest.approx(100 * seconds / 3600)
