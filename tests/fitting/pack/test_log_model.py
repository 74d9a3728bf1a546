"""The model along a log: its derivatives against differences, and limiting cases."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from planted_packs import part, planted_log

from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted, open_circuit_table
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.log_model import (
    N_JOINT,
    START,
    ZERO_A,
    ZERO_V,
    jacobians,
    model,
    ohmic_part,
    reading_variance,
    voltage_under,
)
from estimator.fitting.pack.open_circuit import GRID
from estimator.importer.log import Log

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
MOVED = [
    *(prior.CAPACITY, prior.CURVE.start + 5, prior.OHMIC.start + 4, prior.QUICK.start + 4),
    *(prior.LAG.start + 1, prior.LAG_SHAPE.start, *prior.ACTIVATIONS, prior.TRANSFER, START, ZERO_A, ZERO_V),
]
LEFT_OUT_OF_THE_QUICK_PAIR = 0.06
"""Share of the whole by which the derivatives may be wrong: they hold the pair's charge constant."""


@pytest.fixture(scope="module", params=[25.0, 2.0])
def along(request):
    log, _ = planted_log(np.random.default_rng(8))
    fitted = as_fitted(PACK)
    trace = trace_of(log, request.param)
    joint = np.zeros(N_JOINT)
    joint[: prior.N_PARAMETERS], joint[START] = fitted.mean, 0.98
    return fitted, trace, joint


@pytest.mark.parametrize("which", MOVED)
def test_derivatives_agree_with_differences(along, which):
    fitted, trace, joint = along
    at = model(joint, fitted, trace)
    column = jacobians(joint, fitted, trace, at)[0][:, which]
    step = np.zeros(N_JOINT)
    step[which] = 1e-4
    up, down = (model(joint + sign * step, fitted, trace).voltage for sign in (1, -1))
    differences = (up - down) / 2e-4
    size = np.sqrt(np.mean(differences**2)) + 1e-9
    assert np.sqrt(np.mean((column - differences) ** 2)) < LEFT_OUT_OF_THE_QUICK_PAIR * size + 1e-6


@pytest.mark.parametrize(
    ("pack", "celsius", "zero_a", "lag_bends"),
    [
        (PACK, 25.0, 0.0, False),
        (PACK, 2.0, 0.3, False),
        # Peukert's lag is no straight line: only the search's judge, the full model, sees how it depends
        (Pack("lead_acid", 20, 20.0, 35.0), 10.0, 0.0, True),
    ],
)
def test_derivatives_are_exact_where_the_pairs_are_the_same_at_every_charge(pack, celsius, zero_a, lag_bends):
    """What the derivatives leave out is then nothing; left is the curve's joining by straight lines."""
    log, _ = planted_log(np.random.default_rng(8))
    fitted, trace = as_fitted(pack), trace_of(part(log, upto_s=1500.0), celsius)
    joint = np.zeros(N_JOINT)
    joint[: prior.N_PARAMETERS], joint[START], joint[ZERO_A] = fitted.mean, 0.98, zero_a
    joint[prior.QUICK], joint[prior.SLOW] = joint[prior.QUICK][4], -0.3
    lag = [*range(N_JOINT)[prior.LAG], *range(N_JOINT)[prior.LAG_SHAPE], prior.ACTIVATION_LAG]
    left_out = [*lag, prior.CAPACITY, ZERO_A] if lag_bends else []
    found, state = jacobians(joint, fitted, trace, model(joint, fitted, trace))
    for which in range(N_JOINT):
        step = np.where(np.arange(N_JOINT) == which, 1e-4, 0.0)
        up, down = (model(joint + sign * step, fitted, trace) for sign in (1, -1))
        volts, states = (up.voltage - down.voltage) / 2e-4, (up.state - down.state) / 2e-4
        if which not in left_out:
            off = np.sqrt(np.mean((found[:, which] - volts) ** 2))
            assert off <= 0.02 * np.sqrt(np.mean(volts**2)) + 1e-6, which
        pair = slice(1 if which == ZERO_A else 0, None)  # the pair's own zero error is left out
        assert state[pair, which] == pytest.approx(states[pair], abs=1e-4, rel=2e-3), which


def test_without_charge_transfer_the_sag_is_a_straight_line(along):
    fitted, _, joint = along
    surface, warm = np.array([0.5]), np.array([5.0])
    for logit, straight in ((-40.0, True), (3.0, False)):
        joint = joint.copy()
        joint[prior.TRANSFER] = logit
        rest, ten, twenty = (
            float(voltage_under(joint, fitted, surface, warm, a)[0]) for a in (0.0, 10.0, 20.0)
        )
        assert ((rest - twenty) == pytest.approx(2 * (rest - ten), rel=1e-6)) is straight
        assert rest > ten > twenty


def test_charging_lifts_as_discharging_sags(along):
    fitted, _, joint = along
    surface, warm = np.array([0.5]), np.array([5.0])
    rest, out, back = (float(voltage_under(joint, fitted, surface, warm, a)[0]) for a in (0.0, 10.0, -10.0))
    assert back - rest == pytest.approx(rest - out)


def test_a_peak_that_touches_the_cut_off_while_the_motor_runs_on_ends_no_log():
    """Once seen: a worn pack that its mow emptied was believed to hold its label, because a spike of two
    seconds had met the cut-off minutes earlier and the log was not read further."""
    log, _ = planted_log(np.random.default_rng(8))
    rows = log.readings.iloc[:-100]  # the last readings meet the cut-off by themselves
    half = len(rows) // 2
    for touched, whole in ((half, True), (len(rows) - 1, False)):
        volts = rows["voltage_v"].where(rows.index != rows.index[touched], 38.9)
        rest = rows.tail(5).assign(
            time_s=rows["time_s"].iloc[-1] + np.arange(1, 6), current_a=0.0, voltage_v=42.0
        )
        made = replace(log, readings=pd.concat([rows.assign(voltage_v=volts), rest], ignore_index=True))
        trace = trace_of(made, cut_off_v=39.0)
        assert len(trace.time_s) == len(rows) + (5 if whole else 0)


@pytest.mark.parametrize(
    ("touched", "after_a", "length"),
    [
        (200, [0.0] * 6, 201),
        (200, [4.0, *[0.0] * 5], 201),  # a reading later the motor may still be running down
        (200, [4.0, 4.0, *[0.0] * 4], 207),  # two later it ran on
        (200, [0.0, 0.0, 0.0, 9.0, 9.0, 0.0], 207),  # it ran on later, for 23 of 2000 A s
        (200, [0.0, 0.0, 0.0, 9.0, 0.0, 0.0], 201),  # 14: under 1 %, no mowing
        (200, [], 201),
        (2, [0.0] * 200, 3),
        (1, [0.0] * 200, 202),  # two readings are no log
    ],
)
def test_a_touch_of_the_cut_off_ends_a_log_unless_the_motor_runs_on(touched, after_a, length):
    """10 A a second apart at 50 V, 39 V at the last of them; then what came after it."""
    log, _ = planted_log(np.random.default_rng(8))
    amps = np.array([10.0] * (touched + 1) + after_a)
    volts = np.where(np.arange(len(amps)) == touched, 39.0, 50.0)
    apart_s = np.where(np.arange(len(amps)) > touched, 1.0 if touched > 2 else 1e-3, 1.0)
    rows = pd.DataFrame({"time_s": np.cumsum(apart_s), "current_a": amps, "voltage_v": volts})
    assert len(trace_of(replace(log, readings=rows), cut_off_v=39.0).time_s) == length


def test_a_reading_counts_for_the_time_and_the_charge_around_it():
    """Steps of 10 and 20 s at 6 A: half of each belongs to the reading at either end."""
    log, _ = planted_log(np.random.default_rng(8))
    rows = pd.DataFrame({"time_s": [0.0, 10.0, 30.0], "current_a": 6.0, "voltage_v": 50.0})
    weight = trace_of(replace(log, readings=rows)).weight
    assert weight == pytest.approx([10 / 60, 30 / 60, 20 / 60])
    rows["current_a"] = [6.0, 6.0, 0.0]  # by charge: 60 and 60 A s, so a quarter, a half and a quarter
    weight = trace_of(replace(log, readings=rows)).weight
    assert weight == pytest.approx([(1 / 6 + 1 / 4) / 2, 1 / 2, (1 / 3 + 1 / 4) / 2])


@pytest.mark.parametrize(("apart_s", "step_s"), [(0.1, 0.2), (0.5, 0.5), (1.0, 1.0), (7.0, 2.0)])
def test_even_steps_reach_to_the_last_reading_and_no_further(apart_s, step_s):
    """As far apart as the readings, but no finer than 0.2 s and no coarser than 2 s."""
    log, _ = planted_log(np.random.default_rng(8))
    time_s = 5.0 + apart_s * np.arange(51)
    trace = trace_of(replace(log, readings=log.readings[:51].assign(time_s=time_s)))
    assert trace.grid_s[0] == 5.0 and np.diff(trace.grid_s) == pytest.approx(step_s)
    assert time_s[-1] - 1e-6 <= trace.grid_s[-1] < time_s[-1] + 1.001 * step_s


def test_temperatures_that_were_not_read_lie_between_those_that_were():
    log, _ = planted_log(np.random.default_rng(8))
    warm_c = [np.nan, 10.0, np.nan, np.nan, 16.0, np.nan]
    rows = log.readings[:6].assign(temperature_c=warm_c)
    trace = trace_of(replace(log, readings=rows))
    assert trace.temperature_c == pytest.approx([10, 10, 12, 14, 16, 16]) and trace.measured_temperature
    told = trace_of(replace(log, readings=rows), 5.0)
    assert set(told.temperature_c) == {5.0} and not told.measured_temperature
    assert set(trace_of(replace(log, readings=log.readings[:6])).temperature_c) == {25.0}


@pytest.mark.parametrize("pack", [PACK, Pack("lfp", 12, 10.0, 30.0)])
def test_the_model_under_a_lasting_current_is_the_voltage_it_settles_to(pack):
    """A thousandth of the charge an hour for two hours: pairs and lag settle, hardly any charge is used."""
    fitted = as_fitted(pack)
    rows = pd.DataFrame({"time_s": np.arange(0.0, 7200.0, 2.0), "current_a": 0.01, "voltage_v": 40.0})
    trace = trace_of(Log(rows), 5.0)
    joint = np.zeros(N_JOINT)
    joint[: prior.N_PARAMETERS], joint[START], joint[ZERO_V] = fitted.mean, 0.6, 0.25
    at = model(joint, fitted, trace)
    settled_v = voltage_under(joint, fitted, at.surface, trace.temperature_c, 0.01) + 0.25
    sags_v = at.emf_v - at.voltage + 0.25
    assert sags_v[-1] == pytest.approx(at.emf_v[-1] - settled_v[-1] + 0.25, rel=2e-3)
    assert sags_v[-1] > 1.2 * at.part.sag_v[-1], "else nothing is shown of the pairs"
    assert at.surface == pytest.approx(at.charge - at.lag_parts.sum(axis=0))


@pytest.mark.parametrize("amps", [-8.0, 0.5, 30.0])
def test_what_sags_at_once_moves_with_resistance_and_current_as_its_differences_say(amps):
    ohm, warm_c, small = np.array([0.1]), np.array([5.0]), 1e-5
    mean = as_fitted(PACK).mean

    def sag(times=1.0, more_a=0.0):
        part = ohmic_part(mean, 13, times * ohm, warm_c, np.array([amps + more_a]))
        return float(part.sag_v[0])

    found = ohmic_part(mean, 13, ohm, warm_c, np.array([amps]))
    by_log = (sag(np.exp(small)) - sag(np.exp(-small))) / (2 * small)
    assert found.slope_v == pytest.approx([by_log], rel=1e-6)
    by_amps = (sag(more_a=small) - sag(more_a=-small)) / (2 * small)
    assert found.small_ohm == pytest.approx([by_amps], rel=1e-6)


def test_a_reading_is_as_uncertain_as_model_sag_charge_and_meter_together(along):
    """13 cells: 78 mV of the circuit, 3 % of the sag, .002 of charge on the curve's slope, 20 mV of meter."""
    fitted, trace, joint = along
    at = model(joint, fitted, trace)
    pair_v = float(np.mean(at.quick_parts.sum(axis=0)))
    charges = np.array([at.surface.min(), 0.5, at.surface.max()])
    places = [int(np.argmin(np.abs(at.surface - charge))) for charge in charges]
    near = np.interp(
        np.add.outer([-0.005, 0.005], at.surface[places]), GRID, open_circuit_table(fitted, joint)
    )
    expected = (
        (13 * 0.006) ** 2
        + (0.03 * (at.part.sag_v[places] + pair_v)) ** 2
        + (13 * 0.002 * (near[1] - near[0]) / 0.01) ** 2
        + 0.02**2
    )
    noisy = replace(trace, error=replace(trace.error, voltage_noise_v=0.02))
    assert reading_variance(joint, fitted, noisy, at)[places] == pytest.approx(expected, rel=1e-3)
