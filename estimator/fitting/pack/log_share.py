"""One log's share in the joint fit: the prior of its own parameters, and how much its readings weigh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.pack.log_model import N_JOINT, START, ZERO_A, ZERO_V, Modelled, reading_variance
from estimator.fitting.pack.start_charge import End, Start

# How far a pack drifts in a week, or from one log to the next where their days are unknown (one sigma of a
# random walk; common practice: some tenths of a per cent of capacity and a few per cent of resistance).
CAPACITY_WALK, RESISTANCE_WALK = 0.005, 0.03
CAPACITY_SCATTER = 0.010
"""The capacity that a log shows differs by this from the pack's at the time, since warmth, rest and charging
differ (common practice)."""

CURVE_SCATTER_V, FLAT_SCATTER_V, CURVE_SCATTER_AT = 0.004, 0.008, np.array([0.0, 0.15, 0.4, 0.7, 1.0])
"""How much [V per cell] the open-circuit curve that a log shows differs from the pack's, the same around each
of these charges: from warmth, rest, hysteresis (more in LFP) and what the circuit leaves out (common
practice). The readings of one log cannot show an error that they share."""

ZERO_SHARED, ZERO_ANEW = 0.95, 0.31
"""Shares of a meter's zero error that stay from log to log, and that are new each time (common practice). The
voltmeter's lasting share goes into the open-circuit curve."""

GAIN_ANEW = 0.7
"""Share of a clamp's gain error that is new in each log: how the cable lies in the jaws, how warm the meter
is, which meter it is (common practice). The lasting share goes into the capacity."""

MOST_GAIN = 0.03
"""The largest gain error that may move a log's own capacity; readings made from hand notes have more."""

LEAST_WEEKS, MOST_WEEKS = 0.2, 40.0
"""Even two logs of one day differ somewhat; a year in the shed changes a pack less than a year at work
(common practice)."""

N_PACK = prior.N_PARAMETERS
# of each log: start charge, own part of clamp zero, voltmeter zero, capacity and resistance then, own curve
OWN = 5 + len(CURVE_SCATTER_AT)
_RESISTIVE = np.r_[prior.OHMIC, prior.QUICK, prior.LAG]


def unfitted_gain(trace: Trace) -> float:
    """The part of a log's gain error beyond what may move its capacity: its charge used is doubted by it."""
    return max(trace.error.current_gain - MOST_GAIN, 0.0)


@dataclass(frozen=True, eq=False)
class LogShare:
    """One log's share of the problem: rows of the selection matrix and weights."""

    trace: Trace
    pick: Array  # (joint, all) maps the whole vector to this log's joint vector
    weight: Array
    independent: float  # how many readings the log counts as
    end: End | None


def weeks_between(before: date | None, now: date | None) -> float:
    """Weeks for which a pack drifts between two logs; 1 where a day is unknown or they are out of order.

    >>> weeks_between(date(2025, 10, 4), date(2026, 4, 4)), weeks_between(None, date(2026, 4, 4))
    (26.0, 1.0)
    """
    if before is None or now is None or now < before:
        return 1.0
    return float(np.clip((now - before).days / 7, LEAST_WEEKS, MOST_WEEKS))


def prior_of_all(
    fitted: FittedPack, traces: Sequence[Trace], starts: Sequence[Start], weeks: Sequence[float]
) -> tuple[Array, Array]:
    n = len(traces)
    mean = np.zeros(N_PACK + OWN * n)
    cov = np.zeros((len(mean), len(mean)))
    mean[:N_PACK], cov[:N_PACK, :N_PACK] = fitted.mean, fitted.covariance
    since = np.append(np.cumsum(weeks[::-1])[::-1], 0.0)  # weeks from each log to the last
    shared = np.minimum(since[:, None], since[None, :]) + 1e-6 * np.eye(n)
    for i, (trace, start) in enumerate(zip(traces, starts, strict=True)):
        own = N_PACK + OWN * i
        mean[own] = start.charge
        spread = (start.std, ZERO_ANEW, ZERO_ANEW * max(trace.error.voltage_zero_v, 1e-3))
        cov[range(own, own + 3), range(own, own + 3)] = np.square(spread)
    capacity_then = N_PACK + OWN * np.arange(n) + 3
    gains = np.array([GAIN_ANEW * min(trace.error.current_gain, MOST_GAIN) for trace in traces])
    scatter = CAPACITY_SCATTER**2 + gains**2  # a clamp that reads high shows more capacity
    cov[np.ix_(capacity_then, capacity_then)] = CAPACITY_WALK**2 * shared + np.diag(scatter)
    cov[np.ix_(capacity_then + 1, capacity_then + 1)] = RESISTANCE_WALK**2 * shared
    own_curve = (capacity_then[:, None] + 2 + np.arange(len(CURVE_SCATTER_AT))).ravel()
    cov[own_curve, own_curve] = (FLAT_SCATTER_V if fitted.chemistry == "lfp" else CURVE_SCATTER_V) ** 2
    return np.asarray(mean), np.asarray(np.linalg.inv(cov), np.float64)


def share_of(fitted: FittedPack, trace: Trace, start: Start, i: int, size: int) -> LogShare:
    pick = np.zeros((N_JOINT, size))
    pick[range(N_PACK), range(N_PACK)] = 1.0
    own = N_PACK + OWN * i
    pick[START, own] = pick[ZERO_V, own + 2] = 1.0
    pick[ZERO_A, [prior.METER_ZERO, own + 1]] = max(trace.error.current_zero_a, 1e-4) * np.array(
        [ZERO_SHARED, 1.0]
    )
    pick[prior.CAPACITY, own + 3] = 1.0
    pick[_RESISTIVE, own + 4] = 1.0
    hats = np.eye(len(CURVE_SCATTER_AT))  # over charge, at the middles of the curve's splines
    pick[prior.CURVE, own + 5 : own + OWN] = np.stack(
        [np.interp(prior.CURVE_AT, CURVE_SCATTER_AT, hat) for hat in hats], axis=1
    )
    # readings near the cut-off decide when the motor stops, so they weigh up to five times as much
    above = np.maximum(trace.voltage_v / fitted.cut_off_v - 1.0, 0.0)
    # neighbouring readings err alike, so a log counts as fewer independent readings (common practice)
    independent = 10.0 + start.readings_of_all * float(np.ptp(trace.drawn_ah)) / fitted.own_ah
    independent = min(independent, float(len(trace.time_s)))
    return LogShare(trace, pick, trace.weight * (1.0 + 4.0 * np.exp(-above / 0.08)), independent, start.end)


def pull_of(fitted: FittedPack, log: LogShare, joint: Array, at: Modelled) -> Array:
    """(n,) weight [1/V²] of the squared residual of each reading."""
    variance = reading_variance(joint, fitted, log.trace, at)
    return np.asarray(log.weight * log.independent / (variance * misfit_of(log, at, variance)))


def misfit_of(log: LogShare, at: Modelled, variance: Array) -> float:
    """Scatter of the readings over their stated variance, at least 1."""
    return max(1.0, float(log.trace.weight @ ((log.trace.voltage_v - at.voltage) ** 2 / variance)))


def end_off(log: LogShare, at: Modelled) -> float:
    """How many standard uncertainties the charge at the cut-off is off."""
    return 0.0 if log.end is None else float(at.charge[log.end.reading] - log.end.charge) / log.end.std


def end_row(fitted: FittedPack, log: LogShare, x: Array, at: Modelled) -> Array:
    """(all,) how `end_off` changes with the whole vector."""
    row = np.zeros(N_JOINT)
    if log.end is not None:
        joint, i = log.pick @ x, log.end.reading
        row[START] = 1.0
        row[prior.CAPACITY] = joint[START] - at.charge[i]
        row[ZERO_A] = log.trace.drawn_h[i] / fitted.own_ah_at(joint)
        row /= log.end.std
    return np.asarray(row @ log.pick)
