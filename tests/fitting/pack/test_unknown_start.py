"""At which charge a log starts and ends when nobody said so; how far a load follows the voltage."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, open_circuit_v, part, planted_log

from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import MOST_LEFT, as_fitted
from estimator.fitting.pack.joint_fit import fit_log, fit_logs
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.start_charge import _likelihood, met_cut_off, start_of
from estimator.importer.log import Log
from estimator.predictor.charge_curve import charge_curve
from estimator.predictor.simulation.future_load import draw_level
from estimator.predictor.simulation.load_memory import remember

LFP = Pack("lfp", 12, 10.0, 30.0)
NMC = Pack("nmc", 13, 10.5, 39.0)


def lfp_log(start, end=0.0, amps=5.0):
    """A steady discharge of a cell that follows the published curve, 10 Ah, 0.08 ohm, 5 s steps."""
    seconds = np.arange(0.0, (start - end) * 10.0 / amps * 3600, 5.0)
    charge = start - seconds * amps / 3600 / 10.0
    volts = 12 * open_circuit_v("lfp", charge) - 0.08 * amps
    keep = volts >= 29.95
    frame = pd.DataFrame({"time_s": seconds, "current_a": amps, "voltage_v": volts})[keep]
    return Log(frame, error=FINE), charge[keep]


def test_empty_is_where_the_open_circuit_curve_meets_the_cut_off():
    """3.0 V a cell is at 1.82 % of the family's mean curve, which has 2.943 V at 1.5 % and 3.032 V at 2 %."""
    fitted = as_fitted(NMC)
    assert 1 - fitted.usable == pytest.approx(0.0182, abs=0.001)
    assert fitted.capacity_ah == pytest.approx(10.5)
    assert as_fitted(replace(NMC, cut_off_v=2.5 * 13)).usable == pytest.approx(1.0, abs=1e-6)
    assert as_fitted(replace(NMC, cut_off_v=3.7 * 13)).usable == 1 - MOST_LEFT


@pytest.mark.parametrize("start", [0.25, 0.5])
def test_a_flat_curve_met_half_way_is_placed_by_its_end(start):
    log, charge = lfp_log(start)
    curve = charge_curve(log, LFP)
    assert np.sqrt(np.mean((curve["charge"] - charge) ** 2)) < 0.05


def test_three_quarters_drawn_to_the_end_are_placed_by_where_the_curve_bends():
    log, charge = lfp_log(0.75)
    curve = charge_curve(log, LFP)
    assert curve["low"].iloc[0] < charge[0] < curve["high"].iloc[0]


def test_a_charge_and_its_band_stay_between_empty_and_full():
    curve = charge_curve(lfp_log(0.9, end=0.8)[0], LFP)[["charge", "low", "high"]]
    assert curve.min().min() >= 0.0 and curve.max().max() == 1.0, "a flat stretch leaves room beyond full"


def test_volts_above_a_flat_curve_are_those_of_a_full_pack_and_never_of_an_emptier_one():
    """Seen before: near empty the curve is known to .12 V only, so 3.43 V a cell at rest were likelier there
    than at a tenth, and full packs were not taken for full.
    """
    rest = Log(pd.DataFrame({"time_s": np.arange(60.0), "current_a": 0.0, "voltage_v": 12 * 3.43}))
    charges = np.linspace(0.0, 0.99, 100)
    likely = _likelihood(as_fitted(LFP), trace_of(rest), charges)
    assert (np.diff(likely) >= 0).all() and likely[-1] > 5 * likely[90]


def test_a_flat_stretch_without_an_end_leaves_a_wide_band():
    log, charge = lfp_log(0.6, end=0.45)
    ended = charge_curve(lfp_log(0.6)[0], LFP)
    curve = charge_curve(log, LFP)
    width = float((curve["high"] - curve["low"]).iloc[0])
    assert width > 2 * float((ended["high"] - ended["low"]).iloc[0])
    assert curve["low"].iloc[0] < charge[0] < curve["high"].iloc[0]


def test_a_start_that_the_voltage_places_is_where_the_search_begins_and_no_second_reading():
    """The fit reads the first volts itself; a narrow prior from the same volts would count them twice, and
    would forget that the curve may be off."""
    log, truth = planted_log(np.random.default_rng(4))
    half = part(log, from_s=1500.0)
    at = float(np.interp(1500.0, log.readings["time_s"], truth))
    start = start_of(as_fitted(NMC), trace_of(half), None)
    assert not start.full and start.begin == pytest.approx(at, abs=0.15)
    assert start.std > 0.3
    fit = fit_log(as_fitted(NMC), trace_of(half), start)
    assert abs(fit.mean[-3] - at) < 2.5 * fit.covariance[-3, -3] ** 0.5


def test_several_peaks_widen_the_covariance():
    fitted = as_fitted(LFP)
    trace = trace_of(lfp_log(0.6, end=0.45)[0])
    start = start_of(fitted, trace, None)
    assert len(start.tries) > 3
    mixed = fit_log(fitted, trace, start)
    alone = min(
        (fit_logs(fitted, [trace], [one])[-1] for one in start.tries),
        key=lambda one: abs(one.mean[-3] - mixed.mean[-3]),
    )
    assert mixed.covariance[-3, -3] > alone.covariance[-3, -3]


def test_an_aged_pack_that_started_full_is_no_younger_one_that_started_later():
    """8 of 10 Ah are left: the curve alone rather suggests 10 Ah from four fifths on, but only a full pack
    rests at 3.4 V a cell, and no curve is known so well."""
    log, _ = lfp_log(1.0)
    seconds = log.readings["time_s"].to_numpy() * 0.8
    aged = Log(log.readings.assign(time_s=seconds), error=FINE)
    fitted = as_fitted(LFP)
    start = start_of(fitted, trace_of(aged), None)
    assert start.full
    assert fit_log(fitted, trace_of(aged), start).mean[-3] > 0.95


@pytest.mark.parametrize("charge", [0.65, 0.75, 0.9])
def test_volts_of_the_flat_stretch_are_not_insisted_to_be_those_of_a_full_pack(charge):
    """3.27 to 3.31 V a cell: a full LFP pack that has rested for weeks shows hardly more, one two thirds full
    no less. Once seen: it was taken for full against all evidence, and twice the minutes were said."""
    log, truth = lfp_log(charge, end=charge - 0.35)
    start = start_of(as_fitted(LFP), trace_of(log), None)
    assert not start.full and len(start.tries) > 3
    curve = charge_curve(log, LFP)
    assert curve["low"].iloc[-1] < truth[-1] < curve["high"].iloc[-1]


def test_the_cut_off_says_where_a_log_ended_only_where_it_was_met():
    fitted = as_fitted(NMC)
    log, truth = planted_log(np.random.default_rng(4))
    end = met_cut_off(fitted, trace_of(log))
    assert end is not None
    assert abs(end.charge - truth[end.reading]) < 2.5 * end.std
    assert met_cut_off(fitted, trace_of(part(log, upto_s=600))) is None


@pytest.mark.parametrize("exponent", [0.0, 1.0])
def test_the_exponent_of_a_load_is_found_however_often_it_was_read(exponent):
    """The same load read at 1 s and at 0.1 s has the same exponent and nearly the same doubt about it."""
    rng = np.random.default_rng(6)
    slow_s = np.arange(0.0, 2400.0)
    level = 400.0 * np.repeat(rng.lognormal(0.0, 0.05, 240), 10)
    volts = np.linspace(52.0, 46.0, 2400)
    power = level * (volts / 52.0) ** exponent
    fast_s = np.arange(0.0, 2399.0, 0.1)
    fast_w, fast_v = np.interp(fast_s, slow_s, power), np.interp(fast_s, slow_s, volts)
    once = remember(power, volts, 1.0, slow_s, power, volts)
    often = remember(power, volts, 1.0, fast_s, fast_w, fast_v)
    assert once.follow == pytest.approx(exponent, abs=2.5 * once.follow_std)
    assert often.follow == pytest.approx(once.follow, abs=once.follow_std)
    assert often.follow_std == pytest.approx(once.follow_std, rel=0.3)


def test_a_level_from_few_stretches_has_longer_tails():
    few = draw_level(0.1, 3.0, 200_000, np.random.default_rng(1))
    many = draw_level(0.1, 1000.0, 200_000, np.random.default_rng(1))
    # 95th percentile of Student's t with 3 degrees of freedom is 2.353 (any table), of the normal 1.645
    assert np.log(np.quantile(few, 0.95)) + 0.005 == pytest.approx(0.2353, abs=0.004)
    assert np.log(np.quantile(many, 0.95)) + 0.005 == pytest.approx(0.1645, abs=0.002)


@pytest.mark.parametrize(("on_after_s", "stopped"), [(0, True), (5, True), (20, False)])
def test_a_peak_at_the_cut_off_is_an_end_only_where_the_motor_stops(on_after_s, stopped):
    """A thick patch of 5 s pulls the pack down to its cut-off; then the motor goes on, or the pack rests."""
    amps = np.concatenate([np.full(480, 8.0), [30.0], np.full(on_after_s // 5, 8.0), np.zeros(20)])
    volts = np.where(amps == 8.0, 46.0, np.where(amps > 0, NMC.cut_off_v, 47.0))
    frame = pd.DataFrame({"time_s": 5.0 * np.arange(len(amps)), "current_a": amps, "voltage_v": volts})
    trace = trace_of(Log(frame, error=FINE), None, NMC.cut_off_v)
    assert len(trace.time_s) == (481 if stopped else len(amps))
    assert (met_cut_off(as_fitted(NMC), trace) is not None) == stopped
