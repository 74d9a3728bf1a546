"""What logs may say about a capacity: the label counts until a fact moves it, and then the fact."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from planted_packs import FINE, nmc_ocv, open_circuit_v, part, planted_log
from scipy.optimize import brentq

from estimator import read_log
from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.capacity_evidence import Believed, Shown, believed, left_behind, shape_std
from estimator.fitting.pack.fitted_pack import (
    CURVE_AND_FAMILY,
    FittedPack,
    as_fitted,
    curve_slopes,
    given_at_pace,
    left_at_pace,
)
from estimator.fitting.pack.log_grid import Pace, passed_a, trace_of
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_parameters
from estimator.fitting.pack.pack_fit import fit_pack, update_fit
from estimator.fitting.pack.prior import LABEL_STD
from estimator.importer.log import Log

RATED = Pack("nmc", 13, 10.0, 39.0)
SLOW_LEAVES = brentq(lambda charge: nmc_ocv(charge) - 3.0, 0.0, 0.5)
"""Charge at which the planted cell rests at the cut-off."""


def mow(true_ah: float, deep: float = 1.0, seed: int = 1) -> Log:
    """A planted mow from full, broken off at a share of its time."""
    log = planted_log(np.random.default_rng(seed), capacity_ah=true_ah)[0]
    return part(log, upto_s=deep * log.readings["time_s"].iloc[-1])


@pytest.mark.parametrize("true_ah", [8.8, 10.0, 11.2])
@pytest.mark.parametrize("deep", [0.3, 0.6])
def test_a_mow_broken_off_leaves_what_the_label_says(true_ah, deep):
    found = fit_pack([mow(true_ah, deep)], RATED, [1.0])
    assert found.by_its_label
    assert found.capacity_ah == pytest.approx(10.0, rel=0.005)
    assert found.capacity_std_ah == pytest.approx(LABEL_STD * 10.0, rel=0.03)


def test_many_mows_broken_off_say_no_more_than_one():
    found = as_fitted(RATED)
    for seed in range(4):
        found = update_fit(found, mow(8.8, 0.5, seed), start_charge=1.0)
    assert found.by_its_label
    together = fit_pack([mow(8.8, 0.5, seed) for seed in range(4)], RATED, [1.0] * 4)
    assert together.capacity_ah == pytest.approx(found.capacity_ah, rel=0.005)


@pytest.mark.parametrize("true_ah", [8.0, 9.3, 11.5])
def test_a_cut_off_moves_the_capacity_to_what_was_drawn(true_ah):
    """The planted circuit has no diffusion to hold charge back: cells of its 0.09 ohm Ah leave .03 more."""
    log = mow(true_ah)
    drawn_ah = float(np.trapezoid(log.readings["current_a"], log.readings["time_s"])) / 3600
    found = fit_pack([log], RATED, [1.0])
    assert not found.by_its_label
    assert 0.99 * drawn_ah < found.capacity_ah == pytest.approx(true_ah * (1 - SLOW_LEAVES), rel=0.04)
    assert 0.01 < found.capacity_std_ah / found.capacity_ah < 0.03
    assert found.usable_ah == pytest.approx(drawn_ah, rel=0.03)


@pytest.mark.parametrize("true_ah", [6.4, 6.8])
def test_a_worn_pack_at_its_cut_off_is_worn_and_not_resistive(true_ah):
    """Once seen: for a pack a third under its label the label stayed, and it was said to give half of that at
    this power."""
    log = mow(true_ah)
    drawn_ah = float(np.trapezoid(log.readings["current_a"], log.readings["time_s"])) / 3600
    found = fit_pack([log], RATED, [1.0])
    assert not found.by_its_label
    assert found.capacity_ah == pytest.approx(true_ah * (1 - SLOW_LEAVES), rel=0.05)
    assert found.usable_ah == pytest.approx(drawn_ah, rel=0.06)


@pytest.mark.parametrize(("chemistry", "series", "cut_off_v"), [("nmc", 13, 39.0), ("lead_acid", 12, 21.0)])
def test_what_a_pack_gives_when_mowing_is_as_uncertain_as_its_draws_scatter(chemistry, series, cut_off_v):
    """Once seen: a lead-acid pack of 33 Ah gave 15.6 ± 2.2 Ah by its label, and 24.5 Ah after a log."""
    pack = as_fitted(Pack(chemistry=chemistry, series=series, capacity_ah=20.0, cut_off_v=cut_off_v))
    drawn = draw_parameters(pack, 400, np.random.default_rng(3))
    gave = [np.exp(one[prior.CAPACITY]) * given_at_pace(replace(pack, mean=one), pack.pace) for one in drawn]
    scatter = float(np.std(gave) / np.mean(gave))
    assert pack.usable_std_ah / pack.usable_ah == pytest.approx(scatter, rel=0.25)
    assert (scatter > 3 * pack.capacity_std_ah / pack.capacity_ah) is (chemistry == "lead_acid")


def test_a_pack_of_an_unknown_family_is_fitted_all_the_same():
    """Called lithium, it is as good at the cut-off as by its family's name, and before that by its label."""
    unknown = replace(RATED, chemistry="lithium")
    found = fit_pack([mow(9.0)], unknown, [1.0])
    assert found.capacity_ah == pytest.approx(9.0 * (1 - SLOW_LEAVES), rel=0.035)
    assert fit_pack([mow(9.0, 0.5)], unknown, [1.0]).by_its_label


def test_a_cell_of_no_known_family_may_follow_any_of_three():
    """Its curve varies by as much as those of the three on average, and by how far these are apart."""

    def variance(chemistry: str) -> float:
        pack = replace(RATED, chemistry=chemistry)
        own = prior.prior_covariance(pack)[np.ix_(CURVE_AND_FAMILY, CURVE_AND_FAMILY)]
        inside = curve_slopes(pack)[(GRID > 0.05) & (GRID < 0.95)]
        return float(np.einsum("ci,ij,cj->c", inside, own, inside).mean())

    assert variance("lithium") > 1.1 * np.mean([variance(each) for each in ("nmc", "nca", "lco")])


def test_a_dip_that_sampling_missed_counts_all_the_same():
    log = mow(9.0)
    sparse = replace(log, readings=log.readings.iloc[:-1:5].reset_index(drop=True))
    assert sparse.readings["voltage_v"].min() > RATED.cut_off_v
    assert fit_pack([sparse], RATED, [1.0]).capacity_ah == pytest.approx(9.0, rel=0.04)


def test_a_pack_that_gave_more_than_its_label_holds_at_least_that():
    deep = 0.97
    log = mow(12.5, deep)
    drawn_ah = float(np.trapezoid(log.readings["current_a"], log.readings["time_s"])) / 3600
    assert drawn_ah > 11.0
    found = fit_pack([log], RATED, [1.0])
    assert found.capacity_ah > 0.99 * drawn_ah
    assert abs(np.log(found.capacity_ah / 12.3)) < 2.5 * found.capacity_std_ah / found.capacity_ah


def test_a_start_worked_out_from_the_curve_is_no_fact_about_capacity():
    """A second mow of the day, begun at a charge that nobody noted and ended by the cut-off."""
    log, truth = planted_log(np.random.default_rng(3), capacity_ah=10.0)
    later = part(log, from_s=float(np.searchsorted(-truth, -0.3)))
    found = fit_pack([later], RATED)
    assert found.capacity_ah == pytest.approx(10.0, rel=0.01)
    assert found.capacity_std_ah > 0.6


def test_the_knee_of_lfp_not_yet_met_shows_nothing():
    """Cells of 9 Ah called 10, drawn down to 15 %: the plateau looks the same for any capacity."""
    time_s = np.arange(0.0, 0.85 * 9.0 / 5.0 * 3600, 5.0)
    volts = 12 * open_circuit_v("lfp", 1 - time_s * 5.0 / 3600 / 9.0) - 0.4
    log = Log(pd.DataFrame({"time_s": time_s, "current_a": 5.0, "voltage_v": volts}), error=FINE)
    found = fit_pack([log], Pack("lfp", 12, 10.0, 30.0), [1.0])
    assert found.by_its_label


def test_a_reading_a_minute_after_a_reading_a_second_loses_no_charge(tmp_path):
    """A logger that reads every second at first and then every minute: 9 Ah at 5 A down to the cut-off."""
    every = np.concatenate([np.arange(60.0), np.arange(60.0, 9.0 / 5.0 * 3600, 60.0)])
    amps = 5.013 + 0.001 * (np.arange(len(every)) % 2)  # a meter that shows milliamps
    volts = 13 * nmc_ocv(1 - every * 5.0135 / 3600 / 9.0) - 0.5
    kept = volts > 38.9
    frame = pd.DataFrame({"time_s": every, "current_a": amps, "voltage_v": volts.round(3)})[kept]
    frame.to_csv(tmp_path / "slow.csv", index=False)
    log = read_log(tmp_path / "slow.csv")
    assert not any("not counted" in note for note in log.notes)
    assert fit_pack([log], RATED, [1.0]).capacity_ah == pytest.approx(9.0 * (1 - SLOW_LEAVES), rel=0.03)


def test_pace_and_capacity_survive_the_logbook():
    found = fit_pack([mow(9.0, 0.5)], RATED, [1.0])
    again = FittedPack.from_plain(found.as_plain())
    assert again.pace == found.pace != Pace()
    assert again.usable_ah == found.usable_ah < found.capacity_ah


def test_what_the_motor_ran_on_after_does_not_stop_it():
    """One second at 40 A and three at 30 A, each with half a minute at 8 A after it; 60 A before a stop."""
    amps = np.r_[[8.0] * 40, 40.0, [8.0] * 40, [30.0] * 3, [8.0] * 40, [60.0] * 5, [0.0] * 40]
    log = Log(pd.DataFrame({"time_s": np.arange(len(amps)), "current_a": amps, "voltage_v": 50.0}))
    trace = trace_of(log)
    assert [passed_a(trace, hold_s) for hold_s in (1.0, 2.0, 3.0, 4.0)] == [40.0, 30.0, 30.0, 8.0]
    assert passed_a(trace_of(Log(log.readings[:20])), 1.0) == 0.0, "too short to run on"
    assert fit_pack([log], RATED, [1.0]).pace.passed_a == 40.0


def test_a_gentle_pace_leaves_little_and_cold_leaves_more():
    pack = as_fitted(RATED)
    gentle, usual = (left_at_pace(pack, Pace(c, 2 * c, 25.0)) for c in (0.05, 1.0))
    cold = left_at_pace(pack, Pace(1.0, 2.0, 0.0))
    assert gentle < 0.02 < usual < cold < 0.6


def test_what_a_mow_gave_is_moved_on_to_another_pace_by_little():
    """A curve with a shelf near empty would make harder mows leave half: data sheets show no such jump."""
    pack = as_fitted(RATED)
    gave = Pace(12.0, 20.0, 0.0, gave=0.97, left=0.02)
    assert left_at_pace(pack, gave) > 0.3
    assert given_at_pace(pack, gave) == pytest.approx(0.97 * 0.95)
    assert given_at_pace(pack, replace(gave, mean_c=0.02, peak_c=0.04, temperature_c=25.0)) == pytest.approx(
        0.97 * (1 - left_at_pace(pack, Pace(0.02, 0.04, 25.0))) / 0.98
    )


def test_facts_of_one_line_each():
    """On paper: a fact of std 0.02 moves a label of 0.07 by 0.07²/(0.07² + 0.02²) = 92 % of the way."""
    ended = Shown(0.02, np.log(0.85), 0.02, ended=True, left=0.0, left_std=0.0)
    label = Believed(0.0, 0.07)
    after = believed(label, Believed(np.log(0.85), 0.06), [ended])
    assert after.mean == pytest.approx(0.92 * np.log(0.85), abs=0.03)
    assert after.std < 0.025
    assert left_behind(0.0, 1.0, 0.05) == (0.0, 0.01)


def test_a_mow_to_the_cut_off_counts_where_the_curve_says_nothing():
    """With a fit no narrower than the label, a mow that ends after 0.85 of it still moves it by 92 %."""
    ended = Shown(0.02, np.log(0.85), 0.02, ended=True, left=0.0, left_std=0.0)
    after = believed(Believed(0.0, 0.07), Believed(0.0, 0.07), [ended])
    assert after.mean == pytest.approx(0.92 * np.log(0.85), abs=0.03)


@given(st.floats(-0.4, 0.4), st.floats(0.005, 0.06), st.floats(0.1, 0.95))
def test_a_shape_never_says_more_than_it_may(claim, std, deepest):
    """Whatever a fit claims half-way, the label stays; further down the fit counts only up to its bound."""
    label = Believed(0.0, LABEL_STD)
    shown = Shown(deepest, np.log(1 - deepest) - 0.5, 0.01, ended=False)
    after = believed(label, Believed(claim, std), [shown])
    bound = shape_std(deepest)
    least = LABEL_STD if bound >= LABEL_STD else (LABEL_STD**-2 + bound**-2) ** -0.5
    assert after.std >= 0.98 * least
    if bound >= LABEL_STD:
        assert after.mean == pytest.approx(0.0, abs=1e-6)


@given(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
def test_what_was_drawn_is_a_wall(drawn, claim):
    shown = Shown(0.3, drawn, 0.01, ended=False)
    after = believed(Believed(0.0, LABEL_STD), Believed(claim, 0.03), [shown])
    assert after.mean > drawn - 0.03


@pytest.mark.parametrize(
    ("ohm_ah", "rate_c", "least", "most"),
    [((0.05, 0.07), 1.0, 0.005, 0.03), ((0.05, 0.07), 5.0, 0.02, 0.08), ((0.14, 0.14), 1.0, 0.066, 0.081)],
)
def test_what_data_sheets_leave_behind_lies_within_its_band(ohm_ah, rate_c, least, most):
    """Power cells give 97 to 99.5 % of a slow discharge at the one-hour rate and 92 to 98 % at five times
    that (data sheets, common practice); a measured nca cell of 2.9 Ah left .066 and .081 at once that."""
    (left, std), (of_more, more_std) = (left_behind(rate_c, 1.0, each) for each in ohm_ah)
    assert left - 1.645 * std < least and most < of_more + 1.645 * more_std < 2 * most
    assert max(left, 0.9 * least) <= of_more <= 1.1 * most


def test_a_curve_half_way_may_read_a_third_too_high_or_too_low():
    """By half-cell curves of published sets, the first 30 to 70 % of a discharge are read 5 to 30 % wrong."""
    for charge, usual in ((0.7, 0.3), (0.3, 0.2)):
        assert usual / 1.645 < shape_std(charge) < 2 * usual
