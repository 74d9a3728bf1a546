"""Charge and energy compared with scipy's trapezoid and worked cases."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.signal import lfilter

from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.importer.log import Log, MeterError
from estimator.predictor.charge_curve import charge_curve


def log_of(time_s, current_a, voltage_v, **more):
    return Log(
        pd.DataFrame({"time_s": time_s, "current_a": current_a, "voltage_v": voltage_v}, dtype=float), **more
    )


def test_one_amp_for_an_hour_is_one_ampere_hour():
    used = charge_used(log_of(np.arange(0, 3601, 10), 1.0, 48.0))
    assert used.ah == pytest.approx(1.0, abs=1e-12)
    assert used.wh == pytest.approx(48.0, abs=1e-9)


def test_the_running_sum_ends_at_the_whole_and_stands_still_over_a_gap():
    """Half an hour at 1 A, half an hour unread, half an hour at 1 A."""
    time_s = np.r_[np.arange(0, 1801, 10.0), np.arange(3600, 5401, 10.0)]
    used = charge_used(log_of(time_s, np.ones(len(time_s)), np.full(len(time_s), 48.0)))
    at = dict(zip(used.time_s.tolist(), used.cumulative_ah.tolist(), strict=True))
    assert [at[second] for second in (0.0, 900.0, 1800.0, 3600.0, 5400.0)] == pytest.approx(
        [0, 0.25, 0.5, 0.5, 1]
    )
    assert used.cumulative_ah[-1] == pytest.approx(used.ah)


@pytest.mark.parametrize(
    "laid",
    [
        lambda table: table.set_index(np.arange(len(table)) * 3 + 7),
        lambda table: table.set_index(np.zeros(len(table), int)),
        lambda table: table.set_index(pd.date_range("2024-05-04", periods=len(table), freq="10s")),
        lambda table: table[["voltage_v", "time_s", "current_a"]],
        lambda table: table.astype("float32"),
        lambda table: table.convert_dtypes(),
    ],
)
def test_the_same_readings_in_another_table_are_the_same_log(laid):
    """A table that was filtered, joined or read in another way keeps its index and its kinds of numbers."""
    time_s = np.arange(0, 1800, 10.0)
    table = pd.DataFrame({"time_s": time_s, "current_a": 5 + np.sin(time_s), "voltage_v": 52 - time_s / 600})
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    answers = []
    for log in (Log(table), Log(laid(table))):
        used, fitted = charge_used(log), fit_pack([log], pack, start_charges=[1.0])
        curve = charge_curve(log, pack, start_charge=1.0)["charge"]
        answers.append([used.ah, used.wh, fitted.capacity_std_ah, *curve.iloc[[0, 90, -1]]])
    assert answers[1] == pytest.approx(answers[0], rel=1e-5)


@pytest.mark.parametrize(
    ("amps", "line"),
    [
        ([5.0, "n/a", 5.0], "log: column current_a holds 'n/a'; give numbers"),
        ([5.0, None, 5.0], "log: column current_a holds None; give numbers"),
        (
            [5.0, 6.0, 5.0],
            "log: column current_a holds objects, though each is a number; give it as astype(float)",
        ),
    ],
)
def test_what_is_no_number_is_named(amps, line):
    table = pd.DataFrame(
        {"time_s": [0.0, 1.0, 2.0], "current_a": pd.Series(amps, dtype=object), "voltage_v": 48.0}
    )
    with pytest.raises(InputError) as refused:
        Log(table)
    assert str(refused.value) == line


def test_half_of_a_15_series_pack_in_20_minutes_is_about_202_w():
    """15 x 3.6 V x 2.5 Ah = 135 Wh; half of it in 20 minutes is 202.5 W (common practice, no source)."""
    energy_wh = 15 * 3.6 * 2.5
    assert energy_wh == pytest.approx(135.0)
    power_w = energy_wh / 2 / (20 / 60)
    used = charge_used(log_of([0, 1200], power_w / 54.0, 54.0, longest_step_s=1200.0))
    assert power_w == pytest.approx(202.5)
    assert used.wh == pytest.approx(energy_wh / 2)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.01, 20.0), min_size=1, max_size=40),
    st.lists(st.floats(-30.0, 60.0), min_size=41, max_size=41),
)
def test_irregular_times_agree_with_scipy(steps, currents):
    time_s = np.concatenate([[0.0], np.cumsum(steps)])
    current = np.array(currents[: len(time_s)])
    used = charge_used(log_of(time_s, current, 48.0))
    assert used.ah == pytest.approx(trapezoid(current, time_s) / 3600, abs=1e-9)
    assert used.gap_s == 0.0


def test_a_gap_is_reported_and_not_integrated():
    time_s = np.concatenate([np.arange(0, 101.0), np.arange(400.0, 501.0)])
    used = charge_used(log_of(time_s, 3.6, 48.0))
    assert used.ah == pytest.approx(0.2)
    assert used.gap_s == pytest.approx(300.0)
    assert [(g.start_s, g.end_s) for g in used.gaps] == [(100.0, 400.0)]
    assert used.measured_s == pytest.approx(200.0)


def test_zero_and_gain_do_not_average_out():
    """JCGM 100:2008, 5.1.2: a zero error of 0.2 A over 45 min is 0.15 Ah; 2 % of 7.5 Ah is 0.15 Ah; together
    0.2121 Ah."""
    error = MeterError(current_zero_a=0.2, current_gain=0.02, current_noise_a=0.0)
    used = charge_used(log_of(np.arange(0, 2701.0), 10.0, 48.0, error=error))
    assert used.ah_std == pytest.approx(np.hypot(0.15, 0.15), rel=1e-6)


def test_a_slow_recording_is_joined_over_three_of_its_steps():
    time_s = np.cumsum([0, *[60] * 20, 180, *[60] * 20, 181, *[60] * 20])
    used = charge_used(log_of(time_s, 3.6, 48.0))
    assert [(g.start_s, g.end_s) for g in used.gaps] == [(2580.0, 2761.0)]
    assert used.measured_s == 60 * 60 + 180
    doubled = charge_used(log_of(np.repeat(np.arange(0.0, 200.0, 20.0), 2), 3.6, 48.0, longest_step_s=15.0))
    assert doubled.gap_s == 0.0, "two readings of one moment do not make the usual step nothing"


def test_charge_and_energy_have_the_meters_uncertainty():
    """10 A at 50 V for an hour: 0.3 A of zero and 4 % of gain are 0.3 and 0.4 Ah, together 0.5 Ah; with the
    voltmeter's 0.2 V and 0.6 % it is 15, 20, 2 and 3 Wh; 361 readings with noise of 1.9 A leave 0.1 Ah."""
    error = MeterError(0.3, 0.04, 0.2, 0.006, 0.0, 0.0)
    used = charge_used(log_of(np.arange(0, 3601, 10), 10.0, 50.0, error=error))
    assert used.ah_std == pytest.approx(0.5)
    assert used.wh_std == pytest.approx(np.sqrt(15**2 + 20**2 + 2**2 + 3**2))
    noisy = MeterError(0.0, 0.0, 0.0, 0.0, 1.9, 0.0)
    assert charge_used(log_of(np.arange(0, 3601, 10), 10.0, 50.0, error=noisy)).ah_std == pytest.approx(
        0.1, rel=0.01
    )


def test_one_reading_is_refused_in_one_line():
    with pytest.raises(InputError, match=r"holds 1 reading\(s\); two or more are needed"):
        charge_used(log_of([0.0], 1.0, 48.0))


@pytest.mark.parametrize("apart_s", [5, 10, 30])
@pytest.mark.parametrize("forgets_s", [5, 20, 60])
def test_readings_far_apart_leave_open_what_the_load_did_between_them(apart_s, forgets_s):
    """Loads that forget their level after some seconds, read now and then: the band holds."""
    rng, kept = np.random.default_rng(apart_s + forgets_s), np.exp(-1 / forgets_s)
    exact = MeterError(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    moved = 5 * np.sqrt(1 - kept**2) * rng.standard_normal((300, 2400))
    loads = 25 + lfilter([1.0], [1.0, -kept], moved, axis=1)
    off = []
    for amps in loads:
        read = log_of(np.arange(0.0, 2400, apart_s), amps[::apart_s], 1.0, error=exact)
        used = charge_used(read)
        true_ah = trapezoid(amps[: int(read.readings.time_s.iloc[-1]) + 1]) / 3600
        off.append((used.ah - true_ah) / used.ah_std)
    assert 0.8 < np.mean(np.abs(off) < 1.645) < 0.97
