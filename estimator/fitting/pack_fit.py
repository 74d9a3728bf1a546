"""Capacity, resistance and open-circuit curve of a pack from its logs, one log at a time at constant cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from estimator.descriptions import Pack
from estimator.fitting import pack_prior as prior
from estimator.fitting.fitted_pack import FittedPack, as_fitted, assemble
from estimator.fitting.log_fit import LogFit, fit_log
from estimator.fitting.start_charge import FULL_STD, start_prior
from estimator.fitting.trace import trace_of

if TYPE_CHECKING:
    from estimator.importer.log import Log

# How far a pack moves from one log to the next (one sigma, random walk; common practice: some tenths of a per cent
# of capacity and a few per cent of resistance a week).
CAPACITY_WALK, RESISTANCE_WALK, CURVE_WALK_V = 0.006, 0.03, 0.001


def fit_pack(
    logs: Sequence[Log],
    pack: Pack,
    start_charges: Sequence[float | None] | None = None,
    temperature_c: float | None = None,
) -> FittedPack:
    """The pack after all `logs`, oldest first; works from one partial log and from none.

    start_charges : usable charge 0..1 at each log's start, None where unknown (worked out from the voltage)
    temperature_c : pack temperature [°C] for logs that did not measure it
    """
    fitted = as_fitted(pack)
    starts = start_charges if start_charges is not None else [None] * len(logs)
    for log, start in zip(logs, starts, strict=True):
        fitted = update_fit(fitted, log, start_charge=start, temperature_c=temperature_c)
    return fitted


def update_fit(
    pack: Pack, log: Log, start_charge: float | None = None, temperature_c: float | None = None
) -> FittedPack:
    """The pack after one more log: the cost does not grow with the logs before."""
    fitted = drifted(as_fitted(pack))
    trace = trace_of(log, temperature_c)
    found = fit_log(fitted, trace, start_prior(fitted, trace, start_charge))
    return posterior(found)


def drifted(fitted: FittedPack) -> FittedPack:
    """The pack one log later, before looking at it: the same means, the random walk added to the covariance."""
    if fitted.logs == 0:
        return fitted
    cov = fitted.covariance.copy()
    cov[prior.CAPACITY, prior.CAPACITY] += CAPACITY_WALK**2
    cov[prior.RESISTANCE, prior.RESISTANCE] += RESISTANCE_WALK**2
    curve = np.arange(prior.CURVE.start, prior.CURVE.stop)
    cov[curve, curve] += CURVE_WALK_V**2
    return assemble(
        fitted.rated, fitted.mean, cov, usable=fitted.usable, slowest_c=fitted.slowest_c, logs=fitted.logs
    )


def posterior(found: LogFit) -> FittedPack:
    """The pack parameters of a fitted log, without that log's own start charge and meter zeros."""
    n, fitted = prior.N_PARAMETERS, found.fitted
    usable, slowest = _usable(found)
    return assemble(
        fitted.rated,
        found.mean[:n],
        found.covariance[:n, :n],
        usable=usable,
        slowest_c=slowest,
        logs=fitted.logs + 1,
    )


def _usable(found: LogFit) -> tuple[float, float]:
    """Usable share of the model's capacity: what the slowest discharge from full to the cut-off delivered."""
    fitted, trace = found.fitted, found.trace
    touch = np.flatnonzero(trace.voltage_v <= fitted.cut_off_v * 1.002)
    full = found.mean[prior.N_PARAMETERS] > 1.0 - 2.5 * FULL_STD
    if not full or not len(touch) or trace.drawn_h[touch[0]] <= 0:
        return fitted.usable, fitted.slowest_c
    delivered = float(1.0 - found.charge[touch[0]])
    rate = delivered / float(trace.drawn_h[touch[0]])
    if rate < 0.8 * fitted.slowest_c and delivered > 0.5:
        return delivered, rate
    return fitted.usable, fitted.slowest_c
