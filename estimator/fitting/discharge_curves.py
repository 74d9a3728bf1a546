"""The discharge curve of one mow: rest voltage against charge drawn, with the resistance that takes it down.

Voltage under a mowing load jumps about with the load. Least squares takes it apart into a smooth rest
voltage over the charge drawn, and three resistances that answer at once, within some 15 s and within some
250 s. From these the curve can be laid out at any power and temperature, so that mows of different seasons
can be laid over each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from estimator.errors import InputError
from estimator.fitting.charge import charge_used
from estimator.fitting.circuit import constant_power_voltage, pair_voltage

if TYPE_CHECKING:
    from estimator.importer.log import Log

Array = NDArray[np.float64]

SETTLE_S = (15.0, 250.0)
"""Time constants [s] of the two slow resistances: charge transfer with near diffusion, and slow diffusion."""
ACTIVATION_KK, ACTIVATION_STD_KK = 3.0, 1.0
"""Activation temperature [1000 K] of pack resistance, 25 ± 8 kJ/mol (common practice)."""
PAIR_SHARE, PAIR_SHARE_STD = (0.25, 0.45), (0.25, 0.35)
"""The two slow resistances over the quick one, before looking at a log (common practice)."""
SHORTEST_AH = 0.05
ZERO_C_K = 273.15
END_KNOTS_AH = (0.04, 0.12, 0.3)
BEND_STD_V_AH = 3.0
"""How much the slope [V/Ah] of a pack's rest voltage may change from one control point to the next, one
sigma.
"""


@dataclass(frozen=True)
class DischargeCurve:
    """One mow's discharge curve, small enough to keep for every mow.

    used_ah (n,) charge [Ah] drawn since the log began; rest_v (n,) voltage [V] with the load taken off and
        settled
    load_a : mean current [A] of the log, where the curve is known best
    resistance_ohm, resistance_std_ohm : what a lasting load costs [V/A] at temperature_c, and its standard
        uncertainty
    quick_ohm : the part of it that answers at once; quick_std_ohm its standard uncertainty
    line_std_v : standard uncertainty [V] of the curve at load_a, the voltmeter's own zero and gain left out
    start_ah, start_std_ah : charge [Ah] drawn from full before the log began; None where unknown
    """

    used_ah: tuple[float, ...]
    rest_v: tuple[float, ...]
    load_a: float
    resistance_ohm: float
    resistance_std_ohm: float
    quick_ohm: float
    quick_std_ohm: float
    line_std_v: float
    temperature_c: float
    temperature_std_c: float
    start_ah: float | None = None
    start_std_ah: float = 0.0

    def starting_at(self, start_ah: float, start_std_ah: float = 0.0) -> DischargeCurve:
        """The same curve, now known to have begun `start_ah` [Ah] below full."""
        return replace(self, start_ah=start_ah, start_std_ah=start_std_ah)

    def as_plain(self) -> dict[str, Any]:
        """As plain values, ready for JSON."""
        return asdict(self)

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> DischargeCurve:
        """The reverse of `as_plain`."""
        values = dict(plain)
        return cls(**{**values, "used_ah": tuple(values["used_ah"]), "rest_v": tuple(values["rest_v"])})


def discharge_curve(
    log: Log, start_charge: float | None = None, temperature_c: float | None = None, points: int = 60
) -> DischargeCurve:
    """Take the discharge curve out of a log.

    start_charge : 1.0 straight from the charger; other values need the pack's capacity: `starting_at`
    temperature_c : pack temperature [°C] where the log has none (else 20 °C, taken as ± 8)

    Raises InputError for hand readings and for logs that draw less than 0.05 Ah.
    """
    if log.spot is not None:
        raise InputError(
            f"{log.name} holds hand readings, which give no discharge curve", mend="log a whole mow"
        )
    if len(log.readings) < 20:
        raise InputError(
            f"{log.name} holds {len(log.readings)} readings, too few for a curve", mend="log a whole mow"
        )
    used = charge_used(log)
    readings = log.readings
    time_s, current_a = readings["time_s"].to_numpy(float), readings["current_a"].to_numpy(float)
    voltage_v, drawn_ah = readings["voltage_v"].to_numpy(float), used.cumulative_ah
    if drawn_ah[-1] < SHORTEST_AH:
        raise InputError(
            f"{log.name} draws {drawn_ah[-1]:.3f} Ah, too little for a discharge curve",
            mend="log a whole mow",
        )
    parts = _pair_parts(time_s, current_a)
    basis, knots = _basis(drawn_ah)
    fit = _least_squares(basis, knots, np.column_stack([current_a, *parts]), voltage_v)
    grid = np.linspace(0.0, float(drawn_ah[-1]), points)
    rest = BSpline.design_matrix(grid, knots, 3).toarray() @ fit.spline
    load_a = float(np.average(current_a, weights=np.maximum(current_a, 0.0)))
    measured = "temperature_c" in readings and bool(readings["temperature_c"].notna().any())
    warm = float(readings["temperature_c"].mean()) if measured else temperature_c
    return DischargeCurve(
        used_ah=tuple(np.round(grid, 5).tolist()),
        rest_v=tuple(np.round(rest, 4).tolist()),
        load_a=load_a,
        resistance_ohm=fit.total_ohm,
        resistance_std_ohm=fit.total_std_ohm,
        quick_ohm=fit.quick_ohm,
        quick_std_ohm=fit.quick_std_ohm,
        line_std_v=fit.line_std_v,
        temperature_c=20.0 if warm is None else warm,
        temperature_std_c=8.0 if warm is None else 1.0 if measured else 3.0,
        start_ah=0.0 if start_charge is not None and start_charge >= 1.0 else None,
    )


def voltage_at(curve: DischargeCurve, power_w: float, temperature_c: float) -> Array:
    """Voltage [V] (n,) of the curve at a steady power [W] and pack temperature [°C].

    The rest voltage behind the resistance at that temperature (Arrhenius): V = (E + √(E² − 4PR))/2.

    >>> curve = DischargeCurve((0.0, 1.0), (50.0, 48.0), 5.0, 0.1, 0.01, 0.08, 0.01, 0.02, 25.0, 1.0, 0.0)
    >>> voltage_at(curve, 490.0, 25.0).round(2).tolist()
    [49.0, 46.96]
    """
    rest = np.array(curve.rest_v)
    ohms = np.full(len(rest), curve.resistance_ohm * _warmth(curve.temperature_c, temperature_c))
    return constant_power_voltage(rest, ohms, np.full(len(rest), power_w))


def voltage_std_at(curve: DischargeCurve, power_w: float, temperature_c: float) -> float:
    """Standard uncertainty [V] of `voltage_at` that shifts the whole curve alike."""
    ohms = curve.resistance_ohm * _warmth(curve.temperature_c, temperature_c)
    middle_v = np.array(np.mean(curve.rest_v))
    at_power = power_w / float(constant_power_voltage(middle_v, np.array(ohms), np.array(power_w)))
    beyond = at_power * ohms / curve.resistance_ohm - curve.load_a
    cold = 1000.0 / (temperature_c + ZERO_C_K) - 1000.0 / (curve.temperature_c + ZERO_C_K)
    activation = at_power * ohms * abs(cold) * ACTIVATION_STD_KK
    guessed = 1000.0 * curve.temperature_std_c / (curve.temperature_c + ZERO_C_K) ** 2
    own = (
        curve.line_std_v,
        beyond * curve.resistance_std_ohm,
        activation,
        at_power * ohms * ACTIVATION_KK * guessed,
    )
    return math.hypot(*own)


def _warmth(from_c: float, to_c: float) -> float:
    return math.exp(ACTIVATION_KK * 1000.0 * (1.0 / (to_c + ZERO_C_K) - 1.0 / (from_c + ZERO_C_K)))


def _pair_parts(time_s: Array, current_a: Array) -> list[Array]:
    """What a resistor-capacitor pair of 1 ohm would show [V] at each reading, for each time constant."""
    step = max(float(np.median(np.diff(time_s))), float(time_s[-1] - time_s[0]) / 20000, 0.2)
    grid = np.arange(time_s[0], time_s[-1] + step, step)
    even = np.interp(grid, time_s, current_a)
    return [np.interp(time_s, grid, pair_voltage(even, step, tau)) for tau in SETTLE_S]


def _basis(drawn_ah: Array) -> tuple[Array, Array]:
    """Cubic B-splines over the charge drawn: a knot about every 0.6 Ah, closer at both ends, where curves
    bend.
    """
    top, low = float(drawn_ah.max()) + 1e-9, min(float(drawn_ah.min()), 0.0) - 1e-9
    pieces = int(np.clip(round((top - low) / 0.6), 2, 14))
    even = np.linspace(low, top, pieces + 1)[1:-1]
    ends = np.concatenate([low + np.array(END_KNOTS_AH), top - np.array(END_KNOTS_AH)])
    ends = ends[(ends > low) & (ends < top) & (np.abs(ends - (low + top) / 2) > 0.05 * (top - low))]
    inner = np.unique(np.concatenate([even[(even > low + 0.45) & (even < top - 0.45)], ends]))
    knots = np.concatenate([[low] * 4, inner, [top] * 4])
    return BSpline.design_matrix(drawn_ah, knots, 3).toarray(), knots


@dataclass(frozen=True)
class _Fit:
    spline: Array
    quick_ohm: float
    quick_std_ohm: float
    total_ohm: float
    total_std_ohm: float
    line_std_v: float


def _least_squares(basis: Array, knots: Array, drives: Array, voltage_v: Array) -> _Fit:
    """Least squares for spline and resistances, the slow resistances held loosely to the quick one.

    Residuals of neighbouring readings are alike; the count of readings is taken down by their first-order
    correlation, (1 − r)/(1 + r) (Bartlett 1946, Suppl. J. Royal Stat. Soc. 8, 27).
    """
    design = np.column_stack([basis, -drives])
    p, k = design.shape[1], basis.shape[1]
    noise, shrink, solution, covariance = 0.05, 1.0, np.zeros(p), np.eye(p)
    quick = _first_look(drives[:, 0], voltage_v)
    bend = np.zeros((k - 2, p))
    bend[:, :k] = _slope_changes(knots, k) / BEND_STD_V_AH
    for _ in range(4):
        weight = shrink / noise**2
        hold = np.zeros((2, p))
        target = np.zeros(2)
        for row, (share, share_std) in enumerate(zip(PAIR_SHARE, PAIR_SHARE_STD, strict=True)):
            hold[row, k], hold[row, k + 1 + row] = -share, 1.0
            hold[row] /= share_std * quick
        information = weight * design.T @ design + hold.T @ hold + bend.T @ bend + 1e-9 * np.eye(p)
        covariance = np.linalg.inv(information)
        solution = covariance @ (weight * design.T @ voltage_v + hold.T @ target)
        residual = voltage_v - design @ solution
        noise = max(float(np.std(residual)), 1e-4)
        alike = (
            float(np.clip(np.corrcoef(residual[:-1], residual[1:])[0, 1], 0.0, 0.995))
            if len(residual) > 8
            else 0.0
        )
        shrink = (1 - alike) / (1 + alike)
        quick = max(float(solution[k]), 1e-4)
    total = np.zeros(p)
    total[k:] = 1.0
    mean_row = np.concatenate([basis.mean(axis=0), -drives.mean(axis=0)])
    floor = 0.03 * float(solution[k:].sum())
    return _Fit(
        spline=np.asarray(solution[:k]),
        quick_ohm=quick,
        quick_std_ohm=math.hypot(math.sqrt(covariance[k, k]), 0.01 * quick),
        total_ohm=max(float(total @ solution), 1e-4),
        total_std_ohm=math.hypot(math.sqrt(float(total @ covariance @ total)), floor),
        line_std_v=math.hypot(math.sqrt(max(float(mean_row @ covariance @ mean_row), 0.0)), 0.3 * noise),
    )


def _slope_changes(knots: Array, k: int) -> Array:
    """(k - 2, k) changes of slope between the control points of a cubic spline, which stand at its
    Greville places.
    """
    place = (knots[1 : k + 1] + knots[2 : k + 2] + knots[3 : k + 3]) / 3
    slope = np.diff(np.eye(k), axis=0) / np.diff(place)[:, None]
    return np.diff(slope, axis=0)


def _first_look(current_a: Array, voltage_v: Array) -> float:
    """Ohms from neighbouring readings: volts lost per amp from one to the next."""
    step_a, step_v = np.diff(current_a), np.diff(voltage_v)
    moved = float(step_a @ step_a)
    return max(-float(step_a @ step_v) / moved, 1e-3) if moved > 0 else 0.05


__all__ = ["DischargeCurve", "discharge_curve", "voltage_at", "voltage_std_at"]
