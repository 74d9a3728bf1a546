"""One log's share in the joint fit, worked out on paper: its prior, its weights and its end."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.log_grid import Trace, trace_of
from estimator.fitting.pack.log_model import START, ZERO_A, ZERO_V, model, reading_variance
from estimator.fitting.pack.log_share import (
    N_PACK,
    OWN,
    end_off,
    end_row,
    misfit_of,
    prior_of_all,
    pull_of,
    share_of,
    weeks_between,
)
from estimator.fitting.pack.start_charge import End, Start
from estimator.importer.log import Log, MeterError

NMC = as_fitted(Pack("nmc", 13, 10.0, 39.0))
LFP = as_fitted(Pack("lfp", 13, 10.0, 32.5))
ERROR = MeterError(current_zero_a=0.1, current_gain=0.02, voltage_zero_v=0.5)
FULL = Start(1.0, 0.006, True)


def steady(readings: int = 100, hours: float = 0.5, error: MeterError = ERROR) -> Trace:
    """A steady 10 A from a pack of 10 Ah: half its charge in half an hour, at falling volts."""
    time_s = np.linspace(0.0, 3600 * hours, readings)
    volts = np.linspace(53.0, 47.0, readings)
    frame = pd.DataFrame({"time_s": time_s, "current_a": 10.0, "voltage_v": volts})
    return trace_of(Log(frame, error=error))


@pytest.mark.parametrize(
    ("before", "now", "weeks"),
    [
        (date(2031, 5, 1), date(2031, 5, 22), 3.0),
        (date(2031, 5, 1), date(2031, 5, 1), 0.2),
        (date(2031, 5, 1), date(2031, 5, 2), 0.2),
        (date(2031, 5, 1), date(2031, 5, 3), 2 / 7),
        (date(2031, 5, 1), date(2032, 5, 1), 40.0),
        (date(2031, 5, 2), date(2031, 5, 1), 1.0),
        (None, date(2031, 5, 1), 1.0),
        (date(2031, 5, 1), None, 1.0),
    ],
)
def test_a_pack_drifts_with_the_weeks_between_a_fifth_and_forty(before, now, weeks):
    assert weeks_between(before, now) == pytest.approx(weeks)


@pytest.mark.parametrize(("fitted", "curve_v"), [(NMC, 0.004), (LFP, 0.008)])
def test_logs_share_the_walk_from_the_earlier_of_them_to_the_last(fitted, curve_v):
    """Two and three weeks apart: the first is 5 weeks from the last, the second 3, the third is the last; of
    a clamp's gain of 2 % seven tenths are new each time, of one of 10 % as of one of 3 %."""
    gains = (0.02, 0.10, 0.0)
    traces = [steady(error=replace(ERROR, current_gain=gain)) for gain in gains]
    starts = [FULL, Start(0.7, 0.02, False), Start(0.5, 0.35, False)]
    mean, information = prior_of_all(fitted, traces, starts, (2.0, 3.0))
    cov = np.linalg.inv(information)
    assert mean[:N_PACK] == pytest.approx(fitted.mean)
    assert cov[:N_PACK, :N_PACK] == pytest.approx(fitted.covariance, abs=1e-9)
    own = N_PACK + OWN * np.arange(3)
    assert mean[own] == pytest.approx([1.0, 0.7, 0.5]) and np.abs(mean[N_PACK:]).sum() == pytest.approx(2.2)
    assert np.sqrt(cov[own, own]) == pytest.approx([0.006, 0.02, 0.35])
    assert np.sqrt(cov[own + 1, own + 1]) == pytest.approx(0.31)
    assert np.sqrt(cov[own + 2, own + 2]) == pytest.approx(0.31 * ERROR.voltage_zero_v)
    walked = np.array([[5, 3, 0], [3, 3, 0], [0, 0, 0]])
    anew = np.diag(0.010**2 + (0.7 * np.array([0.02, 0.03, 0.0])) ** 2)
    then = cov[np.ix_(own + 3, own + 3)]
    assert then == pytest.approx(0.005**2 * walked + anew, abs=1e-9)
    assert cov[np.ix_(own + 4, own + 4)] == pytest.approx(0.03**2 * walked, abs=1e-8)
    for first in own:
        curve = slice(first + 5, first + 10)
        assert cov[curve, curve] == pytest.approx(curve_v**2 * np.eye(5), abs=1e-9)


def test_what_is_a_log_s_own_moves_only_what_it_stands_for():
    """The second of two logs: its clamp's zero is 95 % what all logs share and an own part, times 0.1 A."""
    share = share_of(NMC, steady(), FULL, 1, N_PACK + 2 * OWN)
    own = N_PACK + OWN
    x = np.zeros(N_PACK + 2 * OWN)
    x[:N_PACK] = NMC.mean
    x[N_PACK:own] = 100.0  # another log's: nothing here
    x[own : own + 5] = 0.9, 2.0, 0.3, 0.01, 0.05
    x[own + 5 : own + OWN] = 0.001, 0.002, 0.004, 0.003, 0.005
    x[prior.METER_ZERO] = 1.0
    joint = share.pick @ x
    zero_a = ERROR.current_zero_a
    assert joint[[START, ZERO_A, ZERO_V]] == pytest.approx([0.9, zero_a * (0.95 + 2.0), 0.3])
    more = joint[:N_PACK] - x[:N_PACK]
    assert more[prior.CAPACITY] == pytest.approx(0.01)
    for part in (prior.OHMIC, prior.QUICK, prior.LAG):
        assert more[part] == pytest.approx(0.05)
    assert more[[*prior.ACTIVATIONS, prior.SLOW, prior.PEUKERT, prior.TRANSFER]] == pytest.approx(0.0)
    between = np.interp(prior.CURVE_AT, [0, 0.15, 0.4, 0.7, 1], [0.001, 0.002, 0.004, 0.003, 0.005])
    assert more[prior.CURVE] == pytest.approx(between)


@pytest.mark.parametrize(
    ("readings", "hours", "of_all", "independent"),
    [(100, 0.5, 120.0, 70.0), (100, 0.25, 120.0, 40.0), (100, 0.5, 30.0, 25.0), (30, 0.5, 120.0, 30.0)],
)
def test_a_log_counts_as_ten_readings_and_120_for_the_whole_charge(readings, hours, of_all, independent):
    """Half the charge is 10 + 60, a quarter 10 + 30; no more than it has."""
    full = replace(NMC, mean=np.where(np.arange(N_PACK) == prior.CAPACITY, 0.0, NMC.mean))
    share = share_of(full, steady(readings, hours), replace(FULL, readings_of_all=of_all), 0, N_PACK + OWN)
    assert share.independent == pytest.approx(independent)


def test_readings_near_the_cut_off_weigh_up_to_five_times_as_much():
    """Five times at or below 39 V, 1 + 4/e at 8 % above it, and hardly more than once at 40 % above."""
    trace = steady(4)
    trace = replace(trace, voltage_v=np.array([38.0, 39.0, 39.0 * 1.08, 39.0 * 1.4]))
    share = share_of(NMC, trace, FULL, 0, N_PACK + OWN)
    assert share.weight / trace.weight == pytest.approx([5.0, 5.0, 1 + 4 / np.e, 1.027], rel=1e-3)


def fitted_share(readings: int = 60, end: End | None = None):
    trace = steady(readings)
    share = share_of(NMC, trace, replace(FULL, end=end), 0, N_PACK + OWN)
    x = np.zeros(N_PACK + OWN)
    x[:N_PACK], x[N_PACK] = NMC.mean, 0.98
    return share, x, model(share.pick @ x, NMC, trace)


@pytest.mark.parametrize(("sigmas", "misfit"), [(0.5, 1.0), (1.0, 1.0), (2.0, 4.0), (-3.0, 9.0)])
def test_readings_that_scatter_more_than_stated_count_for_less(sigmas, misfit):
    share, x, at = fitted_share()
    joint = share.pick @ x
    variance = reading_variance(joint, NMC, share.trace, at)
    off = replace(share, trace=replace(share.trace, voltage_v=at.voltage + sigmas * np.sqrt(variance)))
    assert misfit_of(off, at, variance) == pytest.approx(misfit)
    pulls = pull_of(NMC, off, joint, at)
    assert pulls == pytest.approx(off.weight * off.independent / variance / misfit)


def test_the_end_s_pull_is_the_slope_of_how_far_it_is_off():
    """The charge at a log's end, two hundredths over what the cut-off says, known to 4 %: half a sigma."""
    share, x, at = fitted_share()
    share = replace(share, end=End(40, float(at.charge[40]) - 0.02, 0.04))
    assert end_off(share, at) == pytest.approx(0.5)
    row, step = end_row(NMC, share, x, at), 1e-5
    for place in (N_PACK, N_PACK + 1, prior.METER_ZERO, prior.CAPACITY, N_PACK + 3, N_PACK + 2, prior.SLOW):
        moved = np.where(np.arange(len(x)) == place, step, 0.0)
        up, down = (
            end_off(share, model(share.pick @ (x + sign * moved), NMC, share.trace)) for sign in (1, -1)
        )
        assert row[place] == pytest.approx((up - down) / (2 * step), abs=1e-6)
    without = replace(share, end=None)
    assert end_off(without, at) == 0.0 and not end_row(NMC, without, x, at).any()
