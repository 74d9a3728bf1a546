"""The pack fit on planted truths, on a measured pulse test, and in limiting cases."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from planted_packs import FINE, nmc_ocv, part, planted_log
from scipy.optimize import brentq

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.fitting.pack.pack_fit import drifted, fit_pack, update_fit
from estimator.importer.log import Log
from estimator.predictor.charge_curve import charge_curve

RATED = Pack(chemistry="nmc", series=13, capacity_ah=10.5, cut_off_v=39.0)
SLOW_LEAVES = brentq(lambda charge: nmc_ocv(charge) - 3.0, 0.0, 0.5)
"""Charge at which the planted cell rests at the cut-off: what a slow discharge leaves."""


@pytest.fixture(scope="module")
def planted():
    rng = np.random.default_rng(5)
    return [planted_log(rng) for _ in range(3)]


@pytest.fixture(scope="module")
def fitted(planted):
    return fit_pack([log for log, _ in planted[:2]], RATED)


def test_capacity_and_resistance_are_found(fitted, planted):
    delivered = 10.0 * (1 - np.mean([truth[-1] for _, truth in planted[:2]]))
    slow = 10.0 * (1 - SLOW_LEAVES)
    assert delivered < fitted.capacity_ah == pytest.approx(slow, rel=0.02)
    assert fitted.usable_ah == pytest.approx(delivered, rel=0.03)
    assert fitted.resistance_ohm == pytest.approx(0.12 * 1.3, rel=0.2)
    assert 0 < fitted.capacity_std_ah < 0.5


def test_charge_curve_follows_the_planted_charge(fitted, planted):
    log, truth = planted[2]
    curve = charge_curve(log, fitted, start_charge=1.0)
    usable = 1 - (1 - truth) / (1 - SLOW_LEAVES)
    assert np.sqrt(np.mean((curve["charge"] - usable) ** 2)) < 0.025
    assert np.all(curve["low"] <= curve["charge"]) and np.all(curve["charge"] <= curve["high"])


def test_a_log_that_starts_half_way_finds_its_charge(fitted, planted):
    log, truth = planted[2]
    middle = int(0.45 * len(truth))
    curve = charge_curve(part(log, from_s=middle), fitted)
    usable = 1 - (1 - truth[middle]) / (1 - np.mean([other[-1] for _, other in planted[:2]]))
    assert curve["charge"].iloc[0] == pytest.approx(usable, abs=0.06)


def test_one_partial_log_is_enough_and_leaves_doubt(planted):
    log = part(planted[0][0], upto_s=900)
    found = fit_pack([log], RATED)
    assert found.logs == 1
    assert found.capacity_std_ah > 0.03 * found.capacity_ah


def test_no_log_leaves_the_prior():
    assert fit_pack([], RATED).capacity_ah == pytest.approx(RATED.capacity_ah)


def test_an_ageing_pack_is_followed():
    rng = np.random.default_rng(8)
    found = as_fitted(RATED)
    seen = []
    for capacity in np.linspace(10.0, 8.4, 9):
        found = update_fit(found, planted_log(rng, capacity_ah=capacity)[0], start_charge=1.0)
        seen.append(found.capacity_ah)
    assert seen[0] > 9.3
    assert seen[-1] == pytest.approx(
        8.4 * (1 - SLOW_LEAVES), rel=0.055
    )  # two percent are lost each time: the fit lags


def test_a_winter_in_the_shed_leaves_more_doubt_than_a_week(fitted):
    """A random walk: its variance grows with the days (common practice: 0.5 % of capacity in a week); the
    curve's own walk adds next to nothing near the cut-off."""
    autumn = replace(fitted, last_day=date(2025, 10, 4))
    doubt = {
        weeks: drifted(autumn, autumn.last_day + timedelta(weeks=weeks)).capacity_std_ah for weeks in (1, 26)
    }
    plain = fitted.capacity_std_ah / fitted.capacity_ah
    assert doubt[1] / fitted.capacity_ah == pytest.approx(np.hypot(plain, 0.005), rel=1e-4)
    assert doubt[26] / fitted.capacity_ah == pytest.approx(np.hypot(plain, 0.005 * 26**0.5), rel=1e-3)
    undated = drifted(fitted, date(2026, 4, 4))
    assert undated.capacity_std_ah == pytest.approx(doubt[1])


def test_dated_logs_know_their_day(planted):
    logs = [replace(log, started=datetime(2025, 5, 3 + 7 * i, 10)) for i, (log, _) in enumerate(planted)]
    together = fit_pack(logs, RATED)
    one_by_one = RATED
    for log in logs:
        one_by_one = update_fit(one_by_one, log)
    assert together.last_day == one_by_one.last_day == date(2025, 5, 17)
    assert FittedPack.from_plain(together.as_plain()).last_day == date(2025, 5, 17)
    assert fit_pack([log for log, _ in planted], RATED).capacity_ah == pytest.approx(together.capacity_ah)
    apart = [replace(log, started=datetime(2025 + i, 5, 3)) for i, (log, _) in enumerate(planted)]
    assert fit_pack(apart, RATED).capacity_std_ah > together.capacity_std_ah


def test_json_round_trip(fitted):
    again = FittedPack.from_plain(fitted.as_plain())
    assert again.capacity_ah == fitted.capacity_ah
    assert np.array_equal(again.covariance, fitted.covariance)
    assert again.rated == RATED


def test_start_charges_must_match_the_logs(planted):
    with pytest.raises(InputError, match="2 start charges for 1 logs; give one for each log"):
        fit_pack([planted[0][0]], RATED, start_charges=[1.0, 1.0])


@pytest.mark.filterwarnings("ignore")
def test_resistance_of_the_pulse_test_that_ampworks_ships():
    """`ampworks` 0.1 (NREL, BSD-3), hppc/hppc_discharge.csv, one cell of about 3.2 mAh.

    Reference: voltage step over current step at the start of each discharge pulse, the usual definition of
    pulse resistance. The fit sees the same readings as a log and must find it within 30 % in the middle of
    the charge.
    """
    datasets = pytest.importorskip("ampworks.datasets")
    d = datasets.load_datasets("hppc/hppc_discharge.csv")
    seconds, amps, volts = (np.asarray(d[c], float) for c in ("Seconds", "Amps", "Volts"))
    amps = -amps if amps[np.argmax(np.abs(amps))] < 0 else amps
    keep = np.concatenate([[True], np.diff(seconds) > 0])
    seconds, amps, volts = seconds[keep], amps[keep], volts[keep]
    scale = 3.0 / 0.0032  # a cell of 3 Ah has the same volts at so many times the amps
    jump = np.diff(amps * scale)
    starts = np.flatnonzero((jump > 0.5 * np.max(jump)) & (np.diff(seconds) < 2.0))
    reference = -(volts[starts + 1] - volts[starts]) / jump[starts]
    middle = (volts[starts] > 3.6) & (volts[starts] < 4.0)
    frame = pd.DataFrame({"time_s": seconds, "current_a": amps * scale, "voltage_v": volts})
    found = fit_pack([Log(frame, error=FINE, longest_step_s=600.0)], Pack("nmc", 1, 3.0, 2.8))
    ohmic = np.exp(found.mean[prior.OHMIC][4])
    assert np.count_nonzero(middle) >= 3
    assert ohmic == pytest.approx(float(np.median(reference[middle])), rel=0.3)
