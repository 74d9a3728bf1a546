"""What a voltage read under load, beside the voltage at rest, says of a pack's resistance.

Rest voltage less loaded voltage is the sag: amps times resistance, and what the charge at the particles'
surface lags behind. One scalar stands for it, the logarithm of the sag over what was believed; its posterior
is computed on a grid, over every moment of the mow at which the reading may have been taken, and passed on to
the parameters by Gaussian conditioning (Bishop 2006, Pattern Recognition and Machine Learning, 2.3.1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.by_hand.spot_charge import REST_STD_V_PER_CELL
from estimator.fitting.by_hand.spot_doubts import volts_doubts
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import (
    CURVE_AND_WARP,
    FittedPack,
    as_fitted,
    assemble,
    open_circuit_table,
)
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.log_model import jacobians, model
from estimator.fitting.pack.open_circuit import GRID, at_charge
from estimator.fitting.pack.pack_fit import drifted
from estimator.importer.by_hand.spot_notes import mean_current
from estimator.importer.log import Log, SpotNotes

Array = NDArray[np.float64]

READ_STD_V = 0.05
"""Last digit of a panel voltmeter, and a figure that moves under load [V]; its zero error is the same at rest
and cancels (common practice)."""
AMPS_STD = 0.15
"""Current at that moment against the usual one noted, as a fraction: cutting wavers by so much (common
practice)."""
HABIT_STD = 0.15
"""Log of the sag: how a person reads, and how the circuit splits sag into resistance and lag, is alike in all
their mows, so that many readings say no more than this (common practice)."""
MOMENTS = (np.arange(12) + 0.5) / 12


@dataclass(frozen=True)
class _Sag:
    """Sag believed [V] at each moment (m,), and how its logarithm at the middle of the mow moves with the
    parameters."""

    volts: Array
    gradient: Array


def learn_resistance(pack: Pack, spot: SpotNotes, temperature_c: float | None = None) -> FittedPack:
    """The pack after one more voltage read under load; unchanged where it or a rest voltage is missing, or
    where one of them is unlikely for the pack (`spot_doubts`).

    temperature_c : of the pack [°C], None for 25 °C

    At rest 54 V, cutting at 5 A: 50 V near there is more sag than a pack like this was believed to have.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39)
    >>> notes = SpotNotes(typical_a=5, load_v=50.0, minutes=5, rest_before_v=54.0, rest_after_v=53.5)
    >>> learnt = learn_resistance(crate, notes)
    >>> learnt.resistance_ohm > 1.5 * as_fitted(crate).resistance_ohm
    True
    """
    before = as_fitted(pack)
    amps = _usual_amps(spot)
    if spot.load_v is None or amps is None or not spot.minutes or spot.minutes <= 0:
        return before
    if volts_doubts(spot, before):
        return before
    rest = _rest_voltages(before, spot, amps)
    if rest is None:
        return before
    fitted = drifted(before)
    rest_v, rest_std = rest
    sag = _sag(fitted, rest_v, amps, 60 * spot.minutes, temperature_c)
    reach = fitted.covariance @ sag.gradient
    variance = float(sag.gradient @ reach)
    if variance <= HABIT_STD**2:
        return before
    shift, left = _posterior(spot.load_v, rest_v, rest_std, sag.volts, variance)
    left = max(left, HABIT_STD**2)
    if left >= variance:
        return before
    return assemble(
        fitted.rated,
        fitted.mean + reach * (shift / variance),
        fitted.covariance - np.outer(reach, reach) * ((1 - left / variance) / variance),
        usable=fitted.usable,
        pace=fitted.pace,
        logs=fitted.logs,
        last_day=fitted.last_day,
    )


def _usual_amps(spot: SpotNotes) -> float | None:
    for amps in (spot.typical_a, spot.mean_a):
        if amps is not None and amps > 0:
            return amps
    return None


def _rest_voltages(fitted: FittedPack, spot: SpotNotes, amps: float) -> tuple[Array, Array] | None:
    """Rest voltage [V, pack] at each moment (m,) and its standard uncertainty; None where none was read."""
    first, last = spot.rest_before_v, spot.rest_after_v
    missing = np.zeros_like(MOMENTS)
    if first is None or last is None:
        used = mean_current(spot)
        share = used.amps * (spot.minutes or 0.0) / 60 / fitted.capacity_ah * fitted.usable
        table = fitted.series * open_circuit_table(fitted, fitted.mean)
        if first is not None:
            last = first + _moved(table, first, -share)
            missing = (first - last) * MOMENTS * (used.std / used.amps)
        elif last is not None:
            first = last + _moved(table, last, share)
            missing = (first - last) * (1 - MOMENTS) * (used.std / used.amps)
        else:
            return None
    volts = first + (last - first) * MOMENTS
    std = np.sqrt(missing**2 + 2 * READ_STD_V**2 + (fitted.series * REST_STD_V_PER_CELL) ** 2)
    return volts, std


def _charge_at(table: Array, volts: Array | float) -> Array:
    return np.asarray(np.interp(volts, np.maximum.accumulate(table) + 1e-9 * np.arange(len(table)), GRID))


def _moved(table: Array, volts: float, by: float) -> float:
    charge = _charge_at(table, volts)
    return float(np.interp(charge + by, GRID, table) - np.interp(charge, GRID, table))


def _sag(fitted: FittedPack, rest_v: Array, amps: float, seconds: float, temperature_c: float | None) -> _Sag:
    """The pack model under a steady current, from the charge that the first rest voltage shows."""
    import pandas as pd  # slow to load, and few notes come this far

    table = fitted.series * open_circuit_table(fitted, fitted.mean)
    time_s = seconds * np.concatenate([[0.0], MOMENTS])
    frame = pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": rest_v[0]})
    trace = trace_of(Log(frame, longest_step_s=seconds), temperature_c)
    start = float(np.clip(_charge_at(table, rest_v[0]), 0.0, 1.0))
    joint = np.concatenate([fitted.mean, [start, 0.0, 0.0]])
    found = model(joint, fitted, trace)
    volts = np.maximum(at_charge(table, found.charge) - found.voltage, 1e-3)[1:]
    middle = len(MOMENTS) // 2
    gradient = -jacobians(joint, fitted, trace, found)[0][1 + middle, : prior.N_PARAMETERS] / volts[middle]
    gradient[np.r_[prior.CAPACITY, CURVE_AND_WARP]] = 0.0  # the rest voltage stands for them
    return _Sag(volts, gradient)


def _posterior(
    load_v: float, rest_v: Array, rest_std: Array, sag_v: Array, variance: float
) -> tuple[float, float]:
    """Mean and variance of the logarithm of the sag over what was believed, whatever the moment."""
    grid = np.sqrt(variance) * np.linspace(-5, 5, 401)
    sag = sag_v[:, None] * np.exp(grid)
    std = np.hypot(rest_std[:, None], AMPS_STD * sag)
    likely = np.exp(-0.5 * ((load_v - rest_v[:, None] + sag) / std) ** 2) / std
    weight = likely.mean(0) * np.exp(-0.5 * grid**2 / variance)
    if not weight.sum() > 0:
        return 0.0, variance
    weight /= weight.sum()
    mean = float(weight @ grid)
    return mean, float(weight @ (grid - mean) ** 2)
