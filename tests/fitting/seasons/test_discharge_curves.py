"""The discharge curve of a mow, for packs whose answer is known."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from estimator.errors import InputError
from estimator.fitting.seasons.discharge_curves import (
    ACTIVATION_STD_KK,
    DischargeCurve,
    discharge_curve,
    voltage_at,
    voltage_std_at,
)
from estimator.importer.log import Log, SpotNotes
from estimator.importer.read import read_log

QUICK, FAST, SLOW = 0.10, 0.025, 0.045
REST_V, FALL_V_AH = 54.0, 1.3
SAMPLES = Path(__file__).parents[3] / "sample_logs"


def mowing_current(time_s: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Strips of about 6 A with turns at 1.5 A, after 40 s of rest."""
    rough = 6.0 + np.repeat(rng.normal(0, 1.2, len(time_s) // 4 + 1), 4)[: len(time_s)]
    return np.where(time_s < 40, 0.0, np.where(time_s % 30 < 25, np.maximum(rough, 1.5), 1.5))


def solved_log(
    minutes: float = 40.0,
    seed: int = 1,
    noise_v: float = 0.02,
    settle_s: tuple[float, float] = (15.0, 250.0),
    warming: float = 0.0,
) -> Log:
    """A pack of one resistance and two resistor-capacitor pairs, solved by scipy's general solver.

    warming : the share by which all resistances fall from start to end
    """
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 60 * minutes)
    current = mowing_current(time_s, rng)

    def slope(t: float, state: np.ndarray) -> list[float]:
        amps = np.interp(t, time_s, current)
        return [(FAST * amps - state[0]) / settle_s[0], (SLOW * amps - state[1]) / settle_s[1], amps / 3600.0]

    found = solve_ivp(slope, (0, time_s[-1]), [0.0, 0.0, 0.0], t_eval=time_s, max_step=2.0, rtol=1e-6)
    fast_v, slow_v, drawn_ah = found.y
    warm = 1 + warming * (0.5 - drawn_ah / drawn_ah[-1])
    volts = REST_V - FALL_V_AH * drawn_ah - warm * (QUICK * current + fast_v + slow_v)
    volts = volts + noise_v * rng.standard_normal(len(time_s))
    return Log(pd.DataFrame({"time_s": time_s, "current_a": current, "voltage_v": volts}), name="solved")


def test_rest_voltage_and_resistances_of_a_solved_circuit() -> None:
    curve = discharge_curve(solved_log(), start_charge=1.0, temperature_c=25.0)
    assert curve.quick_ohm == pytest.approx(QUICK, rel=0.03)
    assert curve.resistance_ohm == pytest.approx(QUICK + FAST + SLOW, rel=0.10)
    assert abs(curve.resistance_ohm - (QUICK + FAST + SLOW)) < 2.5 * curve.resistance_std_ohm
    true_rest = REST_V - FALL_V_AH * np.array(curve.used_ah)
    assert np.sqrt(np.mean((np.array(curve.rest_v) - true_rest) ** 2)) < 0.05
    assert curve.start_ah == 0.0


@pytest.mark.parametrize("settle_s", [(5.0, 60.0), (45.0, 45.0), (20.0, 120.0)])
def test_a_pack_that_settles_in_its_own_time_and_warms_keeps_its_rest_voltage(
    settle_s: tuple[float, float],
) -> None:
    """With two pairs of fixed time constants, the rest voltage was off by up to 2 V in such packs."""
    curve = discharge_curve(solved_log(settle_s=settle_s, warming=0.15), 1.0, 25.0)
    assert abs(curve.resistance_ohm - (QUICK + FAST + SLOW)) < 2.5 * curve.resistance_std_ohm
    true_rest = REST_V - FALL_V_AH * np.array(curve.used_ah)
    assert np.sqrt(np.mean((np.array(curve.rest_v) - true_rest) ** 2)) < 0.2


def test_voltage_at_a_common_power_lies_within_its_own_uncertainty() -> None:
    inside = []
    for seed in range(12):
        curve = discharge_curve(solved_log(25.0, seed=seed), start_charge=1.0, temperature_c=25.0)
        rest = REST_V - FALL_V_AH * np.array(curve.used_ah)
        ohm = QUICK + FAST + SLOW
        true_v = (rest + np.sqrt(rest**2 - 4 * 450.0 * ohm)) / 2
        std = voltage_std_at(curve, 450.0, 25.0)
        inside.append(abs(np.mean(voltage_at(curve, 450.0, 25.0) - true_v)) < 1.645 * std)
    assert np.mean(inside) >= 0.75


@settings(max_examples=60, deadline=None)
@given(power=st.floats(20, 900), warm=st.floats(-5, 40), ohm=st.floats(0.02, 0.15))
def test_voltage_at_solves_the_power_equation(power: float, warm: float, ohm: float) -> None:
    curve = DischargeCurve((0.0, 1.0), (54.0, 52.0), 5.0, ohm, 0.01, ohm / 2, 0.01, 0.02, 25.0, 1.0, 0.0)
    volts = voltage_at(curve, power, warm)
    at_warm = ohm * np.exp(3000.0 * (1 / (warm + 273.15) - 1 / 298.15))
    assert volts == pytest.approx(np.array(curve.rest_v) - at_warm * power / volts, rel=1e-9)


def test_more_power_and_more_cold_both_take_volts_away() -> None:
    curve = discharge_curve(solved_log(), start_charge=1.0, temperature_c=25.0)
    assert np.all(voltage_at(curve, 400.0, 25.0) < voltage_at(curve, 200.0, 25.0))
    assert np.all(voltage_at(curve, 200.0, 5.0) < voltage_at(curve, 200.0, 25.0))
    usual = curve.load_a * float(np.mean(curve.rest_v))
    assert voltage_std_at(curve, 3 * usual, 25.0) > voltage_std_at(curve, usual, 25.0)
    assert voltage_std_at(curve, usual, 0.0) > voltage_std_at(curve, usual, 25.0)


def test_arrhenius_by_hand() -> None:
    # exp(3000 K · (1/273.15 K − 1/298.15 K)) = exp(0.9209) = 2.512: 0.1 ohm at 25 °C is 0.2512 ohm at 0 °C.
    curve = DischargeCurve((0.0, 1.0), (50.0, 50.0), 5.0, 0.1, 0.01, 0.08, 0.01, 0.02, 25.0, 1.0, 0.0)
    volts = voltage_at(curve, 240.0, 0.0)[0]
    assert (50.0 - volts) / (240.0 / volts) == pytest.approx(0.2512, abs=1e-4)


def test_uncertainty_of_the_voltage_by_hand() -> None:
    """10 A both times. At 25 °C: (10 − 5) A × 0.01 ohm = 0.05 V, and 2 °C of doubt are 10 A × 0.1 ohm ×
    3000 K × 2 K / (298.15 K)² = 0.0675 V. At 0 °C 0.2512 ohm: (25.12 − 5) A × 0.01 ohm = 0.2012 V, the same
    doubt 0.1695 V, and the exponent's own 25.12 A·0.1 ohm × 0.30698 /kK."""
    curve = DischargeCurve((0.0, 1.0), (50.0, 50.0), 5.0, 0.1, 0.01, 0.08, 0.01, 0.02, 25.0, 2.0, 0.0)
    warm_v, cold_v = 50.0 - 1.0, 50.0 - 2.5116
    warm = np.array([0.02, 0.05, 0.0675])
    assert voltage_std_at(curve, 10 * warm_v, 25.0) == pytest.approx(np.sqrt((warm**2).sum()), rel=2e-3)
    exponent = 2.5116 * 0.30698 * ACTIVATION_STD_KK
    parts = np.array([0.02, 0.2012, 0.1695, exponent])
    assert voltage_std_at(curve, 10 * cold_v, 0.0) == pytest.approx(np.sqrt((parts**2).sum()), rel=2e-3)


def test_load_and_temperature_of_a_curve_are_those_of_its_log() -> None:
    """Half the time at 8 A and half at 2 A: weighted by charge, the load is 68 / 10 = 6.8 A."""
    time_s = np.arange(0.0, 1200.0)
    current = np.where(time_s % 60 < 30, 8.0, 2.0)
    volts = 54.0 - 1.3 * np.cumsum(current) / 3600 - 0.15 * current
    columns = {"time_s": time_s, "current_a": current, "voltage_v": volts}
    bare = discharge_curve(Log(pd.DataFrame(columns)), 1.0)
    assert bare.load_a == pytest.approx(6.8)
    assert (bare.temperature_c, bare.temperature_std_c) == (20.0, 8.0)
    told = discharge_curve(Log(pd.DataFrame(columns)), 1.0, 12.0)
    assert (told.temperature_c, told.temperature_std_c) == (12.0, 3.0)
    measured = discharge_curve(Log(pd.DataFrame({**columns, "temperature_c": 31.0})), 1.0, 12.0)
    assert (measured.temperature_c, measured.temperature_std_c) == (31.0, 1.0)
    for warm, found in (([30.0, np.nan] * 600, (30.0, 1.0)), (np.nan, (12.0, 3.0))):  # in part, and nowhere
        partly = discharge_curve(Log(pd.DataFrame({**columns, "temperature_c": warm})), 1.0, 12.0)
        assert (partly.temperature_c, partly.temperature_std_c) == found


def test_through_json_and_back() -> None:
    curve = discharge_curve(solved_log(10.0), start_charge=1.0)
    assert DischargeCurve.from_plain(json.loads(json.dumps(asdict(curve)))) == curve
    assert len(json.dumps(asdict(curve))) < 2500


def test_start_is_unknown_unless_full_and_can_be_told_later() -> None:
    assert discharge_curve(solved_log(10.0)).start_ah is None
    assert discharge_curve(solved_log(10.0), start_charge=0.6).start_ah is None
    assert discharge_curve(solved_log(10.0), start_charge=0.6).starting_at(4.0, 0.3).start_ah == 4.0


def test_unknown_temperature_is_wider_than_a_told_one() -> None:
    told, untold = discharge_curve(solved_log(10.0), 1.0, 20.0), discharge_curve(solved_log(10.0), 1.0)
    assert voltage_std_at(untold, 300.0, 20.0) > voltage_std_at(told, 300.0, 20.0)


@pytest.mark.parametrize(
    ("log", "line"),
    [
        (
            Log(
                pd.DataFrame({"time_s": [0.0, 1.0], "current_a": 1.0, "voltage_v": 50.0}),
                spot=SpotNotes(idle_a=1),
            ),
            "log holds hand readings, which give no discharge curve; log a whole mow",
        ),
        (
            Log(pd.DataFrame({"time_s": [0.0, 1.0, 2.0], "current_a": 1.0, "voltage_v": 50.0})),
            "log holds 3 readings, too few for a curve; log a whole mow",
        ),
        (
            Log(pd.DataFrame({"time_s": np.arange(60.0), "current_a": 1.0, "voltage_v": 50.0})),
            "log draws 0.016 Ah, too little for a discharge curve; log a whole mow",
        ),
    ],
)
def test_what_gives_no_curve_says_so(log: Log, line: str) -> None:
    with pytest.raises(InputError) as refused:
        discharge_curve(log)
    assert str(refused.value) == line


def test_nonsense_amounts_stop_at_the_door() -> None:
    with pytest.raises(InputError, match="start charge is 80"):
        discharge_curve(solved_log(10.0), start_charge=80)
    with pytest.raises(InputError, match="give a number"):
        discharge_curve(solved_log(10.0), start_charge="full")  # type: ignore[arg-type]


@pytest.mark.parametrize("steady", [True, False])
def test_a_load_that_never_changes_is_no_trouble(steady: bool) -> None:
    time_s = np.arange(0.0, 1200.0)
    current = np.full(len(time_s), 5.0) if steady else np.where(time_s < 60, 0.0, 5.0)
    volts = 54.0 - 1.3 * np.cumsum(current) / 3600 - 0.15 * current
    curve = discharge_curve(
        Log(pd.DataFrame({"time_s": time_s, "current_a": current, "voltage_v": volts})), 1.0, 25.0
    )
    assert np.all(np.isfinite(curve.rest_v)) and curve.resistance_ohm > 0
    at_load = voltage_at(curve, 5.0 * 52.9, 25.0)
    assert at_load[-1] == pytest.approx(volts[-1], abs=0.3)


def test_sample_mow_against_its_own_truth() -> None:
    """The invented 13-series pack: resistance settles at the sum of its parts, voltage within 0.2 V at its
    usual load.
    """
    curve = discharge_curve(read_log(SAMPLES / "2024-07-20a.csv"), 1.0, 29.0)
    years = (31 + 28 + 20 + 31) / 365.0  # 1 April to 20 July 2024
    ohm = (0.062 + 0.030 + 0.016 + 0.030) * (1 + 0.22 * years)
    assert curve.resistance_ohm == pytest.approx(ohm * np.exp(3000 * (1 / 302.15 - 1 / 298.15)), rel=0.15)
    assert curve.used_ah[-1] == pytest.approx(2.1, abs=0.1)
