"""How a pack warms under load, from the temperatures of a log: one heat capacity, one way to the
surroundings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.pack.circuit import pair_voltage
from estimator.fitting.pack.log_grid import Trace

Array = NDArray[np.float64]

JOULE_PER_KELVIN_AH = 15.0
"""Heat capacity of one cell [J/K] for each ampere-hour: an 18650 cell of 2.9 Ah has 47 g at 0.9 J/(g K)
(common practice)."""

USUAL_TAU_S = 1200.0
"""Time constant [s] to the surroundings of cells in free air; packs take longer (common practice)."""

LEAST_RISE_K = 6.0
"""A smaller rise is not carried on: on measured cells at room temperature that did more harm than good, for
the circuit errs by as much near empty, and the room's own drift looks the same."""

_TAU_S = USUAL_TAU_S * np.geomspace(0.2, 6.0, 13)
_CAPACITY_SPREAD, _TAU_SPREAD, _READ_K = 0.4, 0.8, 0.4


@dataclass(frozen=True)
class Warmth:
    """dT/dt = heat · kelvin_per_joule − (T − around_c) / tau_s."""

    around_c: float
    kelvin_per_joule: float
    tau_s: float


def fit_warmth(trace: Trace, heat_w: Array, series: int, capacity_ah: float) -> Warmth | None:
    """The warming of a log that measured its temperature and rose enough, else None.

    heat_w : (n,) heat [W] set free in the pack at each reading: current times what the voltage lacks to open
    circuit

    The pack is taken to start as warm as its surroundings. Least squares with priors on heat capacity and
    time constant; the latter is searched over a grid.
    """
    if not trace.measured_temperature or len(trace.time_s) < 3:
        return None
    around = float(trace.temperature_c[0])
    rise = trace.temperature_c - around
    if np.ptp(rise) < LEAST_RISE_K:
        return None
    usual = 1.0 / (JOULE_PER_KELVIN_AH * series * capacity_ah)
    grid_heat = np.interp(trace.grid_s, trace.time_s, heat_w)
    # a quarter of an hour counts as one independent temperature reading every minute
    weight = trace.weight * min(len(rise), max((trace.time_s[-1] - trace.time_s[0]) / 60.0, 1.0)) / _READ_K**2
    best, found = np.inf, Warmth(around, usual, USUAL_TAU_S)
    for tau_s in _TAU_S:
        response = np.interp(trace.time_s, trace.grid_s, tau_s * pair_voltage(grid_heat, trace.step_s, tau_s))
        certain = 1.0 / (_CAPACITY_SPREAD * usual) ** 2
        gain = float((weight @ (response * rise) + certain * usual) / (weight @ response**2 + certain))
        gain = max(gain, 0.1 * usual)
        cost = float(weight @ (rise - gain * response) ** 2) + certain * (gain - usual) ** 2
        cost += (np.log(tau_s / USUAL_TAU_S) / _TAU_SPREAD) ** 2
        if cost < best:
            best, found = cost, Warmth(around, gain, float(tau_s))
    return found
