"""Facts that logs show: the capacity as they allow it, the pace, and where the battery stops the motor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack import prior
from estimator.fitting.pack.capacity_evidence import Believed, Shown, believed, left_behind
from estimator.fitting.pack.fitted_pack import (
    MOST_LEFT,
    FittedPack,
    charge_at_cut_off,
    given_at_pace,
    left_at_pace,
    open_circuit_table,
    usable_slopes,
)
from estimator.fitting.pack.log_grid import Pace, passed_a
from estimator.fitting.pack.log_model import START, ZERO_A, Modelled
from estimator.fitting.pack.log_share import N_PACK, OWN, LogShare
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP
from estimator.fitting.pack.start_charge import FULL_STD, met_cut_off

if TYPE_CHECKING:
    from estimator.fitting.pack.joint_fit import LogFit


LATE, MOST_MISSED = 0.95, 0.04
"""The cut-off ended a log if, in the last twentieth of the charge drawn, a voltage under load came so near it
that at most 4 % of the charge lay between, by the curve's slope: readings miss the dip itself."""

LEAST_KNOWN_START = 0.05
"""A start known no better than this was itself worked out from the curve, so the charge drawn since is not a
fact about the capacity (common practice)."""

PACE_SHARE, PEAK = 0.3, 0.98
"""Share of the latest log in the usual pace; quantile of the current low-passed over 6 s that is its peak."""

DISPROVED = 0.05
"""A later log that goes further than a stop by this share of the charge shows that the battery does not stop
there: a peak, heat or a loose plug did (common practice; a weak cell only gets weaker)."""

HIGHEST_STOP, STOP_STD = 0.8, 0.05
"""The highest charge at which a battery may stop the motor because it is empty; and the relative uncertainty
of what it gives until then: its weak cell gives less under a harder load, and ages faster than the others
(common practice)."""


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
        if met is not None and late[met.reading] and met.charge + met.std < MOST_LEFT:
            left = met.charge
    ended = bool(late[last] and missed <= MOST_MISSED and (lead_acid or left < MOST_LEFT))
    most = last if ended else int(np.argmax(drawn_ah))
    drawn = max(float(drawn_ah[most]), 1e-6) / max(start.mean, 0.05)
    zero = trace.error.current_zero_a * trace.drawn_h[most] / max(float(drawn_ah[most]), 1e-6)
    gone, gone_std = 0.0, 0.0
    if ended:
        rate_c = float(trace.rates_a[0, last]) / drawn
        own_ah = float(fitted.own_ah_at(joint))
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


def stopped_by_battery(found: LogFit) -> bool:
    """Whether the battery stopped the motor before the cut-off did: in lead-acid nothing does so."""
    met = found.ended or met_cut_off(found.fitted, found.trace) is not None
    return found.trace.ran_out and not met and found.fitted.chemistry != "lead_acid"


def stop_after(found: LogFit, before: float) -> float:
    """The surface charge at which the battery stops the motor, after one more log; 0 where it does not.

    A log that goes clearly further without a stop shows that something else stopped the motor that time.
    """
    lowest = float(np.clip(found.surface.min(), 0.0, HIGHEST_STOP))
    if stopped_by_battery(found):
        return lowest
    return min(before, lowest) if lowest > before - DISPROVED else 0.0


def sure_down_to_stop(found: LogFit, stops_at: float) -> Array:
    """The covariance of a pack's parameters after a log: where the battery stopped the motor after a known
    start, what it gives until then is known, however much its other cells hold.

    stops_at : as `stop_after` says; where a stop turns out to be none, the label is all that is known
    """
    covariance = found.pack_covariance
    if not stopped_by_battery(found):
        disproved = found.fitted.stops_at > stops_at == 0.0
        return with_capacity_known(covariance, prior.label_std(found.fitted)) if disproved else covariance
    start_std = float(np.sqrt(found.covariance[START, START])) / max(float(found.mean[START]), 0.05)
    return with_capacity_known(
        covariance, min(start_std, float(np.sqrt(covariance[prior.CAPACITY, prior.CAPACITY])))
    )


def with_capacity_known(covariance: Array, std: float) -> Array:
    """The covariance of a pack's parameters where a measurement known to `std` (relative) says what it gives
    until it stops the motor: what was believed of its capacity before counts no more.

    >>> with_capacity_known(np.array([[0.01, 0.001], [0.001, 0.5]]), 0.12).round(5).tolist()
    [[0.0169, 0.00169], [0.00169, 0.50007]]
    """
    along = covariance[prior.CAPACITY] / covariance[prior.CAPACITY, prior.CAPACITY]
    more = std**2 + STOP_STD**2 - covariance[prior.CAPACITY, prior.CAPACITY]
    return np.asarray(covariance + more * np.outer(along, along))


def without_stop(fitted: FittedPack) -> FittedPack:
    """The pack as if the battery had never stopped the motor: by its label again, and down to its cut-off."""
    usable = 1.0 - charge_at_cut_off(fitted, fitted.mean)
    covariance = with_capacity_known(fitted.covariance, prior.label_std(fitted))
    return replace(fitted, stops_at=0.0, usable=usable, covariance=covariance)


def pace_after(found: LogFit, after: FittedPack, before: Pace, share: float) -> Pace:
    """The usual pace after one more log, which counts for `share` of it.

    What a log drew from full is a fact: its pace gives no less, and no more where the cut-off ended the log.
    """
    trace = found.trace
    own_ah = float(found.fitted.own_ah_at(found.pack_mean))
    mean_c = max(float(trace.drawn_ah[-1] / max(trace.drawn_h[-1], 1e-6)) / own_ah, 0.0)
    peak_c = max(float(np.quantile(trace.rates_a[0], PEAK)) / own_ah, mean_c)
    gave, left = before.gave, before.left
    own = Pace(mean_c, peak_c, float(trace.weight @ trace.temperature_c), gave, left)
    start_std = float(np.sqrt(found.covariance[START, START]))
    if found.mean[START] > 1.0 - 2.5 * FULL_STD and start_std < 2.5 * FULL_STD:
        drawn_ah = float(np.max(trace.drawn_ah - found.mean[ZERO_A] * trace.drawn_h))
        stopped = found.ended or stopped_by_battery(found)
        if stopped or drawn_ah > after.capacity_ah * given_at_pace(after, own):
            gave, left = drawn_ah / after.capacity_ah, left_at_pace(after, own)
    return Pace(
        (1 - share) * before.mean_c + share * own.mean_c,
        (1 - share) * before.peak_c + share * own.peak_c,
        (1 - share) * before.temperature_c + share * own.temperature_c,
        gave,
        left,
        max(before.passed_a, passed_a(trace, found.fitted.hold_s)),
    )
