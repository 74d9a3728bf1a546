"""What a recommended capacity is made of, and how much of it one measurement would save.

It must be enough on a share of the days, and for nearly all that machine, lawns and pack may yet turn out to
be. Days differ, and each is drawn anew. But what few mows, a label or a meter leave open is the same on
every day that a pack is used. A plain quantile of the drawn needs mixes the two: a pack of that size is too
small for its days whenever the unknown turns out badly, one time in five after ten mows. A tolerance limit
keeps them apart: a share of the days (its content), with a certainty about what lasts (its confidence), after
ISO 16269-6, here from draws instead of its factors for a single normal sample.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from estimator.arrays import Array
from estimator.predictor.narrowing import NARROWED, Doubt
from estimator.predictor.sizing.need import EndOfLifeNeeds

STEP_AH = 0.1
"""Step of labels (common practice)."""
LEAST_SAVED = 0.1
"""A lower cut-off is not worth its while if it saves a smaller share of the pack than this."""
TINY = 1e-12
"""Keeps days that do not differ from dividing by zero."""


@dataclass(frozen=True)
class Assured:
    """A tolerance limit of a need.

    usual_day : need on an average day, with certainty about what lasts; need : the same for the share of days
    lasting_std, days_std : standard deviations of its logarithm, of what lasts and between days
    """

    usual_day: float
    need: float
    lasting_std: float
    days_std: float


def assured(need: Array, days: Array, sure: float) -> Assured:
    """The tolerance limit of drawn needs (n,): content and confidence are both `sure`.

    days : what differs from day to day in each draw (n,), approximately, on the logarithm; a regression on it
        finds the part of the need that differs between days, and the rest counts as lasting

    >>> lasts, differs = 0.1 * np.random.default_rng(1).standard_normal((2, 4000))
    >>> limit = assured(np.exp(lasts + differs), differs, 0.95)
    >>> bool(0.15 < np.log(limit.usual_day) < 0.18), bool(0.31 < np.log(limit.need) < 0.35)
    (True, True)
    """
    log, from_mean = np.log(need), days - days.mean()
    differs = from_mean * float(from_mean @ log) / max(float(from_mean @ from_mean), TINY)
    usual = float(np.quantile(log - differs, sure))
    return Assured(
        usual_day=float(np.exp(usual)),
        need=float(np.exp(usual + np.quantile(differs, sure))),
        lasting_std=float((log - differs).std()),
        days_std=float(differs.std()),
    )


@dataclass(frozen=True)
class MarginPart:
    """A named part of the recommended capacity [Ah], with a note on what it stands for."""

    name: str
    ah: float
    note: str


@dataclass(frozen=True)
class Saving:
    """The one measurement that would shrink the recommended capacity most, or a lower cut-off.

    measure : what to do; ah : about how much that saves [Ah], mostly of several parts: peaks that are better
    known shrink both sag and current limit, a lower cut-off both sag and cold
    """

    measure: str
    ah: float


def margin_parts(levels: Sequence[float], names: Sequence[tuple[str, str]]) -> tuple[MarginPart, ...]:
    """The parts between levels [Ah] from the mean need up to the recommendation; they add up to the last.

    levels, names : one of each for every part; a name comes with its note

    No part is negative: each level is only known to some parts in a thousand, and a level above the next one
    is lowered to it.

    >>> names = [("mean need", ""), ("day-to-day variation", ""), ("sag", ""), ("cold", "")]
    >>> [round(part.ah, 2) for part in margin_parts([2.0, 3.0, 3.51, 3.5], names)]
    [2.0, 1.0, 0.5, 0.0]
    """
    tops = np.array(levels, float)
    tops[1:] = np.minimum.accumulate(tops[:0:-1])[::-1]
    steps = np.diff(tops, prepend=0.0)
    return tuple(MarginPart(name, float(ah), note) for (name, note), ah in zip(names, steps, strict=True))


def part_names(
    sure: float, reserve: float, capacity_at_end: float, coldest_c: float
) -> tuple[tuple[str, str], ...]:
    """The parts of the margin in their order, each with what it stands for."""
    return (
        ("mean need", "energy of the lawns on average over the pack's mean voltage"),
        ("doubt", f"what few mows, meter and label leave open, {100 * sure:g} % sure"),
        ("day-to-day variation", f"days harder than average: {100 * sure:g} % of them are finished"),
        ("reserve", f"{100 * reserve:.0f} % of charge left at the end"),
        ("ageing", f"{100 * capacity_at_end:.0f} % of the capacity left at end of life"),
        ("sag", "charge that a fast discharge leaves behind: voltage under load above the cut-off, old pack"),
        ("cold", f"a day at {coldest_c:g} °C, on which the pack warms itself"),
        ("current limit", "peaks kept within the pack's current limit"),
        ("rounding", f"up to the next {STEP_AH:g} Ah"),
    )


def enough_for(need: EndOfLifeNeeds, days: Array, sure: float) -> float:
    """How many times a pack is enough at the end of its life; `days` as in `assured`.

    A limit stops single days: peaks are drawn with all that is not known about them, which counts once.
    """
    return max(assured(need.cold, days, sure).need, float(np.quantile(need.limited, sure)))


def saved_by_cut_off(capacity_ah: float, share: float, lower_v: float, series: int) -> Saving | None:
    """How much of a pack [Ah] a lower cut-off [V] that saves this share would save; None under a tenth."""
    if share < LEAST_SAVED:
        return None
    cell_v = lower_v / series
    measure = f"A cut-off of {lower_v:.1f} V ({cell_v:g} V a cell), where the battery's maker allows it"
    return Saving(measure, share * capacity_ah)


def best_saving(limit: Assured, doubts: Sequence[Doubt], sure: float, label_ah: float) -> Saving | None:
    """The measurement that would take most off the need, a number of packs of `label_ah` [Ah], if any.

    A good measurement takes away most of its cause's share of the variance, from what lasts or from what
    differs between days; worked out on logarithms, as if these were normal.
    """
    best = max((one for one in doubts if one.measure), key=lambda one: one.share, default=None)
    if best is None:
        return None
    std = limit.days_std if best.cause == "grass" else limit.lasting_std
    taken = NARROWED * best.share * (limit.lasting_std**2 + limit.days_std**2)
    less = NormalDist().inv_cdf(sure) * (std - math.sqrt(max(std**2 - taken, 0.0)))
    return Saving(best.measure, label_ah * limit.need * (1.0 - math.exp(-less)))
