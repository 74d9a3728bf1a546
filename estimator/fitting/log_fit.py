"""One log against the pack model: start charge, clamp zero, voltmeter zero and all pack parameters jointly.

Regularised least squares (Gauss-Newton on the log posterior, which is what an iterated extended Kalman filter does
with one log as one measurement): Bell and Cathey 1993, IEEE Trans. Autom. Control 38, 294, doi 10.1109/9.250476.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.fitting import pack_prior as prior
from estimator.fitting.circuit import pair_voltage
from estimator.fitting.fitted_pack import FittedPack, open_circuit_table, resistance_table
from estimator.fitting.ocv import GRID, GRID_LOW, GRID_STEP
from estimator.fitting.trace import Trace

Array = NDArray[np.float64]

START, ZERO_A, ZERO_V = prior.N_PARAMETERS, prior.N_PARAMETERS + 1, prior.N_PARAMETERS + 2
N_JOINT = prior.N_PARAMETERS + 3
MODEL_ERROR_V = 0.010
"""What an equivalent circuit leaves unexplained, per cell (common practice: 5 to 20 mV)."""


@dataclass(frozen=True)
class LogFit:
    """What one log says together with what was known before.

    mean, covariance : (40,), (40, 40) of the pack parameters, then start charge (model's own), clamp zero [A],
        voltmeter zero [V]
    charge : (n,) charge at each reading, model's own, at the mean
    pairs_per_ohm : (2, 7) pair voltage [V] at the log's end that each node's resistance [ohm at 25 °C] adds
    residual_v : (n,) measured minus modelled voltage [V, pack]
    """

    fitted: FittedPack
    trace: Trace
    mean: Array
    covariance: Array
    charge: Array
    pairs_per_ohm: Array
    residual_v: Array


def _look_up(charge: Array) -> tuple[NDArray[np.intp], Array]:
    place = np.clip((charge - GRID_LOW) / GRID_STEP, 0.0, len(GRID) - 1.001)
    low = place.astype(np.intp)
    return low, place - low


def _at(table: Array, charge: Array) -> Array:
    low, part = _look_up(charge)
    part = part[:, None] if table.ndim == 2 else part
    return np.asarray(table[low] * (1 - part) + table[low + 1] * part)


def charge_along(joint: Array, fitted: FittedPack, drawn_ah: Array, drawn_h: Array) -> Array:
    """The model's own charge after `drawn_ah` [Ah, as the clamp said] in `drawn_h` [h]."""
    capacity = fitted.rated.capacity_ah * np.exp(joint[prior.CAPACITY])
    return np.asarray(joint[START] - (drawn_ah - joint[ZERO_A] * drawn_h) / capacity)


def _pair_parts(joint: Array, fitted: FittedPack, trace: Trace) -> Array:
    """(2, 7, m) voltage [V] over each pair, split by the node of its resistance curve, on the trace's grid."""
    charge = charge_along(joint, fitted, trace.grid_drawn_ah, trace.grid_drawn_h)
    factor = prior.arrhenius(trace.grid_temperature_c, joint[prior.ACTIVATION])
    current = (trace.grid_current_a - joint[ZERO_A]) * factor
    hats = _at(prior.resistance_basis(), charge).T
    tables = resistance_table(fitted, joint)[1:]
    parts = []
    for tau_s, table in zip(prior.PAIR_S, tables, strict=True):
        # the curve is log-linear between nodes: the share of each node is its hat, the drive uses the curve itself
        drive = hats * (_at(table, charge) * current)
        parts.append(pair_voltage(drive, trace.step_s, tau_s))
    return np.stack(parts)


def modelled_voltage(joint: Array, fitted: FittedPack, trace: Trace) -> Array:
    """(n,) terminal voltage [V] of the pack at each reading."""
    return _model(joint, fitted, trace)[0]


def _model(joint: Array, fitted: FittedPack, trace: Trace) -> tuple[Array, Array, Array, Array]:
    charge = charge_along(joint, fitted, trace.drawn_ah, trace.drawn_h)
    factor = prior.arrhenius(trace.temperature_c, joint[prior.ACTIVATION])
    emf = fitted.series * _at(open_circuit_table(fitted, joint), charge)
    ohmic = _at(resistance_table(fitted, joint)[0], charge) * factor * (trace.current_a - joint[ZERO_A])
    parts = _pair_parts(joint, fitted, trace)
    pairs = np.interp(trace.time_s, trace.grid_s, parts.sum(axis=(0, 1)))
    return emf - ohmic - pairs + joint[ZERO_V], charge, ohmic, parts


def _jacobian(joint: Array, fitted: FittedPack, trace: Trace, at: tuple[Array, Array, Array, Array]) -> Array:
    voltage, charge, ohmic, parts = at
    out = np.empty((len(voltage), N_JOINT))
    out[:, prior.CURVE] = fitted.series * _at(prior.curve_basis(), charge)
    hats = _at(prior.resistance_basis(), charge)
    nodes = [-hats * ohmic[:, None]]
    nodes += [-np.stack([np.interp(trace.time_s, trace.grid_s, p) for p in pair], axis=1) for pair in parts]
    out[:, prior.RESISTANCE] = np.concatenate(nodes, axis=1)
    out[:, ZERO_V] = 1.0
    for i, step in ((prior.CAPACITY, 1e-4), (prior.ACTIVATION, 1e-3), (START, 1e-4), (ZERO_A, 1e-3)):
        moved = joint.copy()
        moved[i] += step
        out[:, i] = (modelled_voltage(moved, fitted, trace) - voltage) / step
    return out


def _variance(joint: Array, fitted: FittedPack, trace: Trace, charge: Array) -> Array:
    """(n,) variance [V²] of one reading about the model, before allowing for readings that err alike."""
    slope = np.gradient(open_circuit_table(fitted, joint), GRID_STEP)
    sag = np.abs(trace.current_a) * _at(resistance_table(fitted, joint)[:2].sum(axis=0), charge)
    return np.asarray(
        (fitted.series * MODEL_ERROR_V) ** 2
        + (0.04 * sag) ** 2
        + (fitted.series * 0.004 * _at(slope, charge)) ** 2
        + trace.error.voltage_noise_v**2
    )


def fit_log(fitted: FittedPack, trace: Trace, start: tuple[float, float], rounds: int = 12) -> LogFit:
    """Fit one log; `start` is the mean and standard uncertainty of the start charge, in the model's own charge."""
    before = np.concatenate([fitted.mean, [start[0], 0.0, 0.0]])
    cov = np.zeros((N_JOINT, N_JOINT))
    cov[: prior.N_PARAMETERS, : prior.N_PARAMETERS] = fitted.covariance
    error = trace.error
    cov[START, START] = start[1] ** 2
    cov[ZERO_A, ZERO_A] = max(error.current_zero_a, 1e-4) ** 2
    level_v = float(np.mean(trace.voltage_v))
    cov[ZERO_V, ZERO_V] = max(error.voltage_zero_v, 1e-3) ** 2 + (error.voltage_gain * level_v) ** 2 * 0.1
    information = np.linalg.inv(cov)

    joint, inflate = before.copy(), 1.0
    at = _model(joint, fitted, trace)
    damping = 1e-3
    effective = 10.0 + 120.0 * abs(float(np.ptp(at[1])))
    hessian = information
    variance = _variance(joint, fitted, trace, at[1])
    for turn in range(rounds):
        pull = trace.weight * min(effective, len(trace.time_s)) / (variance * inflate)
        residual = trace.voltage_v - at[0]
        jacobian = _jacobian(joint, fitted, trace, at)
        hessian = information + jacobian.T @ (jacobian * pull[:, None])
        gradient = jacobian.T @ (pull * residual) - information @ (joint - before)
        cost = float(pull @ residual**2 + (joint - before) @ information @ (joint - before))
        for _ in range(8):
            move = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), gradient)
            tried = joint + np.clip(move, -1.0, 1.0)
            there = _model(tried, fitted, trace)
            new = float(
                pull @ (trace.voltage_v - there[0]) ** 2 + (tried - before) @ information @ (tried - before)
            )
            if new <= cost:
                damping = max(damping / 5, 1e-9)
                break
            damping *= 8
        else:
            break
        joint, at = tried, there
        variance = _variance(joint, fitted, trace, at[1])
        misfit = float(np.sum(trace.weight * (trace.voltage_v - at[0]) ** 2 / variance))
        inflate = max(1.0, misfit)
        if turn > 2 and cost - new < 1e-3 * (1 + cost):
            break
    pull = trace.weight * min(effective, len(trace.time_s)) / (variance * inflate)
    jacobian = _jacobian(joint, fitted, trace, at)
    covariance = np.linalg.inv(information + jacobian.T @ (jacobian * pull[:, None]))
    ohms = np.exp(joint[prior.RESISTANCE].reshape(-1, prior.N_AT))[1:]
    return LogFit(
        fitted=fitted,
        trace=trace,
        mean=joint,
        covariance=(covariance + covariance.T) / 2,
        charge=at[1],
        pairs_per_ohm=at[3][:, :, -1] / ohms,
        residual_v=trace.voltage_v - at[0],
    )
