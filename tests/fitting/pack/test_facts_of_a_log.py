"""What one log shows of a capacity, and how the whole fit is moved to what the facts allow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.capacity_evidence import Believed, believed, left_behind
from estimator.fitting.pack.fitted_pack import as_fitted, charge_at_cut_off, open_circuit_table, usable_slopes
from estimator.fitting.pack.log_facts import _shown, with_facts
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.log_model import ZERO_A, Modelled, model
from estimator.fitting.pack.log_share import N_PACK, OWN, LogShare, prior_of_all, share_of
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.start_charge import Start
from estimator.importer.log import Log, MeterError

NMC = as_fitted(Pack("nmc", 13, 10.0, 39.0))
ACID = as_fitted(Pack("lead_acid", 12, 20.0, 21.0))
FULL = Start(1.0, 0.006, True)
ERROR = MeterError(current_zero_a=0.1, current_gain=0.02, voltage_zero_v=0.5)
N = 101


def laid_out(fitted=NMC, volts=None, amps=8.0, celsius=25.0) -> tuple[LogShare, np.ndarray, Modelled]:
    """An hour at 8 A down to the cut-off; by the model a fiftieth is left, its surface at a hundredth."""
    volts = np.linspace(52.0, 39.0, N) if volts is None else volts
    frame = pd.DataFrame({"time_s": np.linspace(0, 3600, N), "current_a": amps, "voltage_v": volts})
    trace = trace_of(Log(frame, error=ERROR), celsius)
    share = share_of(fitted, trace, FULL, 0, N_PACK + OWN)
    x = np.zeros(N_PACK + OWN)
    x[:N_PACK], x[N_PACK] = fitted.mean, 1.0
    at = model(share.pick @ x, fitted, trace)
    return share, x, replace(at, charge=np.linspace(1.0, 0.02, N), surface=np.linspace(0.99, 0.01, N))


def slope_v(fitted, charge: float) -> float:
    table = open_circuit_table(fitted, fitted.mean)
    return float(np.diff(np.interp([charge - 0.005, charge + 0.005], GRID, table))[0] / 0.01)


@pytest.mark.parametrize("celsius", [25.0, 0.0])
def test_an_hour_at_8_ampere_to_the_cut_off_shows_8_ah_and_what_cells_leave_behind(celsius):
    """Resistance times capacity of a cell: 0.1 V at the one-hour rate, so 0.1 ohm Ah."""
    share, x, at = laid_out(celsius=celsius)
    joint = share.pick @ x
    shown = _shown(NMC, share, joint, at, Believed(0.98, 0.006), 0.0004)
    own_ah = 10.0 / NMC.usable
    factor = float(prior.arrhenius(celsius, 2.3))
    rate = 8.0 / (8.0 / 0.98)
    left, left_std = left_behind(rate, factor, 0.13 / 13 * own_ah)
    assert shown.ended and shown.deepest == pytest.approx(0.02)
    assert shown.drawn == pytest.approx(np.log(0.8 / 0.98))
    assert shown.drawn_std == pytest.approx(np.sqrt((0.006 / 0.98) ** 2 + (0.1 / 8) ** 2 + 0.0004))
    assert (shown.left, shown.left_std) == pytest.approx((left, left_std), rel=1e-3)


def test_the_meter_s_zero_is_taken_from_what_was_drawn():
    share, x, at = laid_out()
    joint = share.pick @ x
    joint[ZERO_A] = 0.5
    shown = _shown(NMC, share, joint, at, Believed(1.0, 0.006), 0.0)
    assert shown.drawn == pytest.approx(np.log(0.75))
    assert shown.drawn_std == pytest.approx(np.hypot(0.006, 0.1 / 7.5))


@pytest.mark.parametrize(("above_v", "ended"), [(0.1, True), (0.6, True), (0.8, False)])
def test_a_dip_that_readings_missed_ends_a_log_if_4_percent_of_the_charge_lie_between(above_v, ended):
    """By the curve's slope at the surface charge; what lies between is left, and as uncertain as it is."""
    share, x, at = laid_out(volts=np.linspace(52.0, 39.0 + above_v, N))
    at = replace(at, surface=np.full(N, 0.15))
    joint, start = share.pick @ x, Believed(1.0, 0.006)
    at_cut_off = _shown(NMC, laid_out()[0], joint, at, start, 0.0)
    shown = _shown(NMC, share, joint, at, start, 0.0)
    missed = above_v / 13 / slope_v(NMC, 0.15)
    assert shown.ended is ended is (missed <= 0.04)
    if ended:
        assert shown.left == pytest.approx(at_cut_off.left + missed, rel=0.02)
        assert shown.left_std == pytest.approx(np.hypot(at_cut_off.left_std, missed), rel=0.02)
    else:
        assert shown.left == shown.left_std == 0.0


@pytest.mark.parametrize(("at_share", "ended"), [(0.80, False), (0.94, False), (0.96, True)])
def test_only_what_happens_in_the_last_twentieth_of_the_charge_ends_a_log(at_share, ended):
    volts = np.full(N, 45.0)
    volts[int(at_share * (N - 1))] = 38.9
    share, x, at = laid_out(volts=volts)
    at = replace(at, charge=np.full(N, 0.1), surface=np.full(N, 0.09))
    shown = _shown(NMC, share, share.pick @ x, at, Believed(1.0, 0.006), 0.0)
    assert shown.ended is ended
    assert shown.drawn == pytest.approx(np.log(0.8 * (at_share if ended else 1.0)))


def test_volts_without_a_current_end_no_log():
    """The lowest of the last twentieth lie at rest, where a meter lost its contact."""
    volts, amps = np.full(N, 45.0), np.full(N, 8.0)
    volts[-2], amps[-2] = 38.9, 0.0
    share, x, at = laid_out(volts=volts, amps=amps)
    at = replace(at, charge=np.full(N, 0.1), surface=np.full(N, 0.09))
    assert not _shown(NMC, share, share.pick @ x, at, Believed(1.0, 0.006), 0.0).ended


@pytest.mark.parametrize(
    ("left", "met", "ended"), [(0.29, False, True), (0.31, True, True), (0.31, False, False)]
)
def test_a_worn_pack_is_ended_by_its_cut_off_where_its_curve_says_so(left, met, ended):
    """Where the fit leaves more than three tenths there, the last loaded readings must have met it."""
    volts = np.full(N, 45.0)
    volts[-1 if met else -5] = 38.9
    share, x, at = laid_out(volts=volts)
    at = replace(at, charge=np.full(N, left), surface=np.full(N, 0.05))
    assert _shown(NMC, share, share.pick @ x, at, Believed(1.0, 0.006), 0.0).ended is ended


def test_lead_acid_leaves_what_peukerts_law_says_and_is_ended_however_much_that_is():
    """Lag 0.45 and 0.05 of surface charge: ln 2 more than was drawn, as uncertain as the law."""
    share, x, at = laid_out(ACID, volts=np.linspace(25.0, 21.0, N))
    at = replace(at, surface=np.full(N, 0.05), charge=np.full(N, 0.5), lag_parts=np.full((1, N), 0.45))
    shown = _shown(ACID, share, share.pick @ x, at, Believed(1.0, 0.006), 0.0)
    assert shown.ended
    assert (shown.left, shown.left_std) == pytest.approx((np.log(2), 0.28 * np.log(2)))
    below = replace(at, surface=np.full(N, -0.05))
    left = _shown(ACID, share, share.pick @ x, below, Believed(1.0, 0.006), 0.0).left
    assert left == pytest.approx(-np.log(0.55)), "a surface below empty is empty"


def moved(start=FULL, twice=False):
    """A fit that found a pack 5 % larger than its label, half as uncertain; then the facts."""
    share, x, at = laid_out()
    shares = [share]
    before, information = prior_of_all(NMC, [share.trace], [start], ())
    uncertain = np.linalg.inv(information)
    x = before.copy()
    x[prior.CAPACITY] += 0.05
    covariance = uncertain / 4
    return (x, covariance, before, uncertain, at, share), with_facts(
        NMC, shares, x, covariance, [at], uncertain, before
    )


def usable(x) -> float:
    return float(x[prior.CAPACITY] + np.log(1 - charge_at_cut_off(NMC, x[:N_PACK])))


def test_the_fit_is_moved_along_its_own_covariance_to_what_the_facts_allow():
    """Jeffrey's rule: given the capacity all else stays as found, so it moves and narrows with it alone."""
    (x, covariance, before, uncertain, at, share), (found, narrowed, ended) = moved()
    slopes = np.zeros(len(x))
    slopes[:N_PACK] = usable_slopes(NMC, before[:N_PACK])
    was = Believed(0.0, float(np.sqrt(slopes @ uncertain @ slopes)))
    slopes[:N_PACK] = usable_slopes(NMC, x[:N_PACK])
    fit = Believed(usable(x), float(np.sqrt(slopes @ covariance @ slopes)))
    assert was.std == pytest.approx(0.07) and fit.std == pytest.approx(0.035)
    shown = _shown(NMC, share, share.pick @ x, at, Believed(1.0, 0.006), 0.01**2 + (0.7 * 0.02) ** 2)
    now = believed(was, fit, [shown])
    assert ended == (True,) and now.mean < -0.05 < fit.mean
    assert usable(found) == pytest.approx(now.mean, abs=1e-6)
    slopes[:N_PACK] = usable_slopes(NMC, found[:N_PACK])
    assert np.sqrt(slopes @ narrowed @ slopes) == pytest.approx(now.std)
    along = covariance @ slopes
    rest = covariance - np.outer(along, along) / (slopes @ along)
    assert narrowed - np.outer(along, along) * now.std**2 / (slopes @ along) ** 2 == pytest.approx(
        rest, abs=1e-9
    )
    others = [prior.CURVE.start + 1, prior.FAMILY.start]
    assert (found - x)[others] == pytest.approx(
        along[others] / (slopes @ along) * (now.mean - fit.mean), rel=0.05
    )


def test_a_start_worked_out_from_the_curve_shows_nothing():
    _, (found, _, ended) = moved(Start(1.0, 0.05, False))
    assert ended == (False,) and usable(found) > -0.01
    assert moved(Start(1.0, 0.049, False))[1][2] == (True,)
