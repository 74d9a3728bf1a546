"""What a mow shows of how a pack is used: its pace, and where the battery itself stops the motor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.pack.fitted_pack import FittedPack, given_at_pace, left_at_pace
from estimator.fitting.pack.joint_fit import LogFit
from estimator.fitting.pack.log_grid import Pace, passed_a
from estimator.fitting.pack.log_model import START, ZERO_A
from estimator.fitting.pack.prior import CAPACITY
from estimator.fitting.pack.start_charge import FULL_STD, met_cut_off

Array = NDArray[np.float64]

PACE_SHARE, PEAK = 0.3, 0.98
"""Share of the latest log in the usual pace; quantile of the current low-passed over 6 s that is its peak."""

HIGHEST_STOP, STOP_STD = 0.6, 0.05
"""The highest charge at which a battery may stop the motor because it is empty; and the relative uncertainty
of what it gives until then: its weak cell gives less under a harder load, and ages faster than the others
(common practice)."""


def stopped_by_battery(found: LogFit) -> bool:
    """Whether the battery stopped the motor before the cut-off did: in lead-acid nothing does so."""
    met = found.ended or met_cut_off(found.fitted, found.trace) is not None
    return found.trace.ran_out and not met and found.fitted.chemistry != "lead_acid"


def stop_after(found: LogFit, before: float) -> float:
    """The surface charge at which the battery stops the motor, after one more log; 0 where it does not.

    A log that goes further without a stop shows that the battery does not stop there any more.
    """
    lowest = float(np.clip(found.surface.min(), 0.0, HIGHEST_STOP))
    return lowest if stopped_by_battery(found) else min(before, lowest)


def sure_down_to_stop(found: LogFit) -> Array:
    """The covariance of a pack's parameters after a log: where the battery stopped the motor after a known
    start, what it gives until then is known, however much its other cells hold.
    """
    covariance = found.pack_covariance
    if not stopped_by_battery(found):
        return covariance
    start_std = float(np.sqrt(found.covariance[START, START])) / max(float(found.mean[START]), 0.05)
    return with_capacity_known(covariance, min(start_std, float(np.sqrt(covariance[CAPACITY, CAPACITY]))))


def with_capacity_known(covariance: Array, std: float) -> Array:
    """The covariance of a pack's parameters where a measurement known to `std` (relative) says what it gives
    until it stops the motor: what was believed of its capacity before counts no more.

    >>> with_capacity_known(np.array([[0.01, 0.001], [0.001, 0.5]]), 0.12).round(5).tolist()
    [[0.0169, 0.00169], [0.00169, 0.50007]]
    """
    along = covariance[CAPACITY] / covariance[CAPACITY, CAPACITY]
    more = std**2 + STOP_STD**2 - covariance[CAPACITY, CAPACITY]
    return np.asarray(covariance + more * np.outer(along, along))


def pace_after(found: LogFit, after: FittedPack, before: Pace, share: float) -> Pace:
    """The usual pace after one more log, which counts for `share` of it.

    What a log drew from full is a fact: its pace gives no less, and no more where the cut-off ended the log.
    """
    trace = found.trace
    own_ah = found.fitted.rated.capacity_ah * float(np.exp(found.pack_mean[CAPACITY]))
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
