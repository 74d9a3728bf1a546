"""The charge of a pack along a log, with its band."""

from __future__ import annotations

import numpy as np
import pandas as pd

from estimator.amounts import check_kind
from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.joint_fit import MOST_GAIN, fit_log
from estimator.fitting.pack.log_grid import trace_of
from estimator.fitting.pack.log_model import START, ZERO_A, charge_along
from estimator.fitting.pack.pack_fit import drifted, posterior
from estimator.fitting.pack.start_charge import start_of
from estimator.importer.log import Log
from estimator.mow import day_of

EMPTY_STD, EMPTY_SEEN_STD = 0.012, 0.006
"""Where usable charge ends is itself uncertain: worked out from a published curve, or seen in a discharge
that was slow but not infinitely so (common practice)."""

_SIDE = 1.6448536269514722  # standard normal quantile of 0.95


def charge_curve(
    log: Log, fitted: Pack, start_charge: float | None = None, *, temperature_c: float | None = None
) -> pd.DataFrame:
    """Usable charge along a log, with its band.

    Parameters
    ----------
    log : Log, n readings
    fitted : Pack or FittedPack
    start_charge : float, 0..1, default None
        usable charge at the first reading; None works it out from the voltage
    temperature_c : float, -40..70 [°C], default None
        pack temperature where the log has none; None takes 25 °C

    Returns
    -------
    DataFrame
        (n, 4): time_s [s], charge [0..1], low and high of the 90 % band

    Raises
    ------
    InputError
        for a log without volts, a charge outside 0..1, or a temperature that no pack has

    Source: Plett 2004, J. Power Sources 134, 252-292.

    >>> steady = pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]})
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> curve = charge_curve(Log(steady, longest_step_s=900.0), pack, start_charge=1.0)
    >>> bool(curve.charge.iloc[0] > curve.charge.iloc[-1]), list(curve)
    (True, ['time_s', 'charge', 'low', 'high'])
    """
    check_kind("log", log, Log)
    known = drifted(as_fitted(fitted), day_of(log.started))
    trace = trace_of(log, temperature_c)
    found = fit_log(known, trace, start_of(known, trace, start_charge))
    after = posterior([found])
    own = charge_along(found.mean, after, trace.drawn_ah, trace.drawn_h)
    capacity = after.rated.capacity_ah * np.exp(found.mean[prior.CAPACITY])
    true_drawn = trace.drawn_ah - found.mean[ZERO_A] * trace.drawn_h
    slopes = np.stack([true_drawn / capacity, np.ones_like(own), trace.drawn_h / capacity], axis=1)
    which = [prior.CAPACITY, START, ZERO_A]
    std = (
        np.sqrt(np.einsum("ni,ij,nj->n", slopes, found.covariance[np.ix_(which, which)], slopes))
        / after.usable
    )
    charge = 1.0 - (1.0 - own) / after.usable
    end_std = EMPTY_STD if np.isinf(after.slowest_c) else EMPTY_SEEN_STD
    std = np.hypot(std, end_std * np.clip(1.0 - charge, 0.0, 1.0))
    unfitted_gain = max(trace.error.current_gain - MOST_GAIN, 0.0)
    std = np.hypot(std, unfitted_gain * np.abs(true_drawn) / (capacity * after.usable))
    return pd.DataFrame(
        {"time_s": trace.time_s, "charge": charge, "low": charge - _SIDE * std, "high": charge + _SIDE * std}
    )
