"""The fit of logs to the pack model: start charges, meter zeros and all pack parameters jointly.

Gauss-Newton on the log posterior: an iterated extended Kalman filter that takes all measurements at once
(Bell and Cathey 1993, IEEE Trans. Autom. Control 38, 294). `log_facts` then bounds the capacity.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import HALF_CELL_V
from estimator.fitting.pack.fitted_pack import FittedPack, aged, as_fitted, curve_apart
from estimator.fitting.pack.log_facts import with_facts
from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.pack.log_model import START, ZERO_A, Modelled, jacobians, model, reading_variance
from estimator.fitting.pack.log_share import (
    N_PACK,
    OWN,
    LogShare,
    end_off,
    end_row,
    misfit_of,
    prior_of_all,
    pull_of,
    share_of,
)
from estimator.fitting.pack.start_charge import Start

FAR_OFF, FAR_OFF_V = 100.0, 0.04
"""A curve this far from its family (squared Mahalanobis distance) or readings this far from the model [median
V a cell, as it errs by .1 V near empty] show another family: its own packs stay within 54 and .01 V."""

FAMILIES_TRIED, DOUBTED, SURELY = ("lfp", "lithium"), 0.15, 20.0
"""Families that a lithium pack is tried as; the share of those limits from which it is; and how much more log
evidence another family needs: an LFP pack taken for another is off by 110 and more."""

SAME_PEAK = 0.01
"""Searches that end at start charges closer than this found the same peak."""
FULL_STANDS = 8.0
"""A full start is given up only for this much more log evidence: a cold pack gives less, which looks like a
later start (by 2.3 at most on simulated cells at -10 to 10 °C)."""


@dataclass(frozen=True, eq=False)
class LogFit:
    """What one log says, together with the logs before it and the prior.

    mean, covariance : (joint,), (joint, joint) of the pack parameters, then start charge (model's own), clamp
        zero [A], voltmeter zero [V]
    charge : (n,) the model's own charge at each reading, at the mean
    pack_mean, pack_covariance : (parameters,), (parameters, parameters) of the pack, without what is peculiar
        to this log
    state, state_jacobian : (5,), (5, joint) the circuit's state at the log's end, and how it changes with the
        parameters
    surface, emf_v : (n,) surface charge and the open-circuit voltage [V] there
    residual_v : (n,) measured minus modelled voltage [V, pack]
    log_evidence : logarithm of the likelihood of the logs under the prior, up to a constant
    ended : whether the cut-off ended a log whose start is known
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
    ended: bool

    @property
    def heat_w(self) -> Array:
        """(n,) heat [W] set free in the pack: current times open-circuit voltage minus modelled voltage."""
        lacks_v = self.emf_v - (self.trace.voltage_v - self.residual_v)
        return np.asarray((self.trace.current_a - self.mean[ZERO_A]) * lacks_v)


def of_its_family(fitted: FittedPack, fit: Callable[[FittedPack], list[LogFit]]) -> list[LogFit]:
    """What `fit` finds with the pack as it is known or, where the volts plainly belong to another family,
    with a pack of that family of which nothing else is known.

    Where they belong to no family (with a mistaken count of cells, say), the farther off the curve is, the
    less the readings are trusted (Birge's ratio; Birge 1932, Phys. Rev. 40, 207).
    """
    found = fit(fitted)
    if (off := far_off(found)) <= DOUBTED or fitted.chemistry == "lead_acid":
        return found
    fits = []
    for chemistry in FAMILIES_TRIED:
        if chemistry != fitted.chemistry and fitted.cut_off_v < HALF_CELL_V[chemistry] * fitted.series:
            as_other = as_fitted(replace(fitted.rated, chemistry=chemistry))
            fits.append(fit(aged(replace(as_other, rated=fitted.rated), fitted.last_day)))
    sure = found[-1].log_evidence + SURELY
    fits = [each for each in fits if far_off(each) <= 4 * DOUBTED and each[-1].log_evidence > sure]
    if fits or off <= 1.0:
        return max(fits, key=lambda each: each[-1].log_evidence, default=found)
    unsaid = (1.0 - 1.0 / off) * (fitted.covariance - found[-1].pack_covariance)
    joint = np.pad(unsaid, (0, len(found[-1].mean) - N_PACK))
    wide = found[-1].pack_covariance + unsaid
    return [replace(one, covariance=one.covariance + joint, pack_covariance=wide) for one in found]


def far_off(found: Sequence[LogFit]) -> float:
    """How far the volts of fitted logs are from their family, in units of what is too far."""
    known, off_v = found[-1].fitted, max(float(np.median(np.abs(one.residual_v))) for one in found)
    return max(curve_apart(known, found[-1].pack_mean) / FAR_OFF, off_v / known.series / FAR_OFF_V)


def fit_log(fitted: FittedPack, trace: Trace, start: Start) -> LogFit:
    """Fit one log; `start` says where it begins.

    Where the start leaves several possibilities, each is searched from, and Laplace's method gives the chance
    of each peak found (MacKay 2003, Information Theory, Inference, and Learning Algorithms, ch. 27). The peak
    nearest to the mean start is taken, but a full start stands unless the evidence against it is strong. The
    other peaks widen the covariance by how likely and how far away they are.
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
    fitted: FittedPack, traces: Sequence[Trace], starts: Sequence[Start], weeks: Sequence[float] = ()
) -> list[LogFit]:
    """Fit several logs at once, oldest first; the pack parameters are those at the last log.

    weeks : from each log to the next (one fewer than logs)
    """
    before, information = prior_of_all(fitted, traces, starts, weeks)
    pairs = zip(traces, starts, strict=True)
    logs = [share_of(fitted, trace, start, i, len(before)) for i, (trace, start) in enumerate(pairs)]
    x, damping = before.copy(), 1e-3
    for i, start in enumerate(starts):
        x[N_PACK + OWN * i] = start.charge if start.begin is None else start.begin
    at = [model(log.pick @ x, fitted, log.trace) for log in logs]
    pulls = [pull_of(fitted, log, log.pick @ x, m) for log, m in zip(logs, at, strict=True)]

    def cost(y: Array, there: Sequence[Modelled]) -> float:
        off = y - before
        fit = sum(
            float(p @ (log.trace.voltage_v - m.voltage) ** 2)
            for p, log, m in zip(pulls, logs, there, strict=True)
        )
        fit += sum(end_off(log, m) ** 2 for log, m in zip(logs, there, strict=True))
        return float(fit + off @ information @ off)

    for turn in range(15):
        hessian, gradient = information.copy(), -information @ (x - before)
        for p, log, m in zip(pulls, logs, at, strict=True):
            jacobian = jacobians(log.pick @ x, fitted, log.trace, m)[0]
            pulled = jacobian * p[:, None]
            hessian += log.pick.T @ (jacobian.T @ pulled) @ log.pick
            gradient += log.pick.T @ (pulled.T @ (log.trace.voltage_v - m.voltage))
            row = end_row(fitted, log, x, m)
            hessian += np.outer(row, row)
            gradient -= row * end_off(log, m)
        now = cost(x, at)
        for _ in range(8):
            move = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), gradient)
            tried = x + np.clip(move, -1.0, 1.0)
            there = [model(log.pick @ tried, fitted, log.trace) for log in logs]
            new = cost(tried, there)
            if new <= now:
                damping /= 5
                break
            damping *= 8
        else:
            break
        x, at = tried, there
        pulls = [pull_of(fitted, log, log.pick @ x, m) for log, m in zip(logs, at, strict=True)]
        if turn > 3 and now - new < 1e-3 * (1 + now):
            break
    return _results(fitted, logs, x, at, pulls, information, before)


def _results(
    fitted: FittedPack,
    logs: Sequence[LogShare],
    x: Array,
    at: Sequence[Modelled],
    pulls: Sequence[Array],
    information: Array,
    before: Array,
) -> list[LogFit]:
    total = information.copy()
    for p, log, m in zip(pulls, logs, at, strict=True):
        jacobian = jacobians(log.pick @ x, fitted, log.trace, m)[0]
        row = end_row(fitted, log, x, m)
        total += log.pick.T @ (jacobian.T @ (jacobian * p[:, None])) @ log.pick + np.outer(row, row)
    covariance = np.linalg.inv(total)
    covariance = (covariance + covariance.T) / 2
    off = x - before
    evidence = -off @ information @ off + np.linalg.slogdet(information)[1] - np.linalg.slogdet(total)[1]
    for p, log, m in zip(pulls, logs, at, strict=True):
        variance = reading_variance(log.pick @ x, fitted, log.trace, m)
        evidence -= p @ (log.trace.voltage_v - m.voltage) ** 2 + end_off(log, m) ** 2
        evidence -= log.independent * np.log(misfit_of(log, m, variance))
    uncertain = np.asarray(np.linalg.inv(information))
    x, covariance, ended = with_facts(fitted, logs, x, covariance, at, uncertain, before)
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
            pack_mean=x[:N_PACK],
            pack_covariance=covariance[:N_PACK, :N_PACK],
            log_evidence=float(evidence / 2),
            ended=stopped,
        )
        for log, m, state, stopped in zip(logs, at, states, ended, strict=True)
    ]
