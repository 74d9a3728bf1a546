"""A pack that stops the motor by itself before the cut-off does, as where one of its cells is weak."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, part, planted_log

from estimator.descriptions import Pack
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.pack.pack_fit import fit_pack, update_fit
from estimator.importer.log import Log
from estimator.predictor.minutes import minutes_left
from estimator.predictor.simulation.simulation import CUT_OFF, simulate

RATED = Pack("nmc", 13, 10.0, 39.0)


@cache
def stopped(deep: float, seed: int = 1) -> Log:
    """A planted mow from full that the battery broke off at a share of its time."""
    log = planted_log(np.random.default_rng(seed))[0]
    return replace(part(log, upto_s=deep * log.readings["time_s"].iloc[-1]), ran_out=True)


@pytest.mark.parametrize("deep", [0.55, 0.7, 0.85])
def test_a_pack_gives_what_it_gave_before_it_stopped_the_motor(deep):
    fitted = fit_pack([stopped(deep)], RATED, [1.0])
    drawn_ah = charge_used(stopped(deep)).ah
    assert fitted.usable_ah == pytest.approx(drawn_ah, rel=0.01)
    assert 0.03 < fitted.usable_std_ah / fitted.usable_ah < 0.055
    assert not fitted.by_its_label
    assert fit_pack([replace(stopped(deep), ran_out=False)], RATED, [1.0]).by_its_label


def test_it_stops_there_again_under_the_same_load():
    fitted, drawn_ah = fit_pack([stopped(0.7)], RATED, [1.0]), charge_used(stopped(0.7)).ah
    draws = draw_pack(fitted, 500, np.random.default_rng(2))
    power_w = np.full((1, 9000), 380.0)
    ends = simulate(draws, power_w, 1.0, cut_off_v=39.0)
    gave_ah = 380.0 * np.median(ends.end_s) / 3600 / float(np.mean(stopped(0.7).readings["voltage_v"]))
    assert set(ends.why) == {CUT_OFF}
    assert gave_ah == pytest.approx(drawn_ah, rel=0.03)


def test_a_log_that_went_further_shows_that_it_stops_there_no_more():
    weak = fit_pack([stopped(0.6)], RATED, [1.0])
    later = replace(stopped(0.9, seed=2), ran_out=False)
    after = update_fit(weak, later, 1.0)
    plain = update_fit(fit_pack([replace(stopped(0.6), ran_out=False)], RATED, [1.0]), later, 1.0)
    assert weak.stops_at > 0.3 and after.stops_at == 0.0, "a peak, heat or a plug stopped it that time"
    assert after.usable_ah == pytest.approx(plain.usable_ah, rel=0.03)
    assert after.usable_std_ah == pytest.approx(plain.usable_std_ah, rel=0.35)
    little = update_fit(weak, replace(stopped(0.62, seed=1), ran_out=False), 1.0)
    assert weak.stops_at - 0.05 < little.stops_at < weak.stops_at
    assert update_fit(weak, replace(stopped(0.3, seed=2), ran_out=False), 1.0).stops_at == weak.stops_at
    assert update_fit(weak, stopped(0.5, seed=2), 1.0).stops_at > weak.stops_at


def test_a_pack_that_reached_its_cut_off_ran_out_there():
    whole = planted_log(np.random.default_rng(1))[0]
    told = fit_pack([replace(whole, ran_out=True)], RATED, [1.0])
    assert told.stops_at == 0.0
    assert told.capacity_ah == fit_pack([whole], RATED, [1.0]).capacity_ah


def test_lead_acid_has_nothing_that_stops_the_motor():
    acid = Pack("lead_acid", 12, 20.0, 21.0)
    volts = [25.4, 24.6, 24.2, 23.9, 23.6]
    frame = pd.DataFrame({"time_s": 600.0 * np.arange(5), "current_a": 10.0, "voltage_v": volts})
    log = Log(frame, longest_step_s=900.0, ran_out=True)
    assert fit_pack([log], acid, [1.0]).stops_at == 0.0


def test_a_stop_survives_the_logbook():
    fitted = fit_pack([stopped(0.7)], RATED, [1.0])
    assert FittedPack.from_plain(fitted.as_plain()).stops_at == fitted.stops_at > 0.2


CHARGE = np.linspace(0.0, 1.0, 11)
CELL_V = [2.90, 3.44, 3.57, 3.64, 3.69, 3.735, 3.80, 3.875, 3.96, 4.03, 4.17]
"""Volts of an invented cell, which no family holds."""


def weak_cell_mow(weak_ah: float, watts: float, seed: int) -> Log:
    """An invented mow from full with 12 cells of 10 Ah and one of `weak_ah`, until that falls to 2.9 V."""
    rng, used_ah, rows = np.random.default_rng(seed), 0.0, []
    for k in range(9000):
        if k % 10 == 0:
            level = watts * rng.lognormal(0, 0.2)
        good, weak = (np.interp(1 - used_ah / ah, CHARGE, CELL_V) for ah in (10.0, weak_ah))
        emf = 12 * good + weak
        volts = (emf + np.sqrt(emf**2 - 4 * level * 0.06)) / 2
        amps = level / volts
        if weak - amps * 0.06 / 13 < 2.9:
            break
        rows.append((float(k), amps, volts))
        used_ah += amps / 3600
    frame = pd.DataFrame(rows, columns=["time_s", "current_a", "voltage_v"])
    return Log(frame, error=FINE, ran_out=True)


@pytest.mark.parametrize(("weak_ah", "watts", "later_w"), [(8.0, 400.0, 400.0), (6.5, 350.0, 500.0)])
def test_minutes_left_of_a_pack_with_a_weak_cell(weak_ah, watts, later_w):
    fitted = fit_pack([weak_cell_mow(weak_ah, watts, 1)], RATED, [1.0])
    later = weak_cell_mow(weak_ah, later_w, 2)
    seconds = float(later.readings["time_s"].iloc[-1])
    half = replace(part(later, upto_s=seconds / 2), ran_out=False)
    left = minutes_left(half, fitted, 1.0)
    assert left.low < seconds / 120 < left.high
    assert left.minutes == pytest.approx(seconds / 120, rel=0.08)
    assert minutes_left(half, RATED, 1.0).minutes > 1.2 * seconds / 120
