"""Minutes left as predicted half-way through mows that ran the pack down, compared with what came."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from estimator.descriptions import Pack
from estimator.importer.log import HALF_90, Log
from estimator.predictor.minutes import MinutesLeft, minutes_left

LEVEL = 0.90  # of the bands that are judged
BELIEF_MOWS = 8.0
"""The trust in the bands as they are: as if this many earlier mows had shown them right."""
LEAST_STRETCH = 0.7
"""Mows of one pack on the same few lawns are alike, so bands are narrowed to this factor at most
(common practice)."""
DRAWS = 400  # give the ends of a band to some 6 % of half its width (order statistics)


@dataclass(frozen=True)
class SaidHalfWay:
    """One mow that ended at the cut-off: minutes predicted half-way, their 90 % band, and what came [min]."""

    lawn: str
    started: str | None
    minutes: float
    low: float
    high: float
    came: float


@dataclass(frozen=True)
class HalfWayScore:
    """How well minutes left were predicted half-way.

    mows, held : number of mows, and of 90 % bands that held; miss : median of |said - came| / came
    stretch : factor by which these misses widen the bands of later answers, on the logarithm
    """

    mows: int
    held: int
    miss: float
    stretch: float


def say_half_way(
    log: Log,
    fitted: Pack,
    start_charge: float | None,
    temperature_c: float | None,
    lawn: str,
    started: str | None,
) -> SaidHalfWay | None:
    """Minutes left half-way between the first and the last load; None where too little was logged by then,
    or two packs took turns.

    log : a mow that ended at the cut-off; fitted : the pack as it was known before that mow
    """
    time, amps = (log.readings[name].to_numpy(float) for name in ("time_s", "current_a"))
    loaded = np.flatnonzero(amps > 0.25 * np.quantile(amps, 0.75))
    begin, end = float(time[loaded[0]]), float(time[loaded[-1]])
    seen = log.readings[time <= (begin + end) / 2]
    if log.leaps_s or len(seen) < 3 or seen["current_a"].mean() <= 0:
        return None
    so_far = replace(log, readings=seen, spot=None)
    left = minutes_left(so_far, fitted, start_charge, level=LEVEL, draws=DRAWS, temperature_c=temperature_c)
    came = (end - float(seen["time_s"].iloc[-1])) / 60
    return SaidHalfWay(lawn, started, left.minutes, left.low, left.high, came)


def score_half_way(said: Sequence[SaidHalfWay]) -> HalfWayScore | None:
    """How well the bands held in these mows; None without mows.

    If the bands are right, misses divided by what the bands claim, both on logarithms, have a mean square
    of one. The prior belief in that weighs as much as `BELIEF_MOWS` mows (scaled inverse chi-square prior,
    Gelman et al., Bayesian Data Analysis, ch. 2).

    >>> one = SaidHalfWay("a", None, 20.0, 16.0, 25.0, 20.0)
    >>> score_half_way([one] * 8).stretch, round(score_half_way([replace(one, came=30.0)] * 8).stretch, 2)
    (0.7071067811865476, 2.23)
    """
    if not said:
        return None
    off = []
    for one in said:
        claimed = math.log(max(one.high, 0.2) / max(one.low, 0.1)) / (2 * HALF_90)
        off.append(math.log(max(one.came, 0.1) / max(one.minutes, 0.1)) / max(claimed, 1e-3))
    square = (BELIEF_MOWS + sum(each**2 for each in off)) / (BELIEF_MOWS + len(off))
    return HalfWayScore(
        mows=len(said),
        held=sum(one.low <= one.came <= one.high for one in said),
        miss=float(np.median([abs(one.minutes - one.came) / max(one.came, 0.1) for one in said])),
        stretch=max(math.sqrt(square), LEAST_STRETCH),
    )


def stretched(left: MinutesLeft, by: float) -> MinutesLeft:
    """The same answer with its band and futures `by` times as wide about the median, on the logarithm.

    >>> from estimator.predictor.minutes import MinutesLeft
    >>> wide = stretched(MinutesLeft(20.0, 16.0, 25.0, 0.9, 0.5, 300.0), 2.0)
    >>> round(wide.low, 2), round(wide.high, 2)
    (12.8, 31.25)
    """
    middle = left.minutes
    if by == 1.0 or middle <= 0:
        return left
    low, high, *ends = (
        middle * (max(each, 0.0) / middle) ** by for each in (left.low, left.high, *left.ends_min)
    )
    return replace(left, low=low, high=high, ends_min=tuple(ends))
