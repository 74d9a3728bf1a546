"""What few days and packs hold: sizes beyond the common ones, lawns that should be done, blocks held long."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Lawn, Pack
from estimator.fitting.by_hand.habit import _seen
from estimator.fitting.load.power_seconds import PowerSeconds, highest_mean
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.importer.log import Log, SpotNotes
from estimator.predictor.lawns.one_more import LONGER, lawn_under_way
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
    """Ten hours on a lawn of a square metre: what is still to come is half a normal of LONGER times that."""
    log = Log(
        pd.DataFrame({"time_s": np.arange(0.0, 36001, 10), "current_a": 5.0, "voltage_v": 50.0}),
        longest_step_s=30,
    )
    still = lawn_under_way(fit_profile([]), log, Lawn("a", 1.0), [np.inf] * 9)
    assert still.minutes == pytest.approx(0.6745 * LONGER * 600, rel=0.1)  # median of a half normal
    assert still.odds == 1.0


def test_a_peak_must_last_as_long_as_the_controller_waits() -> None:
    """Blocks of six seconds and a hold of two: a single second of 9 W counts as the mean over its pair."""
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


def test_hand_readings_without_volts_have_no_power() -> None:
    bare = pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 6.0, "voltage_v": [52.0, np.nan]})
    found = PowerSeconds.of(Log(bare, spot=SpotNotes(typical_a=6.0)))
    assert (found.seconds, found.wh, found.power_w.size) == (0.0, 0.0, 0)
    assert highest_mean(found.power_w, 5) == 0.0


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
