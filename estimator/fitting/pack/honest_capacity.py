"""The capacity of a joint fit as the facts allow it."""

from __future__ import annotations

from collections.abc import Sequence

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
from estimator.fitting.pack.log_model import ZERO_A, Modelled
from estimator.fitting.pack.log_share import N_PACK, OWN, LogShare
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP
from estimator.fitting.pack.start_charge import met_cut_off

Array = NDArray[np.float64]

LATE, MOST_MISSED = 0.95, 0.04
"""The cut-off ended a log if, in the last twentieth of the charge drawn, a voltage under load came so near it
that at most 4 % of the charge lay between, by the curve's slope: readings miss the dip itself."""


LEAST_KNOWN_START = 0.05
"""A start known no better than this was itself worked out from the curve, so the charge drawn since is not a
fact about the capacity (common practice)."""


def with_facts(
    fitted: FittedPack,
    logs: Sequence[LogShare],
    x: Array,
    covariance: Array,
    at: Sequence[Modelled],
    uncertain: Array,
    before: Array,
) -> tuple[Array, Array, tuple[bool, ...]]:
    """The whole vector and its covariance with the capacity that the facts allow, and which of the logs with
    a known start the cut-off ended.

    All other parameters stay as found for each capacity (Jeffrey 1965, The Logic of Decision, ch. 11).
    """
    slopes = np.zeros(len(x))
    slopes[:N_PACK] = usable_slopes(fitted, before[:N_PACK])
    was = Believed(_usable(fitted, before), float(np.sqrt(slopes @ uncertain @ slopes)))
    slopes[:N_PACK] = usable_slopes(fitted, x[:N_PACK])
    along = covariance @ slopes
    variance = float(slopes @ along)
    fit = Believed(_usable(fitted, x), float(np.sqrt(variance)))
    shown: list[Shown] = []
    ended = [False] * len(logs)
    for i, (log, m) in enumerate(zip(logs, at, strict=True)):
        own = N_PACK + OWN * i
        start = Believed(float(before[own]), float(np.sqrt(uncertain[own, own])))
        if start.std < LEAST_KNOWN_START:
            shown.append(_shown(fitted, log, log.pick @ x, m, start, uncertain[own + 3, own + 3]))
            ended[i] = shown[-1].ended
    now = believed(was, fit, shown)
    x = x + along / variance * (now.mean - fit.mean)
    x[prior.CAPACITY] += now.mean - _usable(fitted, x)  # the remainder that the linear rule misses
    slopes[:N_PACK] = usable_slopes(fitted, x[:N_PACK])
    along = covariance @ slopes
    variance = float(slopes @ along)
    covariance = covariance + np.outer(along, along) * ((now.std**2 - variance) / variance**2)
    return x, covariance, tuple(ended)


def _usable(fitted: FittedPack, x: Array) -> float:
    """Logarithm of the capacity down to the cut-off over the rated one."""
    return float(x[prior.CAPACITY] + np.log(1.0 - charge_at_cut_off(fitted, x[:N_PACK])))


def _shown(
    fitted: FittedPack, log: LogShare, joint: Array, at: Modelled, start: Believed, own_var: float
) -> Shown:
    trace = log.trace
    drawn_ah = trace.drawn_ah - joint[ZERO_A] * trace.drawn_h
    late = (drawn_ah >= LATE * drawn_ah[-1]) & (trace.current_a > 0)
    last = int(np.argmin(np.where(late, trace.voltage_v, np.inf)))
    slope = np.interp(at.surface[last], GRID, np.gradient(open_circuit_table(fitted, joint), GRID_STEP))
    above_v = max(float(trace.voltage_v[last]) - fitted.cut_off_v, 0.0) / fitted.series
    missed = above_v / max(float(slope), 0.1)
    left, lead_acid = float(at.charge[last]), fitted.chemistry == "lead_acid"
    if left >= MOST_LEFT and not lead_acid:
        # a fit that clings to the label explains the cut-off of a worn pack by resistance
        met = met_cut_off(fitted, trace)
        left = met.charge if met is not None and late[met.reading] else left
    ended = bool(late[last] and missed <= MOST_MISSED and (lead_acid or left < MOST_LEFT))
    most = last if ended else int(np.argmax(drawn_ah))
    drawn = max(float(drawn_ah[most]), 1e-6) / max(start.mean, 0.05)
    zero = trace.error.current_zero_a * trace.drawn_h[most] / max(float(drawn_ah[most]), 1e-6)
    gone, gone_std = 0.0, 0.0
    if ended:
        rate_c = float(trace.rates_a[0, last]) / drawn
        own_ah = fitted.rated.capacity_ah * float(np.exp(joint[prior.CAPACITY]))
        factor = float(prior.arrhenius(trace.temperature_c[last], joint[prior.ACTIVATION_OHM]))
        gone, gone_std = left_behind(rate_c, factor, prior.half_full_ohm(joint) / fitted.series * own_ah)
        if lead_acid:  # the charge that volts and Peukert's law show as left, as uncertain as the law
            gone = float(-np.log(1.0 - min(at.lag_parts[0, last] + max(at.surface[last], 0.0), 0.95)))
            gone_std = gone * float(np.sqrt(fitted.covariance[prior.PEUKERT, prior.PEUKERT]))
        gone += missed
        gone_std = float(np.hypot(gone_std, missed))
    return Shown(
        deepest=float(at.charge[most]),
        drawn=float(np.log(drawn / fitted.rated.capacity_ah)),
        drawn_std=float(np.sqrt((start.std / max(start.mean, 0.05)) ** 2 + zero**2 + own_var)),
        ended=ended,
        left=gone,
        left_std=gone_std,
    )
