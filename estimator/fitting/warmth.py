"""How a pack warms under load: one heat capacity, one path of heat to the surroundings.

A log that measured its pack's temperature shows both. What all logs of a pack showed is kept as a belief;
before any such log, it is that of cells in a box.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack.circuit import pair_voltage

if TYPE_CHECKING:
    from estimator.fitting.pack.log_grid import Trace


JOULE_PER_KELVIN_AH = 15.0
"""Heat capacity of one cell [J/K] for each ampere-hour: an 18650 cell of 2.9 Ah has 47 g at 0.9 J/(g K)
(common practice)."""

USUAL_TAU_S = 1200.0
"""Time constant [s] to the surroundings of cells in free air; packs take longer (common practice)."""

LEAST_RISE_K = 6.0
"""A smaller rise is not projected ahead: on measured cells at room temperature that did more harm than good,
since the circuit is off by as much near empty, and a drift of the room looks the same."""

_TAU_S = USUAL_TAU_S * np.geomspace(0.2, 6.0, 13)  # steps of a third, two `_TAU_SPREAD` and more each way
_CAPACITY_SPREAD, _TAU_SPREAD, _READ_K = 0.4, 0.8, 0.4
"""How far heat capacity (as a share) and time constant (as a logarithm) may be from the usual, and the error
of a thermometer on a cell [K] (common practice)."""


BOXED_TAU_S = 3000.0
"""Time constant [s] to the surroundings of cells in a box, within a factor of two (common practice)."""

DRIFT_K = 1.0
"""Drift [K] of the air around a pack during a log, which looks like warming (common practice)."""


@dataclass(frozen=True, eq=False)
class Warmth:
    """dT/dt = heat · kelvin_per_joule − (T − around_c) / tau_s; numbers, or (n,) with one for each draw."""

    around_c: float | Array
    kelvin_per_joule: float | Array
    tau_s: float | Array


@dataclass(frozen=True)
class Warming:
    """The belief about a pack's warming, on logarithms.

    mean : of the heat capacity [J/K for each cell and ampere-hour] and of the time constant [s]
    covariance : variance of the first, covariance of the two, variance of the second
    """

    mean: tuple[float, float]
    covariance: tuple[float, float, float]

    def draw(
        self, n: int, around_c: Array, series: int, capacity_ah: float, rng: np.random.Generator
    ) -> Warmth:
        """Draws (n,) for a pack of `series` cells and `capacity_ah` [Ah], in air at `around_c` (n,) [°C].

        >>> drawn = USUAL.draw(500, np.full(500, 12.0), 13, 10.0, np.random.default_rng(1))
        >>> 0.7 < float(np.median(drawn.kelvin_per_joule)) * 15.0 * 13 * 10.0 < 1.4
        True
        """
        first, both, second = self.covariance
        root = np.linalg.cholesky(np.array([[first, both], [both, second]]) + 1e-12 * np.eye(2))
        heat, tau = np.exp(np.array(self.mean)[:, None] + root @ rng.standard_normal((2, n)))
        return Warmth(np.asarray(around_c, float), 1.0 / (heat * series * capacity_ah), tau)

    def rise(
        self,
        heat_w: float,
        seconds: Array | float,
        series: int,
        capacity_ah: float,
        rng: np.random.Generator,
        n: int = 1000,
    ) -> Array:
        """How much warmer (n,) [K] than the air the pack is after a steady heat [W] for some seconds.

        The closed form of `Warmth`: heat · kelvin_per_joule · tau_s · (1 − exp(−seconds / tau_s)).

        >>> rise = USUAL.rise(20.0, 1800.0, 13, 10.0, np.random.default_rng(1))
        >>> 5 < float(np.median(rise)) < 20
        True
        """
        drawn = self.draw(n, np.zeros(n), series, capacity_ah, rng)
        tau_s = np.asarray(drawn.tau_s)
        return np.asarray(
            heat_w * drawn.kelvin_per_joule * tau_s * (1.0 - np.exp(-np.asarray(seconds) / tau_s))
        )


USUAL = Warming((float(np.log(JOULE_PER_KELVIN_AH)), float(np.log(BOXED_TAU_S))), (0.4**2, 0.0, 0.7**2))
"""The belief before any log that measured the pack's temperature."""


def fit_warmth(trace: Trace, heat_w: Array, series: int, capacity_ah: float) -> Warmth | None:
    """The warming of a pack whose log measured its temperature and shows a large enough rise, else None.

    heat_w : (n,) heat [W] set free in the pack at each reading: current times what the voltage has sagged

    The pack is assumed to start as warm as its surroundings. Least squares, with priors on heat capacity and
    time constant; the latter is searched for on a grid.
    """
    if not trace.measured_temperature or len(trace.time_s) < 3:
        return None
    around = float(trace.temperature_c[0])
    rise = trace.temperature_c - around
    if np.ptp(rise) < LEAST_RISE_K:
        return None
    usual = 1.0 / (JOULE_PER_KELVIN_AH * series * capacity_ah)
    grid_heat = np.interp(trace.grid_s, trace.time_s, heat_w)
    # readings count as independent of each other only a minute apart
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


def learn_warming(before: Warming, trace: Trace, heat_w: Array, series: int, capacity_ah: float) -> Warming:
    """The belief after a log, which changes nothing unless it measured the pack's temperature.

    heat_w : (n,) heat [W] set free in the pack at each reading

    Worked out on a grid of the two logarithms, with normal densities; a pack that hardly warms says as much
    as one that does.
    """
    if not trace.measured_temperature or len(trace.time_s) < 3:
        return before
    rise = trace.temperature_c - trace.temperature_c[0]
    grid_heat = np.interp(trace.grid_s, trace.time_s, heat_w)
    minutes = max((trace.time_s[-1] - trace.time_s[0]) / 60.0, 1.0)
    weight = trace.weight * min(len(rise), minutes / 5.0) / (_READ_K**2 + DRIFT_K**2)
    first, both, second = before.covariance
    steps = np.linspace(-2.5, 2.5, 21)
    log_heat = before.mean[0] + np.sqrt(first) * steps
    log_tau = before.mean[1] + np.sqrt(second) * steps
    certain = np.linalg.inv(np.array([[first, both], [both, second]]))
    off = np.stack(np.meshgrid(log_heat - before.mean[0], log_tau - before.mean[1], indexing="ij"))
    cost = np.einsum("iab,ij,jab->ab", off, certain, off)
    for k, tau_s in enumerate(np.exp(log_tau)):
        warmed = tau_s * pair_voltage(grid_heat, trace.step_s, float(tau_s)) / (series * capacity_ah)
        response = np.interp(trace.time_s, trace.grid_s, warmed)
        square, product = float(weight @ response**2), float(weight @ (response * rise))
        gain = np.exp(-log_heat)
        cost[:, k] += gain**2 * square - 2 * gain * product
    share = np.exp(-0.5 * (cost - cost.min()))
    share /= share.sum()
    mean_heat, mean_tau = float(share.sum(1) @ log_heat), float(share.sum(0) @ log_tau)
    apart_heat, apart_tau = log_heat - mean_heat, log_tau - mean_tau
    return Warming(
        (mean_heat, mean_tau),
        (
            float(share.sum(1) @ apart_heat**2),
            float(apart_heat @ share @ apart_tau),
            float(share.sum(0) @ apart_tau**2),
        ),
    )
