"""What is unusual about a log: it ends while cutting, peaks stopped the motor, or idle power rose."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from estimator.descriptions import ENDS, RAN_OUT, STOPPED_SHORT
from estimator.fitting.by_hand.spot_doubts import SURPRISE, scatter_of_next
from estimator.fitting.load.features import NEAR_CUT_OFF, MowFeatures
from estimator.fitting.load.phases import motor_on
from estimator.importer.log import Log

CUTTING_SHARE = 0.5
"""Above this share of the usual current under load the blades are in grass; turning free takes about a third
(common practice)."""
FEWEST_READINGS = 30
"""A log with fewer readings does not show whether it ended while cutting."""
STOPS_WITHIN_S, RAN_ON_S = 5.0, 60.0
"""A controller stops the motor so soon [s] after the volts fell to its cut-off; a pack that then runs the
motor for so long [s] was not empty (common practice)."""
LESS_SAG = (
    "thicker or shorter cable, firm plugs, a warmer pack or more cells in parallel let peaks pass, and so "
    "does a lower cut-off where the maker of the cells allows it"
)
"""What helps where peaks pull the volts to the cut-off."""
LATEST, FEWEST_BEFORE = 10, 4
"""Of so many mows before, and no fewer, the usual idle power is taken: repairs and wear change it."""
IDLE_STD = 0.05
"""The usual spread of the logarithm of idle power (common practice)."""
LEAST_RISE, MOST_RISE = 0.15, 1.0
"""The least share by which a rise is worth a look; above the most, something else was taken for idling
(common practice)."""


def amps_at_end(log: Log) -> float | None:
    """Current [A] of the last reading if the mower was cutting then, None where the motor was off or idling.

    Also None for hand readings and for logs of few readings, which do not show it.

    >>> import pandas as pd
    >>> amps = np.where(np.arange(100) % 20 < 15, 5.0, 1.5)
    >>> log = Log(pd.DataFrame({"time_s": np.arange(100.0), "current_a": amps, "voltage_v": 50.0}))
    >>> amps_at_end(log) is None, amps_at_end(Log(log.readings.iloc[:-6]))
    (True, 5.0)
    """
    if log.spot is not None or len(log.arrays["time_s"]) < FEWEST_READINGS:
        return None
    amps = log.arrays["current_a"]
    loaded = amps[amps > 0.25 * float(np.quantile(amps, 0.95))]
    if not loaded.size:
        return None
    return float(amps[-1]) if amps[-1] > CUTTING_SHARE * float(np.median(loaded)) else None


def end_doubts(log: Log, features: MowFeatures) -> tuple[str, ...]:
    """A sentence where the log ends while cutting and nothing yet says whether the lawn was done.

    No sentence where the pack was at its cut-off: the mow then counts as stopped short anyway.
    """
    amps = amps_at_end(log)
    if amps is None or features.ended_at_cut_off or ENDS & set(features.tags):
        return ()
    ends = f"The log ends while cutting, at {amps:.1f} A and {log.arrays['voltage_v'][-1]:.1f} V"
    return (
        f"{ends}: tag the mow '{STOPPED_SHORT}' if the lawn was not finished, or '{RAN_OUT}' if the battery "
        "stopped the motor.",
    )


def stops_at_peaks(log: Log, cut_off_v: float) -> tuple[float, ...]:
    """The seconds at which volts at the cut-off stopped the motor, which then ran on for a minute or more: a
    peak stopped it, not an empty pack.

    >>> import pandas as pd
    >>> amps, volts = np.full(300, 10.0), np.full(300, 45.0)
    >>> amps[[99, *range(100, 120)]], volts[99] = [40.0, *[0.0] * 20], 38.8
    >>> log = Log(pd.DataFrame({"time_s": np.arange(300.0), "current_a": amps, "voltage_v": volts}))
    >>> stops_at_peaks(log, 39.0), stops_at_peaks(log, 38.0)
    ((99.0,), ())
    """
    time_s, amps, volts = (log.arrays[name] for name in ("time_s", "current_a", "voltage_v"))
    on = motor_on(amps * volts)
    ends = np.flatnonzero(on[:-1] & ~on[1:])
    ran_s = np.concatenate(([0.0], np.cumsum(np.diff(time_s) * on[:-1])))
    next_end = np.append(ends, len(on) - 1)[1:]
    low = volts <= (1 + NEAR_CUT_OFF) * cut_off_v
    return tuple(
        float(time_s[end])
        for end, after in zip(ends, next_end, strict=True)
        if low[(time_s > time_s[end] - STOPS_WITHIN_S) & (time_s <= time_s[end])].any()
        and ran_s[after] - ran_s[end] >= RAN_ON_S
    )


def peak_doubts(log: Log, cut_off_v: float) -> tuple[str, ...]:
    """A sentence where peaks stopped the motor although the pack was not empty."""
    stops = () if log.spot is not None else stops_at_peaks(log, cut_off_v)
    if not stops:
        return ()
    often = "once" if len(stops) == 1 else f"{len(stops)} times"
    return (
        f"Peaks pulled the volts to the cut-off of {cut_off_v:g} V and stopped the motor {often}, first at "
        f"minute {stops[0] / 60:.0f}, though the pack was not empty: it then ran on. "
        f"{LESS_SAG[0].upper()}{LESS_SAG[1:]}.",
    )


def idle_doubts(mow: MowFeatures, others: Iterable[MowFeatures]) -> tuple[str, ...]:
    """A sentence where blades that turn free take plainly more power than in the mows before it.

    others : mows in order of time, of which the latest before this one count
    """
    alike = [one for one in others if one.phases and one.machine == mow.machine]
    before = [one.idle_w for one in alike if (one.started or "") < (mow.started or "") and one.idle_w]
    seen_w, idle_w = before[-LATEST:], mow.idle_w
    if not mow.phases or not idle_w or len(seen_w) < FEWEST_BEFORE:
        return ()
    rise = idle_w / float(np.median(seen_w)) - 1
    if not max(LEAST_RISE, math.expm1(SURPRISE * scatter_of_next(seen_w, IDLE_STD))) < rise < MOST_RISE:
        return ()
    return (
        f"Idle power is {idle_w:.0f} W, {100 * rise:.0f} % more than in the mows before "
        f"({min(seen_w):.0f} to {max(seen_w):.0f} W): with the battery off, look at the bearings, the belt, "
        "packed grass, and whether the reel is set too hard.",
    )
