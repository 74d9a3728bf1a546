"""The smallest pack that finishes each drawn day: at end of life, warm, cold and within its current limit.

Each draw has its own root; all are found together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from estimator.arrays import Array, Flags
from estimator.descriptions import Pack
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.predictor.simulation.peaks_apart import peaks_apart
from estimator.predictor.simulation.simulation import simulate

FAST_CELL_V = {"lead_acid": 1.67}
"""Cut-off [V] of a cell, below the usual one, that makers often allow at fast discharge (common practice)."""
WIDEST = 16.0
"""The longest stride of the search [times the pack]; if a pack is too small even then, the search ends."""


@dataclass(frozen=True)
class Limits:
    """What stops a pack: cut-off [V] and its hold time [s], reserve of charge, current limit [A].

    The current limit is that of the drawn pack. It grows with the size: parallel strings share the current.
    """

    cut_off_v: float
    hold_s: float
    reserve: float
    current_a: float | None


def limits_of(pack: Pack, reserve: float) -> Limits:
    """The pack's own limits, with a reserve of charge."""
    return Limits(pack.cut_off_v, pack.hold_s, reserve, pack.current_limit_a)


class Day:
    """A drawn load with its peaks apart, ready to be run on packs of many sizes."""

    def __init__(self, load: MowDraws, hold_s: float) -> None:
        self.load = peaks_apart(load.power_w, load.step_s, hold_s)

    def finished(self, draws: PackDraws, limits: Limits, times: Array) -> Flags:
        """Whether each draw (n,) finishes the day on a pack `times` (n,) as large, run as one pack under its
        share of the power."""
        ends = simulate(
            draws,
            self.load.power_w / times[:, None].astype(np.float32),
            self.load.turns,
            cut_off_v=limits.cut_off_v,
            hold_s=limits.hold_s,
            reserve_charge=limits.reserve,
            current_limit_a=limits.current_a,
        )
        return np.asarray(~np.isfinite(ends.end_s))


def least_for_current(draws: PackDraws, load: MowDraws, limits: Limits) -> Array:
    """The least number of packs (n,) that the current limit allows, by the highest power that lasts."""
    if limits.current_a is None:
        return np.zeros(draws.n)
    lasting = max(1, math.ceil(limits.hold_s / load.step_s))
    held = np.lib.stride_tricks.sliding_window_view(load.power_w, min(lasting, load.power_w.shape[1]), axis=1)
    return np.asarray(held.min(2).max(1) / (draws.tables[:, :, 0].max(1) * limits.current_a))


def smallest_times(
    draws: PackDraws, day: Day, limits: Limits, least: Array, width: float, halvings: int
) -> Array:
    """How many times the pack each draw (n,) needs, searched upwards from `least` in strides from `width` on.

    The strides double. k packs under a power behave as one pack under a k-th of it, and less power never ends
    sooner. So whether a draw finishes changes only once as the pack grows, and halving a bracket of its
    logarithm finds where. The same draws are used throughout.
    """
    stride = np.log(width)
    low, high = np.log(least), np.log(least) + stride
    todo = ~day.finished(draws, limits, np.exp(high))
    while todo.any() and stride < np.log(WIDEST):
        stride *= 2
        low = np.where(todo, high, low)
        high = np.where(todo, high + stride, high)
        todo &= ~day.finished(draws, limits, np.exp(high))
    for _ in range(halvings):
        middle = (low + high) / 2
        good = day.finished(draws, limits, np.exp(middle))
        low, high = np.where(good, low, middle), np.where(good, middle, high)
    return np.asarray(np.exp((low + high) / 2))


@dataclass(frozen=True)
class EndOfLifeNeeds:
    """How many times the pack each draw (n,) needs: warm, cold, and cold within the current limit."""

    warm: Array
    cold: Array
    limited: Array


def end_of_life_needs(
    old: PackDraws, load: MowDraws, limits: Limits, least: Array, coldest_c: float
) -> EndOfLifeNeeds:
    """The needs of all draws.

    old : draws of a pack at the end of its life, warm; least (n,) : lower bounds of how many times that pack
    """
    chilled, free = old.at_temperature(coldest_c), replace(limits, current_a=None)
    day = Day(load, limits.hold_s)
    warm = smallest_times(old, day, free, 0.9 * least, 1.4, 4)
    cold = smallest_times(chilled, day, free, 0.98 * warm, 1.4, 5)
    cold = np.maximum(cold, warm)  # each is only found to a few parts in a hundred
    by_current = np.maximum(cold, least_for_current(chilled, load, limits))
    if limits.current_a is None:
        return EndOfLifeNeeds(warm, cold, by_current)
    # does the limit stop a pack that is just large enough without it?
    stopped = ~day.finished(chilled, limits, 1.02 * by_current)
    if not stopped.any():
        return EndOfLifeNeeds(warm, cold, by_current)
    limited = smallest_times(chilled, day, limits, by_current, 1.12, 3)
    return EndOfLifeNeeds(warm, cold, np.where(stopped, limited, by_current))


def needs_when_new(
    new: PackDraws, load: MowDraws, limits: Limits, least: Array, coldest_c: float
) -> tuple[Array, Array]:
    """How many times a new pack each draw (n,) needs: at its own temperature, and on the coldest day.

    new : draws of it, for the first n draws of the load
    """
    few = slice(0, new.n)
    loads = replace(load, power_w=load.power_w[few], end_s=load.end_s[few], energy_wh=load.energy_wh[few])
    day = Day(loads, limits.hold_s)
    usual = smallest_times(new, day, limits, 0.9 * least, 1.4, 4)
    cold = smallest_times(new.at_temperature(coldest_c), day, limits, 0.9 * least, 1.4, 4)
    return usual, np.maximum(cold, usual)
