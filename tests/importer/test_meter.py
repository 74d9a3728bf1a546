"""Meters, and the uncertainty that they leave in charge and energy."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath  # noqa: F401  (loads the package's functions)

from estimator.errors import InputError
from estimator.importer.log import Log, MeterError
from estimator.importer.meter import Accuracy, Meter, assumed_error, resolution_of
from estimator.importer.meter_uncertainty import charge_budget, energy_budget
from estimator.importer.read import examine_bytes, read_bytes


def invented_log(error: MeterError, n: int = 60) -> Log:
    rng = np.random.default_rng(4)
    t = np.cumsum(rng.uniform(1, 9, n))
    i, v = rng.uniform(2, 25, n), rng.uniform(47, 54, n)
    return Log(pd.DataFrame({"time_s": t - t[0], "current_a": i, "voltage_v": v}), error=error)


def test_hand_worked_budget() -> None:
    # One hour at 10 A and 50 V: 10 Ah, 500 Wh. Zero 0.3 A gives 0.3 Ah, gain 4 % gives 0.4 Ah: together 0.5
    # Ah.
    # Energy: zero 0.3 A x 50 Vh = 15 Wh; gain 4 % = 20 Wh; volts' zero 0.2 V x 10 Ah = 2 Wh; volts' gain
    # 0.6 % = 3 Wh.
    hour = pd.DataFrame({"time_s": np.arange(0, 3601, 10.0), "current_a": 10.0, "voltage_v": 50.0})
    log = Log(hour, error=MeterError(0.3, 0.04, 0.2, 0.006, 0.0, 0.0))
    charge, energy = charge_budget(log), energy_budget(log)
    assert charge.value == pytest.approx(10.0)
    assert charge.std == pytest.approx(0.5)
    assert energy.value == pytest.approx(500.0)
    assert energy.std == pytest.approx(math.sqrt(15**2 + 20**2 + 2**2 + 3**2))


def test_noise_shrinks_with_the_number_of_readings() -> None:
    few = pd.DataFrame({"time_s": np.linspace(0, 3600, 37), "current_a": 10.0, "voltage_v": 50.0})
    many = pd.DataFrame({"time_s": np.linspace(0, 3600, 3601), "current_a": 10.0, "voltage_v": 50.0})
    error = MeterError(0.0, 0.0, 0.0, 0.0, 0.5, 0.0)
    ratio = (
        charge_budget(Log(few, error=error, longest_step_s=200)).std
        / charge_budget(Log(many, error=error)).std
    )
    assert ratio == pytest.approx(10.0, rel=0.03)


def test_budgets_agree_with_the_uncertainties_package() -> None:
    error = MeterError(0.17, 0.02, 0.09, 0.004, 0.3, 0.2)
    log = invented_log(error)
    r = log.readings
    zero, gain = uncertainties.ufloat(0, error.current_zero_a), uncertainties.ufloat(1, error.current_gain)
    volt_zero, volt_gain = (
        uncertainties.ufloat(0, error.voltage_zero_v),
        uncertainties.ufloat(1, error.voltage_gain),
    )
    i = [gain * (x + zero + uncertainties.ufloat(0, error.current_noise_a)) for x in r.current_a]
    v = [volt_gain * (x + volt_zero + uncertainties.ufloat(0, error.voltage_noise_v)) for x in r.voltage_v]
    p = [a * b for a, b in zip(i, v, strict=True)]
    steps = np.diff(r.time_s)
    charge = sum(s * (a + b) / 7200 for s, a, b in zip(steps, i, i[1:], strict=False))
    energy = sum(s * (a + b) / 7200 for s, a, b in zip(steps, p, p[1:], strict=False))
    assert charge_budget(log).value == pytest.approx(charge.nominal_value, rel=1e-12)
    assert replace(charge_budget(log), between=0.0).std == pytest.approx(charge.std_dev, rel=1e-9)
    assert energy_budget(log).value == pytest.approx(energy.nominal_value, rel=1e-12)
    assert replace(energy_budget(log), between=0.0).std == pytest.approx(energy.std_dev, rel=1e-9)


def test_a_90_percent_band_holds_90_percent_of_the_time() -> None:
    rng = np.random.default_rng(9)
    error = MeterError(0.1, 0.015, 0.05, 0.003, 0.2, 0.1)
    true = invented_log(MeterError())
    inside = 0
    runs = 1500
    for _ in range(runs):
        i = true.readings.current_a * (1 + rng.normal(0, error.current_gain)) + rng.normal(
            0, error.current_zero_a
        )
        read = true.readings.assign(current_a=i + rng.normal(0, error.current_noise_a, len(i)))
        # the truth is of the same readings
        budget = replace(
            charge_budget(Log(read, error=error)), between=0.0
        )  # the truth is of the same seconds
        inside += abs(budget.value - charge_budget(true).value) <= 1.6449 * budget.std
    assert 0.87 < inside / runs < 0.93


def test_gaps_carry_neither_charge_nor_uncertainty() -> None:
    frame = pd.DataFrame({"time_s": [0.0, 10.0, 1000.0, 1010.0], "current_a": 9.0, "voltage_v": 50.0})
    budget = charge_budget(Log(frame, error=MeterError(1.0, 0, 0, 0, 0, 0)))
    assert budget.value == pytest.approx(9 * 20 / 3600)
    assert budget.zero == pytest.approx(20 / 3600)


@given(st.sampled_from([0.001, 0.01, 0.1, 1.0, 0.5, 0.02]), st.integers(0, 1000))
def test_resolution_is_found(step: float, seed: int) -> None:
    counts = np.random.default_rng(seed).integers(1, 900, 400)
    assert resolution_of(np.round(counts * step, 6)) == pytest.approx(step)


def test_finer_displays_are_trusted_more() -> None:
    coarse, usual, fine = (assumed_error(s, s) for s in (0.1, 0.01, 0.001))
    assert coarse.current_zero_a > usual.current_zero_a > fine.current_zero_a
    assert coarse.current_gain >= usual.current_gain > fine.current_gain
    assert coarse.voltage_zero_v > usual.voltage_zero_v > fine.voltage_zero_v


def test_stated_accuracy_overrides_and_is_rectangular() -> None:
    # ± (2 % + 5 digits) of 0.1 A: limits 2 % and 0.5 A, divided by the square root of 3 (JCGM 100:2008,
    # 4.3.7).
    error = Meter("clamp", current=Accuracy(2.0, 5, 0.1)).error(MeterError())
    assert error.current_gain == pytest.approx(0.02 / math.sqrt(3))
    assert error.current_zero_a == pytest.approx(0.5 / math.sqrt(3))
    assert error.voltage_gain == MeterError().voltage_gain


def test_meter_is_kept_and_recognised_again() -> None:
    text = "a;b;c\n" + "".join(f"{k};{5 + k % 3},1;53,{k % 10}\n" for k in range(50))
    columns = {"time": "a", "current": "b", "voltage": "c"}
    first = examine_bytes([("x.csv", text.encode())], columns=columns)
    known = Meter(
        "bench clamp",
        current=Accuracy(1.0, 2, 0.1),
        columns=tuple(columns.items()),
        signature=first.meters[0].signature,
    )
    kept = Meter.from_plain(json.loads(json.dumps(known.as_plain())))
    assert kept == known
    log = read_bytes([("y.csv", text.encode())], meters=[kept])
    assert any("bench clamp recognised" in n for n in log.notes)
    assert log.error.current_gain == pytest.approx(0.01 / math.sqrt(3))
    with pytest.raises(InputError):
        read_bytes([("y.csv", text.encode())])


def test_damaged_description_is_refused_in_one_line() -> None:
    with pytest.raises(InputError, match="describe the meter again"):
        Meter.from_plain({"name": "x", "colour": "red"})
    with pytest.raises(InputError, match="from zero up"):
        Accuracy(-1.0, 0, 0.1)
