"""Charge and energy of a log by the trapezoid, with gaps reported and never silently bridged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.errors import check_kind
from estimator.importer.log import Log
from estimator.importer.meter_uncertainty import charge_budget, energy_budget
from estimator.results import result


@dataclass(frozen=True)
class Gap:
    """A step too long to integrate: between start_s and end_s [s] nothing is known."""

    start_s: float
    end_s: float


@result
class ChargeUsed:
    """What a log took from the pack.

    ah, wh : charge [Ah] and energy [Wh] over the measured time, charging counted negative
    ah_std, wh_std : standard uncertainty (one sigma) from the meter's zero, gain and noise
    measured_s, gap_s : time [s] measured and time lost in gaps
    gaps : the gaps, each with its start and end [s]
    time_s, cumulative_ah : (n,) running sum [Ah] at each reading; it stands still over a gap
    """

    ah: float
    wh: float
    ah_std: float
    wh_std: float
    measured_s: float
    gap_s: float
    gaps: tuple[Gap, ...]
    time_s: Array
    cumulative_ah: Array


def longest_step_s(log: Log) -> float:
    """The longest step [s] that is integrated: the log's limit, or three usual steps if that is longer."""
    steps = np.diff(log.arrays["time_s"])
    return max(log.longest_step_s, 3.0 * float(np.median(steps[steps > 0])))


def running_sum(time_s: Array, rate: Array, longest_s: float = np.inf) -> Array:
    """Trapezoidal running integral of `rate` over `time_s` [s]; steps longer than `longest_s` add nothing.

    >>> running_sum(np.array([0.0, 10.0, 20.0]), np.array([1.0, 3.0, 3.0])).tolist()
    [0.0, 20.0, 50.0]
    """
    step = np.diff(time_s)
    piece = np.where(step > longest_s, 0.0, step * (rate[1:] + rate[:-1]) / 2)
    return np.concatenate([[0.0], np.cumsum(piece)])


def charge_used(log: Log) -> ChargeUsed:
    """Charge and energy that a log took from the pack.

    Neighbouring readings are joined by straight lines (trapezoid): Q = Σ w·I, with w the time [h] that a
    reading stands for. The meter's zero and gain errors do not average out, its noise does:
    u(Q)² = (u_zero·Σ w)² + (u_gain·Q)² + u_noise²·Σ w².

    Parameters
    ----------
    log : Log
        discharge current positive

    Returns
    -------
    ChargeUsed
        charge [Ah] and energy [Wh] with standard uncertainties, measured time and gaps [s]

    Raises
    ------
    InputError
        for anything that is not a log

    Source: JCGM 100:2008 (GUM), 5.1.2, for the combination of uncertainties.

    >>> import pandas as pd
    >>> from estimator.importer.log import Log, MeterError
    >>> hour = pd.DataFrame({"time_s": [0.0, 1800.0, 3600.0], "current_a": 1.0, "voltage_v": 48.0})
    >>> error = MeterError(current_zero_a=0.1, current_gain=0.0, current_noise_a=0.0)
    >>> used = charge_used(Log(hour, error=error))  # an ampere for an hour, its zero off by a tenth
    >>> round(used.ah, 6), round(used.wh, 6), round(used.ah_std, 6)
    (1.0, 48.0, 0.1)
    """
    check_kind("log", log, Log)
    time_s = log.arrays["time_s"]
    current_a = log.arrays["current_a"]
    limit = longest_step_s(log)
    step = np.diff(time_s)
    long = step > limit
    charge, energy = charge_budget(log, limit), energy_budget(log, limit)
    return ChargeUsed(
        ah=charge.value,
        wh=energy.value,
        ah_std=charge.std,
        wh_std=energy.std,
        measured_s=float(step[~long].sum()),
        gap_s=float(step[long].sum()),
        gaps=tuple(Gap(float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(long)),
        time_s=time_s,
        cumulative_ah=running_sum(time_s, current_a, limit) / 3600,
    )
