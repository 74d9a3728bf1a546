"""Logs against the pack model: start charges, meter zeros and all pack parameters jointly.

Regularised least squares: Gauss-Newton on the log posterior, which is what an iterated extended Kalman
filter does with its measurements taken at once (Bell and Cathey 1993, IEEE Trans. Autom. Control 38, 294,
doi 10.1109/9.250476).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.pack import prior
from estimator.fitting.pack.capacity_evidence import Believed, Shown, believed, left_behind
from estimator.fitting.pack.fitted_pack import (
    MOST_LEFT,
    FittedPack,
    charge_at_cut_off,
    open_circuit_table,
    usable_slopes,
)
from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP
from estimator.fitting.pack.log_model import (
    N_JOINT,
    START,
    ZERO_A,
    ZERO_V,
    Modelled,
    jacobians,
    model,
    reading_variance,
)
from estimator.fitting.pack.start_charge import End, Start

Array = NDArray[np.float64]

# How far a pack moves in a week, or from one log to the next where their days are unknown (one sigma of a
# random walk; common practice: some tenths of a per cent of capacity and a few per cent of resistance).
CAPACITY_WALK, RESISTANCE_WALK = 0.005, 0.03
CAPACITY_SCATTER = 0.010
"""Capacity that a log shows differs by this from the pack's at the time: warmth, rest and charging differ."""

CURVE_SCATTER_V, FLAT_SCATTER_V, CURVE_SCATTER_AT = 0.004, 0.008, np.array([0.0, 0.15, 0.4, 0.7, 1.0])
"""By so much [V per cell] the open-circuit curve that a log shows differs from the pack's, alike around each
of these charges: warmth, rest, hysteresis (more of it in LFP), and what the circuit leaves out (common
practice). Readings of one log are no evidence against each other's common error."""

ZERO_SHARED, ZERO_ANEW = 0.95, 0.31
"""Shares of a meter's zero error that stay from log to log and that come anew each time (common practice).
The voltmeter's lasting share goes into the open-circuit curve."""

SAME_PEAK = 0.01
"""Searches that end at start charges closer than this found the same peak."""

GAIN_ANEW = 0.7
"""Share of a clamp's gain error that comes anew with each log: how the cable lies in the jaws, how warm the
meter is, which meter it is (common practice). The lasting share goes into the capacity."""

MOST_GAIN = 0.03
"""Readings that may be off by more, as those made from hand notes, shall not move a log's capacity by it."""

LATE, MOST_MISSED = 0.95, 0.04
"""A log ended at the cut-off where, over the last twentieth of what it drew, a loaded voltage lies so near to it
that by the curve's slope there no more than 4 % of the charge lay between: readings miss the dip itself."""

FULL_STANDS = 8.0
"""A full start is given up only against so much more log evidence: a cold pack gives less than rated, which
no circuit follows well and which looks like a later start (by 2.3 at most on simulated cells at -10 to
10 °C)."""

_P = prior.N_PARAMETERS
# of each log: start charge, own part of clamp zero, voltmeter zero, capacity and resistance then, own curve
_OWN = 5 + len(CURVE_SCATTER_AT)
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
    surface, emf_v : (n,) surface charge and the open-circuit voltage [V] there
    residual_v : (n,) measured minus modelled voltage [V, pack]
    log_evidence : logarithm of how likely the logs are under the prior, up to a constant of the logs
    """

    fitted: FittedPack
    trace: Trace
    mean: Array
    covariance: Array
    charge: Array
    surface: Array
    emf_v: Array
    state: Array
    state_jacobian: Array
    residual_v: Array
    pack_mean: Array
    pack_covariance: Array
    log_evidence: float


@dataclass(frozen=True, eq=False)
class _One:
    """One log's share of the problem: rows of the selection matrix and weights."""

    trace: Trace
    pick: Array  # (joint, all) maps the whole vector to this log's joint vector
    weight: Array
    independent: float  # how many readings the log counts as
    end: End | None


def fit_log(fitted: FittedPack, trace: Trace, start: Start) -> LogFit:
    """Fit one log; `start` says where it begins.

    Where the start leaves several possibilities each is searched from, and each peak found is as likely as
    Laplace's method says (MacKay 2003, Information Theory, Inference, and Learning Algorithms, ch. 27). The
    peak nearest to the mean start is taken, but a full start stands unless the evidence against it is strong.
    The others widen the covariance by how likely and how far they are.
    """
    tries = start.tries or (start,)
    found = [fit_logs(fitted, [trace], [one])[-1] for one in tries]
    odds = np.array([fit.log_evidence + np.log(one.share) for fit, one in zip(found, tries, strict=True)])
    starts = np.array([fit.mean[START] for fit in found])
    again = np.tril(np.abs(starts[:, None] - starts[None, :]) < SAME_PEAK, -1).any(axis=1)
    shares = np.where(again, 0.0, np.exp(odds - odds.max()))
    shares /= shares.sum()
    off = np.abs(starts - shares @ starts)
    best = found[int(np.argmin(np.where(again, np.inf, off)))]
    if start.full and odds[0] > odds.max() - FULL_STANDS:
        best = found[0]
    apart = np.stack([fit.mean - best.mean for fit in found])
    pack_apart = np.stack([fit.pack_mean - best.pack_mean for fit in found])
    return replace(
        best,
        covariance=best.covariance + (apart.T * shares) @ apart,
        pack_covariance=best.pack_covariance + (pack_apart.T * shares) @ pack_apart,
    )


def fit_logs(
    fitted: FittedPack,
    traces: Sequence[Trace],
    starts: Sequence[Start],
    weeks: Sequence[float] | None = None,
    rounds: int = 15,
) -> list[LogFit]:
    """Fit several logs at once, oldest first; the pack parameters are those at the last one.

    weeks : from each log to the next (one fewer than logs); None for one each
    """
    before, information = _prior(fitted, traces, starts, weeks)
    pairs = zip(traces, starts, strict=True)
    logs = [_share(fitted, trace, start, i, len(before)) for i, (trace, start) in enumerate(pairs)]
    x, damping = before.copy(), 1e-3
    for i, start in enumerate(starts):
        x[_P + _OWN * i] = start.charge if start.begin is None else start.begin
    at = [model(log.pick @ x, fitted, log.trace) for log in logs]
    pulls = [_pull(fitted, log, log.pick @ x, m) for log, m in zip(logs, at, strict=True)]

    def cost(y: Array, there: Sequence[Modelled]) -> float:
        off = y - before
        fit = sum(
            float(p @ (log.trace.voltage_v - m.voltage) ** 2)
            for p, log, m in zip(pulls, logs, there, strict=True)
        )
        fit += sum(_end_off(log, m) ** 2 for log, m in zip(logs, there, strict=True))
        return float(fit + off @ information @ off)

    for turn in range(rounds):
        hessian, gradient = information.copy(), -information @ (x - before)
        for p, log, m in zip(pulls, logs, at, strict=True):
            jacobian = jacobians(log.pick @ x, fitted, log.trace, m)[0]
            pulled = jacobian * p[:, None]
            hessian += log.pick.T @ (jacobian.T @ pulled) @ log.pick
            gradient += log.pick.T @ (pulled.T @ (log.trace.voltage_v - m.voltage))
            row = _end_row(fitted, log, x, m)
            hessian += np.outer(row, row)
            gradient -= row * _end_off(log, m)
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
    return _results(fitted, logs, x, at, pulls, information, before)


def _prior(
    fitted: FittedPack, traces: Sequence[Trace], starts: Sequence[Start], weeks: Sequence[float] | None
) -> tuple[Array, Array]:
    n = len(traces)
    mean = np.zeros(_P + _OWN * n)
    cov = np.zeros((len(mean), len(mean)))
    mean[:_P], cov[:_P, :_P] = fitted.mean, fitted.covariance
    apart = np.ones(n - 1) if weeks is None else np.asarray(weeks, float)
    since = np.append(np.cumsum(apart[::-1])[::-1], 0.0)  # weeks from each log to the last
    shared = np.minimum(since[:, None], since[None, :]) + 1e-6 * np.eye(n)
    for i, (trace, start) in enumerate(zip(traces, starts, strict=True)):
        own = _P + _OWN * i
        mean[own] = start.charge
        spread = (start.std, ZERO_ANEW, ZERO_ANEW * max(trace.error.voltage_zero_v, 1e-3))
        cov[range(own, own + 3), range(own, own + 3)] = np.square(spread)
    capacity_then = _P + _OWN * np.arange(n) + 3
    gains = np.array([GAIN_ANEW * min(trace.error.current_gain, MOST_GAIN) for trace in traces])
    scatter = CAPACITY_SCATTER**2 + gains**2  # a clamp that reads high shows more capacity
    cov[np.ix_(capacity_then, capacity_then)] = CAPACITY_WALK**2 * shared + np.diag(scatter)
    cov[np.ix_(capacity_then + 1, capacity_then + 1)] = RESISTANCE_WALK**2 * shared
    own_curve = (capacity_then[:, None] + 2 + np.arange(len(CURVE_SCATTER_AT))).ravel()
    cov[own_curve, own_curve] = (FLAT_SCATTER_V if fitted.chemistry == "lfp" else CURVE_SCATTER_V) ** 2
    return np.asarray(mean), np.asarray(np.linalg.inv(cov), np.float64)


def _share(fitted: FittedPack, trace: Trace, start: Start, i: int, size: int) -> _One:
    pick = np.zeros((N_JOINT, size))
    pick[range(_P), range(_P)] = 1.0
    own = _P + _OWN * i
    pick[START, own] = pick[ZERO_V, own + 2] = 1.0
    pick[ZERO_A, [prior.METER_ZERO, own + 1]] = max(trace.error.current_zero_a, 1e-4) * np.array(
        [ZERO_SHARED, 1.0]
    )
    pick[prior.CAPACITY, own + 3] = 1.0
    pick[_RESISTIVE, own + 4] = 1.0
    pick[prior.CURVE, own + 5 : own + _OWN] = _own_curve_basis()
    # readings near the cut-off decide when the motor stops: they weigh up to five times as much
    above = np.maximum(trace.voltage_v / fitted.cut_off_v - 1.0, 0.0)
    # neighbouring readings err alike: a log counts as so many independent readings (common practice)
    own_ah = fitted.rated.capacity_ah * float(np.exp(fitted.mean[prior.CAPACITY]))
    independent = 10.0 + start.readings_of_all * float(np.ptp(trace.drawn_ah)) / own_ah
    independent = min(independent, float(len(trace.time_s)))
    return _One(trace, pick, trace.weight * (1.0 + 4.0 * np.exp(-above / 0.08)), independent, start.end)


def _own_curve_basis() -> Array:
    """(curve, own) hats over charge, at the middles of the curve's splines."""
    hats = np.eye(len(CURVE_SCATTER_AT))
    return np.stack([np.interp(prior.CURVE_AT, CURVE_SCATTER_AT, hat) for hat in hats], axis=1)


def _pull(fitted: FittedPack, log: _One, joint: Array, at: Modelled) -> Array:
    """(n,) weight [1/V²] of each squared residual."""
    variance = reading_variance(joint, fitted, log.trace, at)
    return np.asarray(log.weight * log.independent / (variance * _misfit(log, at, variance)))


def _misfit(log: _One, at: Modelled, variance: Array) -> float:
    """How many times the stated variance the readings scatter by; no less than once."""
    return max(1.0, float(log.trace.weight @ ((log.trace.voltage_v - at.voltage) ** 2 / variance)))


def _end_off(log: _One, at: Modelled) -> float:
    """By how many standard uncertainties the charge at the cut-off is off."""
    return 0.0 if log.end is None else float(at.charge[log.end.reading] - log.end.charge) / log.end.std


def _end_row(fitted: FittedPack, log: _One, x: Array, at: Modelled) -> Array:
    """(all,) how `_end_off` moves with the whole vector."""
    row = np.zeros(N_JOINT)
    if log.end is not None:
        joint, i = log.pick @ x, log.end.reading
        row[START] = 1.0
        row[prior.CAPACITY] = joint[START] - at.charge[i]
        row[ZERO_A] = log.trace.drawn_h[i] / (fitted.rated.capacity_ah * np.exp(joint[prior.CAPACITY]))
        row /= log.end.std
    return np.asarray(row @ log.pick)


def _results(
    fitted: FittedPack,
    logs: Sequence[_One],
    x: Array,
    at: Sequence[Modelled],
    pulls: Sequence[Array],
    information: Array,
    before: Array,
) -> list[LogFit]:
    total = information.copy()
    for p, log, m in zip(pulls, logs, at, strict=True):
        jacobian = jacobians(log.pick @ x, fitted, log.trace, m)[0]
        row = _end_row(fitted, log, x, m)
        total += log.pick.T @ (jacobian.T @ (jacobian * p[:, None])) @ log.pick + np.outer(row, row)
    covariance = np.linalg.inv(total)
    covariance = (covariance + covariance.T) / 2
    off = x - before
    evidence = -off @ information @ off + np.linalg.slogdet(information)[1] - np.linalg.slogdet(total)[1]
    for p, log, m in zip(pulls, logs, at, strict=True):
        variance = reading_variance(log.pick @ x, fitted, log.trace, m)
        evidence -= p @ (log.trace.voltage_v - m.voltage) ** 2 + _end_off(log, m) ** 2
        evidence -= log.independent * np.log(_misfit(log, m, variance))
    x, covariance = _with_facts(fitted, logs, x, covariance, at, np.linalg.inv(information), before)
    at = [model(log.pick @ x, fitted, log.trace) for log in logs]
    states = [jacobians(log.pick @ x, fitted, log.trace, m)[1] for log, m in zip(logs, at, strict=True)]
    return [
        LogFit(
            fitted=fitted,
            trace=log.trace,
            mean=log.pick @ x,
            covariance=log.pick @ covariance @ log.pick.T,
            charge=m.charge,
            surface=m.surface,
            emf_v=m.emf_v,
            state=m.state,
            state_jacobian=state,
            residual_v=log.trace.voltage_v - m.voltage,
            pack_mean=x[:_P],
            pack_covariance=covariance[:_P, :_P],
            log_evidence=float(evidence / 2),
        )
        for log, m, state in zip(logs, at, states, strict=True)
    ]


def _with_facts(
    fitted: FittedPack,
    logs: Sequence[_One],
    x: Array,
    covariance: Array,
    at: Sequence[Modelled],
    uncertain: Array,
    before: Array,
) -> tuple[Array, Array]:
    """The whole vector and its covariance with the capacity that the facts allow.

    All else keeps what it was found to be for each capacity (Jeffrey's rule: Jeffrey 1965, The Logic of Decision,
    ch. 11).
    """
    slopes = np.zeros(len(x))
    slopes[:_P] = usable_slopes(fitted, before[:_P])
    was = Believed(_usable(fitted, before), float(np.sqrt(slopes @ uncertain @ slopes)))
    slopes[:_P] = usable_slopes(fitted, x[:_P])
    along = covariance @ slopes
    variance = float(slopes @ along)
    fit = Believed(_usable(fitted, x), float(np.sqrt(variance)))
    shown = []
    for i, (log, m) in enumerate(zip(logs, at, strict=True)):
        own = _P + _OWN * i
        shown.append(_shown(fitted, log, log.pick @ x, m, covariance[own, own], uncertain[own + 3, own + 3]))
    now = believed(was, fit, shown)
    x = x + along / variance * (now.mean - fit.mean)
    x[prior.CAPACITY] += now.mean - _usable(fitted, x)  # what the linear rule misses
    slopes[:_P] = usable_slopes(fitted, x[:_P])
    along = covariance @ slopes
    variance = float(slopes @ along)
    return x, covariance + np.outer(along, along) * ((now.std**2 - variance) / variance**2)


def _usable(fitted: FittedPack, x: Array) -> float:
    """Log of the capacity down to the cut-off over the rated one."""
    return float(x[prior.CAPACITY] + np.log(1.0 - charge_at_cut_off(fitted, x[:_P])))


def _shown(
    fitted: FittedPack, log: _One, joint: Array, at: Modelled, start_var: float, own_var: float
) -> Shown:
    trace = log.trace
    drawn_ah = trace.drawn_ah - joint[ZERO_A] * trace.drawn_h
    late = (drawn_ah >= LATE * drawn_ah[-1]) & (trace.current_a > 0)
    last = int(np.argmin(np.where(late, trace.voltage_v, np.inf)))
    slope = np.interp(at.surface[last], GRID, np.gradient(open_circuit_table(fitted, joint), GRID_STEP))
    above_v = max(float(trace.voltage_v[last]) - fitted.cut_off_v, 0.0) / fitted.series
    missed = above_v / max(float(slope), 0.1)
    ended = bool(late[last]) and missed <= MOST_MISSED and at.charge[last] < MOST_LEFT
    most = last if ended else int(np.argmax(drawn_ah))
    start = float(joint[START])
    drawn = max(float(drawn_ah[most]), 1e-6) / max(start, 0.05)
    zero = trace.error.current_zero_a * trace.drawn_h[most] / max(float(drawn_ah[most]), 1e-6)
    gone, gone_std = 0.0, 0.0
    if ended:
        rate_c = float(trace.rates_a[0, last]) / drawn
        factor = float(prior.arrhenius(trace.temperature_c[last], joint[prior.ACTIVATION_OHM]))
        gone, gone_std = left_behind(rate_c, factor)
        gone += missed
        gone_std = float(np.hypot(gone_std, missed))
    return Shown(
        deepest=float(at.charge[most]),
        drawn=float(np.log(drawn / fitted.rated.capacity_ah)),
        drawn_std=float(np.sqrt(start_var / max(start, 0.05) ** 2 + zero**2 + own_var)),
        ended=ended,
        left=gone,
        left_std=gone_std,
    )
