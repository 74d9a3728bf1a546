"""Capacity, resistance and open-circuit curve of a pack from its logs, one log at a time at constant cost."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

import numpy as np

from estimator.contradictions import MOST_COUNTED, check_log_of_pack
from estimator.descriptions import Pack
from estimator.errors import InputError, check_each, check_several
from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import FittedPack, aged, as_fitted, assemble, charge_at_cut_off
from estimator.fitting.pack.joint_fit import LogFit, fit_log, fit_logs, of_its_family
from estimator.fitting.pack.log_facts import PACE_SHARE, pace_after, stop_after, sure_down_to_stop
from estimator.fitting.pack.log_grid import Trace, trace_of
from estimator.fitting.pack.log_model import START
from estimator.fitting.pack.log_share import CAPACITY_WALK, RESISTANCE_WALK, weeks_between
from estimator.fitting.pack.start_charge import FULL_STD, Start, start_of
from estimator.fitting.warmth import learn_warming
from estimator.importer.log import Log
from estimator.mow import day_of

CURVE_WALK_V = 0.001
"""How far each cell's open-circuit curve moves in a week (common practice)."""

TOGETHER = 8
"""This many of the latest logs are fitted at once, which finds bends of the curve better than one after the
other; older logs are fitted before them, one by one."""


def fit_pack(
    logs: Sequence[Log],
    pack: Pack,
    start_charges: Sequence[float | None] | None = None,
    temperature_c: float | None = None,
) -> FittedPack:
    """The pack after all its logs; one partial log is enough, and so is none.

    Volts are modelled as E(charge) − I·R − lag − meter zero, each starting from what is usual for the label.

    Parameters
    ----------
    logs : sequence of Log, (n,)
        readings of this pack, oldest first
    pack : Pack or FittedPack
        rated values, or the pack after earlier logs
    start_charges : sequence of float or None, (n,), 0..1, default None
        usable charge at each log's start; None works it out from the voltage
    temperature_c : float, -40..70 [°C], default None
        pack temperature for logs that did not measure it; None takes 25 °C

    Returns
    -------
    FittedPack
        to use like a Pack; `capacity_ah` [Ah] is that of a slow discharge at 25 °C, with `capacity_std_ah`

    Raises
    ------
    InputError
        for a log that cannot be of the pack, a charge outside 0..1, or not one charge for each log

    Source: joint estimation after Plett 2004, J. Power Sources 134, 252-292.

    >>> import pandas as pd
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> hour = [0.0, 900, 1800, 2700, 3600]  # 8 A from full to the cut-off: 8 Ah and a little left behind
    >>> log = Log(pd.DataFrame({"time_s": hour, "current_a": 8.0, "voltage_v": [53, 50, 47, 45, 39]}))
    >>> fit_pack([], pack).capacity_ah, round(fit_pack([log], pack, [1.0]).capacity_ah, 1)
    (10.0, 8.4)
    """
    check_each("logs", logs, Log)
    fitted = as_fitted(pack)
    for log in logs:
        check_log_of_pack(log, fitted.rated, MOST_COUNTED)
    told = start_charges if start_charges is not None else [None] * len(logs)
    check_several("start charges", told, float)
    if len(told) != len(logs):
        raise InputError(f"{len(told)} start charges for {len(logs)} logs", mend="give one for each log")
    older = max(len(logs) - TOGETHER, 0)
    for log, start in zip(logs[:older], told[:older], strict=True):
        fitted = update_fit(fitted, log, start_charge=start, temperature_c=temperature_c)
    if len(logs) == older:
        return fitted
    days = [day_of(log.started) for log in logs[older:]]
    fitted = drifted(fitted, days[0])
    traces = [trace_of(log, temperature_c, fitted.cut_off_v) for log in logs[older:]]
    weeks = [weeks_between(*pair) for pair in pairwise(days)]

    def fit(known: FittedPack) -> list[LogFit]:
        starts = [settled(known, t, start_of(known, t, told[older + i])) for i, t in enumerate(traces)]
        return fit_logs(known, traces, starts, weeks)

    return posterior(of_its_family(fitted, fit), days[-1])


def settled(fitted: FittedPack, trace: Trace, start: Start) -> Start:
    """The start fixed to the likeliest of its possibilities, judged by that log alone."""
    if not start.tries:
        return start
    charge = float(fit_log(fitted, trace, start).mean[START])
    if start.full and charge > 1.0 - 2.5 * FULL_STD:
        return Start(1.0, FULL_STD, True)
    return replace(start.tries[-1], begin=charge)


def update_fit(
    pack: Pack,
    log: Log,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    day: date | None = None,
) -> FittedPack:
    """The pack after one more log; the cost does not grow with the number of earlier logs.

    day : on which the log was taken; None takes the log's own
    """
    day = day or day_of(log.started)
    fitted = drifted(as_fitted(pack), day)
    trace = trace_of(log, temperature_c, fitted.cut_off_v)
    return posterior(of_its_family(fitted, lambda known: _fit_one(known, trace, start_charge)), day)


def _fit_one(known: FittedPack, trace: Trace, start_charge: float | None) -> list[LogFit]:
    return [fit_log(known, trace, start_of(known, trace, start_charge))]


@dataclass(frozen=True, eq=False)
class FitOfLog:
    """One log's fit, the pack after it, and what was asked, readings included since they can be changed."""

    log: Log
    pack: Pack
    rest: tuple[float | bytes | None, ...]
    found: LogFit
    after: FittedPack


_LATEST: deque[FitOfLog] = deque(maxlen=4)  # bounds the memory; one question asks for a fit several times


def fit_of_log(
    log: Log, pack: Pack, start_charge: float | None = None, temperature_c: float | None = None
) -> FitOfLog:
    """The fit of one log to the pack as it was known before.

    Charge curve, minutes left and one more lawn rest on the same fit, so it is worked out once for all.

    >>> import pandas as pd
    >>> steady = pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]})
    >>> log = Log(steady, longest_step_s=900.0)
    >>> pack = Pack("nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> known = fit_of_log(log, pack, 1.0)
    >>> fit_of_log(log, pack, 1.0) is known, fit_of_log(log, pack, 0.9) is known
    (True, False)
    """
    rest = (start_charge, temperature_c, *(x.tobytes() for x in log.arrays.values()))
    for asked in tuple(_LATEST):
        if asked.log is log and asked.pack is pack and asked.rest == rest:
            return asked
    known = drifted(as_fitted(pack), day_of(log.started))
    trace = trace_of(log, temperature_c)
    found = of_its_family(known, lambda pack: _fit_one(pack, trace, start_charge))[0]
    _LATEST.append(FitOfLog(log, pack, rest, found, posterior([found])))
    return _LATEST[-1]


def drifted(fitted: FittedPack, day: date | None = None) -> FittedPack:
    """The pack at its next log, before that log is looked at: the same means, with the random walk added to
    the covariance; at its first log, the pack by its label and age.

    day : day of that log, None for a week later
    """
    if fitted.logs == 0:
        return aged(fitted, day)
    weeks = weeks_between(fitted.last_day, day)
    cov = fitted.covariance.copy()
    cov[prior.CAPACITY, prior.CAPACITY] += weeks * CAPACITY_WALK**2
    cov[prior.OHMIC, prior.OHMIC] += weeks * RESISTANCE_WALK**2
    cov[prior.QUICK, prior.QUICK] += weeks * RESISTANCE_WALK**2
    cov[prior.LAG, prior.LAG] += weeks * RESISTANCE_WALK**2
    curve = np.arange(prior.CURVE.start, prior.CURVE.stop)
    cov[curve, curve] += weeks * CURVE_WALK_V**2
    return replace(fitted, covariance=cov)


def posterior(found: Sequence[LogFit], day: date | None = None) -> FittedPack:
    """The pack after fitted logs, without those logs' own start charges and meter zeros.

    day : day of the last log
    """
    last = found[-1]
    pace, warming = last.fitted.pace, last.fitted.warming
    stops_at = last.fitted.stops_at
    for one in found:
        stops_at = stop_after(one, stops_at)
    after = assemble(
        last.fitted.rated,
        last.pack_mean,
        sure_down_to_stop(last, stops_at),
        usable=1.0 - max(charge_at_cut_off(last.fitted, last.pack_mean), stops_at),
        logs=last.fitted.logs + len(found),
        last_day=day,
        chemistry=last.fitted.chemistry,
        stops_at=stops_at,
    )
    for number, one in enumerate(found, start=last.fitted.logs):
        pace = pace_after(one, after, pace, 1.0 if number == 0 else PACE_SHARE)
        warming = learn_warming(
            warming, one.trace, one.heat_w, last.fitted.series, last.fitted.rated.capacity_ah
        )
    return replace(after, pace=pace, warming=warming)
