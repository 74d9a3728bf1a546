"""A log laid out for the pack model: running charge at each reading, and current on an even time grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array, Flags
from estimator.errors import InputError
from estimator.fitting.charge_used import longest_step_s, running_sum
from estimator.fitting.load.phases import OFF_SHARE, motor_on
from estimator.fitting.pack.circuit import LAG_S, pair_voltage
from estimator.importer.log import Log, MeterError, until_leap

ASSUMED_C = 25.0
"""Rated capacities are given at 25 °C (common practice)."""
RAN_ON_S = 30.0
"""A motor that runs on for this long [s] was not stopped by the current before (common practice: battery
management opens within seconds)."""
RUN_ON = 0.01
"""A motor that draws more than this share of a mow's charge after a touch of the cut-off ran on."""


@dataclass(frozen=True)
class Pace:
    """The rates [1/h] at which mows draw a pack, on average and in peaks, and its temperature [°C].

    gave : share of the capacity that a mow from full drew until the cut-off or, where none went so far, the
        largest share that a mow drew; None before any such mow
    left : share that the pace of that mow leaves behind, by the circuit
    passed_a : the highest current [A] so far that did not stop the motor (`passed_a`)

    Before any log: one charge an hour, with peaks of twice that (common practice).
    """

    mean_c: float = 1.0
    peak_c: float = 2.0
    temperature_c: float = 25.0
    gave: float | None = None
    left: float = 0.0
    passed_a: float = 0.0


@dataclass(frozen=True)
class Trace:
    """A log's readings, and the same current on an even grid fine enough for the pairs' time constants.

    drawn_ah, drawn_h : (n,) running charge [Ah] and measured time [h] at each reading
    grid_s, grid_current_a, grid_temperature_c : (m,) time, current and temperature every `step_s`
    rates_a, rates_of_one : (4, n) current [A] low-passed by the lag's time constants, and a current of 1 A
        low-passed likewise
    weight : (n,) share of each reading in the log, half by time and half by charge moved, zero for volts that
        were not read; sums to 1
    ran_out : whether the battery itself stopped the motor
    """

    time_s: Array
    current_a: Array
    voltage_v: Array
    temperature_c: Array
    drawn_ah: Array
    drawn_h: Array
    step_s: float
    grid_s: Array
    grid_current_a: Array
    grid_temperature_c: Array
    rates_a: Array
    rates_of_one: Array
    weight: Array
    error: MeterError
    measured_temperature: bool
    ran_out: bool


def trace_of(log: Log, temperature_c: float | None = None, cut_off_v: float = 0.0) -> Trace:
    """Lay out a log, up to its last reading at or below `cut_off_v` [V] if the pack rests after it; a peak
    that touched the cut-off while the motor ran on does not end it. A leap of the volts ends it in any case.

    temperature_c : used where the log has no temperature [°C]; None for 25 °C

    Raises InputError where volts are missing, as in hand readings of amps alone.
    """
    check_amount("temperature_c", temperature_c, whose=log.name)
    log = until_leap(log)
    r = log.arrays
    if bool(np.isnan(r["voltage_v"]).any()):
        raise InputError(
            "volts are missing", file=log.name, mend="note them, or take those usual for the pack"
        )
    limit = longest_step_s(log)
    drawn_ah = running_sum(r["time_s"], r["current_a"], limit) / 3600
    touched = np.flatnonzero(r["voltage_v"] <= cut_off_v)
    last, until = int(touched[-1]) if len(touched) else 0, len(r["time_s"])
    still_on = last + 1 < until and motor_on(r["voltage_v"] * r["current_a"])[min(last + 2, until - 1)]
    if last > 1 and not still_on and drawn_ah[last] >= (1 - RUN_ON) * drawn_ah[-1]:
        until = last + 1
    drawn_ah = drawn_ah[:until]
    time_s, current, voltage = (r[c][:until] for c in ("time_s", "current_a", "voltage_v"))
    warmth_c = r.get("temperature_c", np.full(until, np.nan))[:until]
    known = np.flatnonzero(~np.isnan(warmth_c))
    measured = temperature_c is None and len(known) > 0
    if measured:
        temperature = np.interp(np.arange(until), known, warmth_c[known])
    else:
        temperature = np.full(until, ASSUMED_C if temperature_c is None else float(temperature_c))
    drawn_h = running_sum(time_s, np.ones_like(time_s), limit) / 3600
    span = float(time_s[-1] - time_s[0])
    step = max(min(max(float(np.median(np.diff(time_s))), 0.2), 2.0), span / 16000)
    grid_s = time_s[0] + step * np.arange(int(np.ceil(span / step)) + 1)
    grid_a = np.interp(grid_s, time_s, current)
    low_passed = [np.interp(time_s, grid_s, pair_voltage(grid_a, step, tau_s)) for tau_s in LAG_S]
    return Trace(
        time_s=time_s,
        current_a=current,
        voltage_v=voltage,
        temperature_c=temperature,
        drawn_ah=drawn_ah,
        drawn_h=drawn_h,
        step_s=step,
        grid_s=grid_s,
        grid_current_a=grid_a,
        grid_temperature_c=np.interp(grid_s, time_s, temperature),
        rates_a=np.stack(low_passed),
        rates_of_one=1.0 - np.exp(-(time_s - time_s[0]) / LAG_S[:, None]),
        weight=_of_volts_read(_weights(time_s, drawn_ah, limit), r.get("volts_drawn")),
        error=log.error,
        measured_temperature=measured,
        ran_out=log.ran_out,
    )


def passed_a(trace: Trace, hold_s: float) -> float:
    """The highest current [A] that lasted `hold_s` [s] and after which the motor ran on: whatever the label
    says, no limit below it stops this pack.
    """
    amps = trace.grid_current_a
    held, ran_on = (max(1, int(np.ceil(seconds / trace.step_s))) for seconds in (hold_s, RAN_ON_S))
    if len(amps) < held + ran_on:
        return 0.0
    stretches = np.lib.stride_tricks.sliding_window_view(amps, held + ran_on)
    on = stretches.min(1) > OFF_SHARE * np.quantile(amps, 0.9)
    return float(np.max(stretches[on, :held].min(1), initial=0.0))


def _of_volts_read(weight: Array, across: Flags | None) -> Array:
    """The weights (n,) without readings whose volts are interpolated across a hole."""
    if across is None:
        return weight
    kept = np.where(across[: len(weight)], 0.0, weight)
    return kept / kept.sum() if kept.sum() > 0 else weight


def _weights(time_s: Array, drawn_ah: Array, limit: float) -> Array:
    def share(steps: Array) -> Array:
        each = np.concatenate([steps, [0.0]]) + np.concatenate([[0.0], steps])
        total = each.sum()
        return each / total if total > 0 else np.full(len(each), 1.0 / len(each))

    return (share(np.minimum(np.diff(time_s), limit)) + share(np.abs(np.diff(drawn_ah)))) / 2
