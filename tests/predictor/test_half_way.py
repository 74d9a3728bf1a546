"""Minutes left said half-way through mows down to the cut-off: what came, and how misses scale bands."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.importer.log import Log
from estimator.predictor.half_way import LEAST_STRETCH, SaidHalfWay, say_half_way, score_half_way, stretched
from estimator.predictor.minutes import MinutesLeft

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
ROW = SaidHalfWay("rows", None, 20.0, 16.0, 25.0, 20.0)


def drained() -> Log:
    """A minute of rest, an hour at about 400 W down to the cut-off, ten minutes of rest."""
    seconds = np.arange(0.0, 4260.0, 5.0)
    loaded = (seconds >= 60) & (seconds <= 3660)
    used = np.clip((seconds - 60) / 3600, 0, 1)
    volts = np.where(loaded, 53.0 - 7.0 * used - 7.0 * np.exp((used - 1) / 0.04), 51.0)
    return Log(
        pd.DataFrame({"time_s": seconds, "current_a": np.where(loaded, 400 / volts, 0.0), "voltage_v": volts})
    )


def test_half_way_is_between_first_and_last_load_and_the_rest_is_what_came():
    said = say_half_way(drained(), PACK, 1.0, 20.0, "rows", None)
    assert said.came == pytest.approx(30.0, abs=0.1)
    assert said.low < said.minutes < said.high


def test_a_long_rest_with_a_clamp_off_its_zero_is_no_load():
    """The meter went on for an hour and a half at 0.05 A: half-way is still half-way through the mow."""
    log = drained()
    rest = {"time_s": np.arange(4260.0, 9660.0, 5.0), "current_a": 0.05, "voltage_v": 51.0}
    readings = pd.concat([log.readings, pd.DataFrame(rest)], ignore_index=True)
    said = say_half_way(replace(log, readings=readings), PACK, 1.0, 20.0, "rows", None)
    assert said.came == pytest.approx(30.0, abs=0.1)


def test_nothing_is_said_of_a_log_of_two_readings():
    log = drained()
    two = replace(log, readings=log.readings.iloc[[400, 500]].reset_index(drop=True))
    assert say_half_way(two, PACK, 1.0, 20.0, "rows", None) is None


def test_bands_that_hold_as_meant_stay_on_paper():
    """Each misses by one claimed sigma: 25/16 is 3.29 sigma wide, so that sigma is a factor of 1.145."""
    sigma = np.log(25 / 16) / (2 * 1.645)
    rows = [replace(ROW, came=20 * float(np.exp(sign * sigma))) for sign in (1, -1)] * 4
    found = score_half_way(rows)
    assert (found.mows, found.held) == (8, 8)
    assert found.stretch == pytest.approx(1.0)


def test_misses_widen_and_hits_narrow_but_not_without_end():
    assert score_half_way([]) is None
    assert score_half_way([replace(ROW, came=40.0)] * 2).stretch > 1.5
    assert 0.9 < score_half_way([ROW]).stretch < 1.0
    assert score_half_way([ROW] * 50).stretch == LEAST_STRETCH


def test_a_band_is_stretched_about_its_median_and_a_dead_pack_s_stays():
    left = MinutesLeft(20.0, 10.0, 40.0, 0.9, 0.5, 300.0, ends_min=(10.0, 20.0, 40.0))
    wide = stretched(left, 2.0)
    assert (wide.minutes, wide.low, wide.high, wide.ends_min) == (20.0, 5.0, 80.0, (5.0, 20.0, 80.0))
    assert stretched(left, 1.0) == left
    dead = replace(left, minutes=0.0, low=0.0)
    assert stretched(dead, 2.0) == dead
