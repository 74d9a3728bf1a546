"""Power second by second, cutting and idling, and the edges of a mow's features, worked out on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import LAWN_DONE, RAN_OUT, STOPPED_SHORT, Lawn, Machine, Pack
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.phases import find_phases, idle_power, motor_on
from estimator.fitting.load.power_seconds import PowerSeconds, highest_mean
from estimator.importer.log import Log, MeterError
from estimator.mow import Mow

LAWN = Lawn("strip", 100.0)


def log_of(time_s, power_w, volts=50.0, longest_s=900.0, **more) -> Log:
    amps = np.broadcast_to(np.asarray(power_w, float) / volts, np.shape(time_s))
    frame = pd.DataFrame({"time_s": np.asarray(time_s, float), "current_a": amps, "voltage_v": volts})
    return Log(frame, longest_step_s=longest_s, **more)


def test_each_reading_stands_for_the_time_half_way_to_its_neighbours():
    """100 W for a second, 200 W for two and a half, 400 W for one and a half."""
    found = PowerSeconds.of(log_of([10.0, 12.0, 15.0], [100.0, 200.0, 400.0]))
    assert (found.seconds, found.gap_s, found.step_s) == (5.0, 0.0, 2.5)
    assert found.wh * 3600 == pytest.approx(100 * 1 + 200 * 2.5 + 400 * 1.5)
    # the first value stands for the half second to the first full one, the others for a second about theirs
    assert found.power_w == pytest.approx([100, 150, 200, 200, 400])
    assert found.typical_v == 50.0


def test_a_gap_is_left_out_and_its_neighbours_keep_their_time():
    found = PowerSeconds.of(log_of([0.0, 1.0, 2.0, 102.0, 103.0], [100.0] * 5, longest_s=10.0))
    assert (found.seconds, found.gap_s, found.step_s) == (3.0, 100.0, 1.0)
    assert found.wh * 3600 == pytest.approx(300.0) and found.power_w == pytest.approx([100.0] * 3)
    only_gaps = PowerSeconds.of(log_of([0.0, 50.0], [100.0] * 2, longest_s=10.0))
    assert (only_gaps.seconds, only_gaps.step_s, only_gaps.wh) == (0.0, 1.0, 0.0)


def test_a_gap_is_longer_than_the_longest_step_and_braking_takes_nothing():
    assert PowerSeconds.of(log_of([0.0, 10.0], [100.0] * 2, longest_s=10.0)).gap_s == 0.0
    braking = PowerSeconds.of(log_of([0.0, 1.0, 2.0], [100.0, -80.0, 100.0]))
    assert braking.wh * 3600 == pytest.approx(100.0)


def test_typical_volts_are_those_of_the_harder_half_of_the_mow():
    frame = {
        "time_s": np.arange(4.0),
        "current_a": [0.0, 2.0, 8.0, 8.0],
        "voltage_v": [60.0, 50.0, 44.0, 42.0],
    }
    assert PowerSeconds.of(Log(pd.DataFrame(frame))).typical_v == pytest.approx(43.0)
    still = pd.DataFrame({**frame, "current_a": 0.0})
    assert PowerSeconds.of(Log(still)).typical_v == pytest.approx(49.0), "of a standstill all count"


@pytest.mark.parametrize(("seconds", "mean"), [(1, 500.0), (2, 400.0), (3, 800 / 3), (9, 200.0)])
def test_highest_mean_over_some_seconds_or_over_all(seconds, mean):
    assert highest_mean(np.array([0.0, 300.0, 500.0, 0.0]), seconds) == pytest.approx(mean)
    assert highest_mean(np.zeros(0), seconds) == 0.0


def test_the_motor_is_on_above_what_electronics_take():
    """A twenty-fifth of the 90th percentile, 3 W at least."""
    assert motor_on(np.array([39.0, 41.0, *[1000.0] * 20])).tolist()[:2] == [False, True]
    assert motor_on(np.array([2.9, 3.1, *[20.0] * 20])).tolist()[:2] == [False, True]
    assert motor_on(np.zeros(0)).size == 0


def mown(*stretches: tuple[float, int]) -> np.ndarray:
    return np.concatenate([np.full(seconds, watts, float) for watts, seconds in stretches])


@pytest.mark.parametrize(
    ("power", "idle"),
    [
        (mown((300, 20), (80, 5), (300, 20)), 80.0),
        (mown((300, 20), (80, 4), (300, 20)), None),  # its ends do not count: two are too few
        (mown((300, 20), (80, 3), (300, 20), (80, 4), (300, 20)), 80.0),  # three of two stretches
        (mown((300, 20), (80, 2), (300, 20), (80, 4), (300, 20)), None),  # one of two seconds has no middle
        (mown((300, 20), (175, 9), (300, 20)), 175.0),
        (mown((300, 20), (185, 9), (300, 20)), None),  # over six tenths of the usual
        (mown((300, 4), (80, 5)), None),  # nine seconds
        (mown((300, 5), (80, 5)), 80.0),
        (mown((80, 30), (300, 20)), None),  # idle most of the time: what is low is usual
    ],
)
def test_blades_turn_free_in_the_calm_low_stretches(power, idle):
    assert idle_power(power, power > 0) == idle


def test_cutting_is_what_lies_well_above_idle_once_the_blades_have_spun_up():
    """Idle 80, usual 300: from 80 + 0.35 · 220 = 157 W on; three seconds of spinning up do not count."""
    rows = mown((900, 3), (80, 20), (300, 60), (150, 1), (300, 60))
    found = find_phases(np.concatenate([np.zeros(5), rows, np.zeros(9)]))
    assert (found.cutting_w, found.idle_w) == (300.0, 80.0)
    uneven = mown((300, 1), (300, 2), (80, 20), (160, 50), (300, 49), (310, 1), (320, 49))
    assert find_phases(uneven).cutting_w == 300.0, "160 W are cutting, the middle of 149 s is 300 W"
    low = mown((300, 1), (300, 2), (80, 20), (155, 50), (300, 49), (310, 1), (320, 49))
    assert find_phases(low).cutting_w == 310.0, "155 W are not"
    assert find_phases(np.zeros(20)).cutting_w == 0.0 and find_phases(np.zeros(20)).idle_w is None


PACK = Pack("nmc", 13, 10.0, 39.0)


@pytest.mark.parametrize(
    ("volts", "seconds_before", "at_cut_off"),
    [(39.5, 0, True), (39.6, 0, False), (38.0, 10, True), (38.0, 11, False)],
)
def test_a_mow_ends_at_the_cut_off_where_its_last_ten_seconds_come_within_one_and_a_half_percent(
    volts, seconds_before, at_cut_off
):
    """39 V · 1.015 = 39.585 V; the motor then stands for five seconds."""
    amps, read_v = np.r_[np.full(60, 8.0), np.zeros(5)], np.full(65, 46.0)
    read_v[59 - seconds_before] = volts
    frame = pd.DataFrame({"time_s": np.arange(65.0), "current_a": amps, "voltage_v": read_v})
    assert mow_features(Mow(Log(frame), LAWN, pack=PACK)).ended_at_cut_off is at_cut_off
    assert not mow_features(Mow(Log(frame), LAWN)).ended_at_cut_off, "no pack, no cut-off"


def test_a_clamp_s_zero_is_a_share_of_the_mean_current_and_a_gap_widens_both():
    """0.2 A of 4 A are 5 %; of 600 s 60 are a gap, so a tenth of 30 % is added."""
    error = MeterError(current_zero_a=0.2, current_gain=0.03, voltage_gain=0.04)
    whole = mow_features(Mow(log_of(np.arange(601.0), 200.0, error=error), LAWN))
    assert (whole.energy_log_std, whole.pace_log_std) == pytest.approx((0.05, 0.0))
    assert whole.gain_std == pytest.approx(0.05)
    times = np.r_[np.arange(271.0), np.arange(330.0, 601.0)]
    holed = mow_features(Mow(log_of(times, 200.0, longest_s=10.0, error=error), LAWN))
    assert holed.gap_s == 60.0 and holed.pace_log_std == pytest.approx(0.03, rel=0.01)
    assert holed.energy_log_std == pytest.approx(np.hypot(0.05, 0.03), rel=0.01)
    assert holed.energy_wh == pytest.approx(200 / 6, rel=0.01) and holed.motor_s == pytest.approx(600, abs=2)
    assert holed.mean_w == pytest.approx(200.0)
    tiny = mow_features(Mow(log_of(np.arange(601.0), 4.0, error=error), LAWN))
    assert tiny.energy_log_std == 1.0, "no more than a factor of e"


@pytest.mark.parametrize(
    ("known", "whole"),
    [
        ({}, True),
        ({"energy_wh": 0.0}, False),
        ({"motor_s": 0.0}, False),
        ({"gap_s": 600.0}, True),
        ({"gap_s": 601.0}, False),
        ({"tags": (STOPPED_SHORT,)}, False),
        ({"tags": (RAN_OUT,)}, False),
        ({"tags": (RAN_OUT, LAWN_DONE)}, True),
        ({"ended_at_cut_off": True}, False),
        ({"ended_at_cut_off": True, "tags": (LAWN_DONE,)}, True),
    ],
)
def test_a_mow_is_whole_if_it_measured_energy_and_time_of_all_its_lawn(known, whole):
    found = replace(mow_features(Mow(log_of(np.arange(601.0), 200.0), LAWN)), **{"motor_s": 600.0, **known})
    assert found.whole is whole


@pytest.mark.parametrize("gap_s", [200.0, 400.0])
def test_a_hole_longer_than_what_was_mown_is_a_break_and_fills_nothing(gap_s):
    times = np.r_[np.arange(151.0), 150.0 + gap_s + np.arange(151.0)]
    found = mow_features(Mow(log_of(times, 240.0, longest_s=10.0), LAWN))
    filled = 1 + (gap_s / 300 if gap_s < 300 else 0.0)
    assert found.energy_wh == pytest.approx(20.0 * filled) and found.gap_s == gap_s
    assert found.motor_s == pytest.approx(300 * filled) and found.whole is (gap_s < 300)
    assert found.pace_log_std == pytest.approx(0.3 * gap_s / (gap_s + 300) if gap_s < 300 else 0.0)


def test_seconds_below_a_quarter_of_idle_are_standstill():
    """Blades turn free at 80 W: 19 W are the controller's, 21 W are blades in some way."""
    power = mown((300, 60), (80, 20), (19, 10), (300, 60), (80, 20), (300, 60))
    assert mow_features(Mow(log_of(np.arange(230.0), power), LAWN)).motor_s == pytest.approx(219, abs=1)
    more = np.where(power == 19, 21.0, power)
    assert mow_features(Mow(log_of(np.arange(230.0), more), LAWN)).motor_s == pytest.approx(229, abs=0.5)


def test_days_since_care_count_from_the_last_before_the_mow():
    machine = Machine("own", blade_care=(date(2031, 4, 1), date(2031, 5, 11), date(2031, 6, 1)))
    for day, days in ((1, 30.0), (11, 0.0), (20, 9.0)):
        mow = Mow(log_of(np.arange(60.0), 200.0), LAWN, machine=machine, started=datetime(2031, 5, day, 9))
        assert mow_features(mow).days_since_care == days
    early = Mow(log_of(np.arange(60.0), 200.0), LAWN, machine=machine, started=datetime(2031, 3, 1, 9))
    assert mow_features(early).days_since_care is None
    assert mow_features(Mow(log_of(np.arange(60.0), 200.0), LAWN, machine=machine)).days_since_care is None
