"""A pack fitted to more logs than are judged together, and to logs that do not say how full they started."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, open_circuit_v, planted_log

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.log_facts import pace_after
from estimator.fitting.pack.log_grid import LAG_S, Pace
from estimator.fitting.pack.pack_draws import draw_now
from estimator.fitting.pack.pack_fit import TOGETHER, drifted, fit_of_log, fit_pack
from estimator.importer.log import Log

LFP = Pack("lfp", 12, 10.0, 30.0)
NMC = Pack("nmc", 13, 10.0, 39.0)


def steady(start, end, amps=5.0, step_s=30.0):
    """A steady discharge of cells that follow the published curve, 10 Ah, 0.08 ohm."""
    seconds = np.arange(0.0, (start - end) * 10.0 / amps * 3600, step_s)
    volts = 12 * open_circuit_v("lfp", start - seconds * amps / 3600 / 10.0) - 0.08 * amps
    frame = pd.DataFrame({"time_s": seconds, "current_a": amps, "voltage_v": volts})
    return Log(frame[volts >= 29.95], error=FINE)


def test_older_logs_count_one_by_one_before_the_last_are_judged_together():
    logs = [steady(1.0, 0.0)] * (TOGETHER + 1)
    fitted = fit_pack(logs, LFP, [1.0] * len(logs))
    assert fitted.logs == TOGETHER + 1
    assert fitted.capacity_ah == pytest.approx(10.0, rel=0.05)


@pytest.mark.parametrize(("start", "end"), [(1.0, 0.0), (0.75, 0.0), (0.6, 0.45)])
def test_a_log_that_does_not_say_where_it_started_leaves_the_truth_believable(start, end):
    """The published curve rests at the cut-off, 2.5 V a cell, at 1.65 % of its charge: 9.83 Ah are usable."""
    fitted = fit_pack([steady(start, end)], LFP)
    low, high = fitted.capacity_ah * np.exp(np.array([-2, 2]) * np.sqrt(fitted.covariance[0, 0]))
    assert low < 9.83 < high


def test_three_quarters_drawn_to_the_end_are_told_from_a_full_pack_that_gave_less():
    """Packs mostly start full, but a curve that begins and bends where that of a pack three quarters full
    would is strong evidence against it."""
    log = steady(0.75, 0.0)
    assert fit_pack([log], LFP).capacity_ah == pytest.approx(9.83, rel=0.1)
    assert fit_pack([log], LFP, [0.75]).capacity_ah == pytest.approx(9.83, rel=0.1)


@pytest.mark.parametrize("slow_ohm", [0.0, 0.03, 0.1])
def test_what_relaxes_over_minutes_is_found(slow_ohm):
    """A planted pair of 150 s with a quick one of 36 mohm; where there is none, next to nothing is found."""
    logs = [planted_log(np.random.default_rng(k), slow_ohm=slow_ohm)[0] for k in range(1, 7)]
    fitted = fit_pack(logs, NMC, [1.0] * 6)
    found_ohm = float(np.exp(fitted.mean[prior.SLOW] + fitted.mean[prior.QUICK][4]))
    assert found_ohm == pytest.approx(slow_ohm, abs=0.008 + 0.1 * slow_ohm)


def test_the_usual_pace_moves_towards_a_log_s_own_by_its_share():
    """A quarter of the way from 1 C, 2 C and 10 °C to 0.5 C, held throughout, at 25 °C."""
    found = fit_of_log(steady(1.0, 0.6), LFP, 1.0).found
    after, before = as_fitted(LFP), Pace(1.0, 2.0, 10.0)
    own, moved = (pace_after(found, after, before, share) for share in (1.0, 0.25))
    c_rate = 5.0 / (10.0 * np.exp(found.pack_mean[prior.CAPACITY]))
    assert (own.mean_c, own.temperature_c) == pytest.approx((c_rate, 25.0))
    assert own.peak_c == pytest.approx(c_rate, rel=1e-6)
    for name, was in (("mean_c", 1.0), ("peak_c", 2.0), ("temperature_c", 10.0)):
        assert getattr(moved, name) == pytest.approx(0.75 * was + 0.25 * getattr(own, name))


def test_a_pack_as_it_stands_after_a_log_is_what_the_log_left_it():
    """What 5 A drew from full, of the mean capacity; the low-passed rates of an hour at one current."""
    found, after = (known := fit_of_log(steady(1.0, 0.5), LFP, 1.0)).found, known.after
    draws = draw_now(found, after, 400, np.random.default_rng(1))
    own_ah = float(np.median(draws.capacity_ah))
    assert np.median(draws.charge) == pytest.approx(1 - found.trace.drawn_ah[-1] / own_ah, abs=0.02)
    rates = 5.0 / own_ah * (1 - np.exp(-found.trace.time_s[-1] / LAG_S))
    assert np.median(draws.rates_c, axis=1) == pytest.approx(rates, rel=0.005)
    assert after.usable < 0.99, "else nothing is shown of how usable charge is counted"


def test_half_a_charge_drawn_to_the_cut_off_tells_of_a_whole_one():
    """A pack of 8 Ah in truth, labelled 10: the 4 Ah between a half and empty are half of it."""
    log = steady(0.5, 0.0)
    small = Log(log.readings.assign(current_a=0.8 * log.readings["current_a"]), error=FINE)
    fitted = fit_pack([small], LFP, [0.5])
    assert fitted.logs == 1
    assert 7.0 < fitted.capacity_ah < 9.8


def test_what_is_known_of_a_pack_fades_with_the_square_root_of_the_weeks():
    """Four weeks: the capacity 1 %, all resistances together 6 %, the curve 2 mV at each of its places; what
    is believed stays what it was."""
    known = replace(as_fitted(NMC), logs=1, last_day=date(2031, 5, 1))
    later = drifted(known, date(2031, 5, 29))
    more = later.covariance - known.covariance
    for block, std in ((prior.OHMIC, 0.06), (prior.QUICK, 0.06), (prior.LAG, 0.06)):
        assert more[block, block] == pytest.approx(np.full_like(more[block, block], std**2))
    assert more[prior.CAPACITY, prior.CAPACITY] == pytest.approx(0.01**2)
    assert np.diag(more[prior.CURVE, prior.CURVE]) == pytest.approx(0.002**2)
    assert later.mean is known.mean and drifted(known).covariance[0, 0] < later.covariance[0, 0]
