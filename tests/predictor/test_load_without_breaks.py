"""A break in which the logger slept does not come again with the load; rests that were read do."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.importer.log import Log
from estimator.predictor.minutes import minutes_left
from estimator.predictor.simulation.load_ahead import BREAK_S, without_breaks

CRATE = Pack("nmc", 13, 10.0, 39.0)


def mown(pause_s: float, slept: bool = True) -> Log:
    """Ten minutes at 300 W on both sides of a pause with the motor off, in which the logger slept or not."""
    amps = np.concatenate([np.full(600, 6.0), np.zeros(int(pause_s)), np.full(600, 6.0)])
    volts = 53.0 - 0.9 * np.cumsum(amps) / 3600 - 0.1 * amps
    table = {"time_s": np.arange(len(amps), dtype=float), "current_a": amps, "voltage_v": volts}
    return Log(pd.DataFrame({**table, "volts_drawn": (amps == 0) & slept}))


def test_a_lunch_in_the_log_does_not_stretch_the_minutes_left():
    plain, lunch = (minutes_left(mown(each), CRATE, 1.0, draws=200).minutes for each in (0, 1500))
    assert lunch == pytest.approx(plain, rel=0.08)


def test_rests_that_were_read_come_again():
    """25 minutes off in 45, read all along as in a cycle of loads: once taken for a lunch, which made
    the scores of measured cycles twice as bad."""
    plain, rests = (
        minutes_left(mown(each, slept=False), CRATE, 1.0, draws=200).minutes for each in (0, 1500)
    )
    assert rests == pytest.approx(2.25 * plain, rel=0.25)


def test_short_pauses_come_again():
    """Four minutes off in 24: the charge lasts a fifth longer."""
    plain, often = (minutes_left(mown(each), CRATE, 1.0, draws=200).minutes for each in (0, BREAK_S - 60))
    assert often == pytest.approx(1.2 * plain, rel=0.08)


def test_a_log_without_breaks_keeps_its_readings_and_times():
    time_s, on = np.arange(900.0), np.ones(900, dtype=bool)
    on[300 : 300 + int(BREAK_S)] = False  # a second short of a break
    kept, times = without_breaks(time_s, on, 30.0)
    assert kept.all() and (times == time_s).all()
    on[300 + int(BREAK_S)] = False
    kept, times = without_breaks(time_s, on, 30.0)
    assert (~kept).sum() == BREAK_S + 1 and times[-1] == 900 - 1 - (BREAK_S + 1)


def test_a_gap_beside_a_break_counts_no_longer_than_a_step():
    time_s = np.array([0.0, 1, 2, 500, 501, 900, 901])
    on = np.array([True, True, False, False, True, True, True])
    assert without_breaks(time_s, on, 1000.0)[1].tolist() == [0.0, 1.0, 2.0, 401.0, 402.0]
    assert without_breaks(time_s, on, 30.0)[1].tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
