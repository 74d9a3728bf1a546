"""Logs against the pack model: start charges, meter zeros and all pack parameters jointly.

Regularised least squares: Gauss-Newton on the log posterior, which is what an iterated extended Kalman
filter does with its measurements taken at once (Bell and Cathey 1993, IEEE Trans. Autom. Control 38, 294,
doi 10.1109/9.250476).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.fitting import pack_prior as prior
from estimator.fitting.fitted_pack import FittedPack
from estimator.fitting.log_model import (
    N_JOINT,
    START,
    ZERO_A,
    ZERO_V,
    Modelled,
    jacobians,
    model,
    reading_variance,
)
from estimator.fitting.start_charge import Start
from estimator.fitting.trace import Trace

Array = NDArray[np.float64]

# How far a pack moves from one log to the next (one sigma of a random walk; common practice: some tenths of
# a per cent of capacity and a few per cent of resistance in a week or two).
CAPACITY_WALK, RESISTANCE_WALK = 0.005, 0.03
CAPACITY_SCATTER = 0.012
"""Capacity that a log shows differs by this from the pack's at the time: warmth, rest and charging differ."""

ZERO_SHARED, ZERO_ANEW = 0.95, 0.31
"""Shares of a meter's zero error that stay from log to log and that come anew each time (common practice).
The voltmeter's lasting share goes into the open-circuit curve."""

_P = prior.N_PARAMETERS
_OWN = 5  # of each log: start charge, own part of clamp zero, voltmeter zero, capacity and resistance then
_RESISTIVE = np.r_[prior.OHMIC, prior.QUICK, prior.LAG]


@dataclass(frozen=True, eq=False)
class LogFit:
    """What one log says together with the logs before it and the prior.

    mean, covariance : (joint,), (joint, joint) of the pack parameters, then start charge (model's own), clamp
        zero [A], voltmeter zero [V]
    charge : (n,) charge at each reading, model's own, at the mean
    pack_mean, pack_covariance : (parameters,), (parameters, parameters) of the pack, without what this
        log alone shows
    state, state_jacobian : (5,), (5, joint) the circuit's state at the log's end and how it moves with the
    parameters
    emf_v, ohm : (n,) open-circuit voltage [V] and resistance [ohm] at the surface charge
    residual_v : (n,) measured minus modelled voltage [V, pack]
    """

    fitted: FittedPack
    trace: Trace
    mean: Array
    covariance: Array
    charge: Array
    emf_v: Array
    ohm: Array
    state: Array
    state_jacobian: Array
    residual_v: Array
    pack_mean: Array
    pack_covariance: Array


@dataclass(frozen=True, eq=False)
class _One:
    """One log's share of the problem: rows of the selection matrix and weights."""

    trace: Trace
    pick: Array  # (joint, all) maps the whole vector to this log's joint vector
    weight: Array


def fit_log(fitted: FittedPack, trace: Trace, start: Start) -> LogFit:
    """Fit one log; `start` says where it begins."""
    return fit_logs(fitted, [trace], [start])[-1]


def fit_logs(
    fitted: FittedPack, traces: Sequence[Trace], starts: Sequence[Start], rounds: int = 15
) -> list[LogFit]:
    """Fit several logs at once, oldest first; the pack parameters are those at the last one."""
    before, information = _prior(fitted, traces, starts)
    logs = [_share(fitted, trace, i, len(before)) for i, trace in enumerate(traces)]
    x, damping = before.copy(), 1e-3
    at = [model(log.pick @ x, fitted, log.trace) for log in logs]
    pulls = [_pull(fitted, log, log.pick @ x, m) for log, m in zip(logs, at, strict=True)]

    def cost(y: Array, there: Sequence[Modelled]) -> float:
        off = y - before
        fit = sum(
            p @ (log.trace.voltage_v - m.voltage) ** 2 for p, log, m in zip(pulls, logs, there, strict=True)
        )
        return float(fit + off @ information @ off)

    for turn in range(rounds):
        hessian, gradient = information.copy(), -information @ (x - before)
        for p, log, m in zip(pulls, logs, at, strict=True):
            jacobian = jacobians(log.pick @ x, fitted, log.trace, m)[0]
            pulled = jacobian * p[:, None]
            hessian += log.pick.T @ (jacobian.T @ pulled) @ log.pick
            gradient += log.pick.T @ (pulled.T @ (log.trace.voltage_v - m.voltage))
        now = cost(x, at)
        for _ in range(8):
            move = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), gradient)
            tried = x + np.clip(move, -1.0, 1.0)
            there = [model(log.pick @ tried, fitted, log.trace) for log in logs]
            new = cost(tried, there)
            if new <= now:
                damping = max(damping / 5, 1e-9)
                break
            damping *= 8
        else:
            break
        x, at = tried, there
        pulls = [_pull(fitted, log, log.pick @ x, m) for log, m in zip(logs, at, strict=True)]
        if turn > 3 and now - new < 1e-3 * (1 + now):
            break
    return _results(fitted, logs, x, at, pulls, information)


def _prior(fitted: FittedPack, traces: Sequence[Trace], starts: Sequence[Start]) -> tuple[Array, Array]:
    n = len(traces)
    mean = np.zeros(_P + _OWN * n)
    cov = np.zeros((len(mean), len(mean)))
    mean[:_P], cov[:_P, :_P] = fitted.mean, fitted.covariance
    since = np.arange(n - 1, -1, -1.0)
    shared = np.minimum(since[:, None], since[None, :]) + 1e-6 * np.eye(n)
    for i, (trace, start) in enumerate(zip(traces, starts, strict=True)):
        own = _P + _OWN * i
        mean[own] = start.charge
        spread = (start.std, ZERO_ANEW, ZERO_ANEW * max(trace.error.voltage_zero_v, 1e-3))
        cov[range(own, own + 3), range(own, own + 3)] = np.square(spread)
    capacity_then = _P + _OWN * np.arange(n) + 3
    cov[np.ix_(capacity_then, capacity_then)] = CAPACITY_WALK**2 * shared + CAPACITY_SCATTER**2 * np.eye(n)
    cov[np.ix_(capacity_then + 1, capacity_then + 1)] = RESISTANCE_WALK**2 * shared
    return np.asarray(mean), np.asarray(np.linalg.inv(cov), np.float64)


def _share(fitted: FittedPack, trace: Trace, i: int, size: int) -> _One:
    pick = np.zeros((N_JOINT, size))
    pick[range(_P), range(_P)] = 1.0
    own = _P + _OWN * i
    pick[START, own] = pick[ZERO_V, own + 2] = 1.0
    pick[ZERO_A, [prior.METER_ZERO, own + 1]] = max(trace.error.current_zero_a, 1e-4) * np.array(
        [ZERO_SHARED, 1.0]
    )
    pick[prior.CAPACITY, own + 3] = 1.0
    pick[_RESISTIVE, own + 4] = 1.0
    # readings near the cut-off decide when the motor stops: they weigh up to five times as much
    above = np.maximum(trace.voltage_v / fitted.cut_off_v - 1.0, 0.0)
    return _One(trace, pick, trace.weight * (1.0 + 4.0 * np.exp(-above / 0.08)))


def _pull(fitted: FittedPack, log: _One, joint: Array, at: Modelled) -> Array:
    """(n,) weight [1/V²] of each squared residual."""
    # neighbouring readings err alike: a log counts as so many independent readings (common practice)
    effective = min(10.0 + 120.0 * abs(float(np.ptp(at.charge))), float(len(log.trace.time_s)))
    variance = reading_variance(joint, fitted, log.trace, at)
    misfit = float(log.trace.weight @ ((log.trace.voltage_v - at.voltage) ** 2 / variance))
    return np.asarray(log.weight * effective / (variance * max(1.0, misfit)))


def _results(
    fitted: FittedPack,
    logs: Sequence[_One],
    x: Array,
    at: Sequence[Modelled],
    pulls: Sequence[Array],
    information: Array,
) -> list[LogFit]:
    total = information.copy()
    states = []
    for p, log, m in zip(pulls, logs, at, strict=True):
        jacobian, state = jacobians(log.pick @ x, fitted, log.trace, m)
        total += log.pick.T @ (jacobian.T @ (jacobian * p[:, None])) @ log.pick
        states.append(state)
    covariance = np.linalg.inv(total)
    covariance = (covariance + covariance.T) / 2
    return [
        LogFit(
            fitted=fitted,
            trace=log.trace,
            mean=log.pick @ x,
            covariance=log.pick @ covariance @ log.pick.T,
            charge=m.charge,
            emf_v=m.emf_v,
            ohm=m.ohm,
            state=m.state,
            state_jacobian=state,
            residual_v=log.trace.voltage_v - m.voltage,
            pack_mean=x[:_P],
            pack_covariance=covariance[:_P, :_P],
        )
        for log, m, state in zip(logs, at, states, strict=True)
    ]
