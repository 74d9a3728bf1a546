"""The smallest pack that finishes each drawn day: one root per draw, all found together."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.load_draws import MowDraws
from estimator.fitting.pack_draws import PackDraws
from estimator.predictor.simulation import CURRENT, Futures, simulate

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

COARSE_S = 12.0
COARSE_SHARE = 0.3
WIDEST = 16.0


@dataclass(frozen=True)
class Limits:
    """What stops a pack: cut-off [V] and its hold time [s], reserve of charge, current limit [A per pack].

    The current limit is that of the pack drawn and grows with it, as parallel strings share the current.
    """

    cut_off_v: float
    hold_s: float
    reserve: float
    current_a: float | None


def limits_of(pack: Pack, reserve: float) -> Limits:
    """The pack's own limits with a reserve of charge."""
    return Limits(pack.cut_off_v, pack.hold_s, reserve, pack.current_limit_a)


@dataclass(frozen=True)
class Outcome:
    """Which draws (n,) got through the day, and which were stopped by the current limit."""

    finished: Flags
    over_current: Flags


class Day:
    """A drawn load cut at 30 % of its energy: until then a pack that may finish is far from its cut-off and
    runs at coarse steps; the rest runs at the load's own, as a tired pack in the cold meets its cut-off in a
    short peak long before it is empty."""

    def __init__(self, load: MowDraws) -> None:
        self.whole = load
        used = np.cumsum(load.power_w, axis=1)
        ratio = max(1, round(COARSE_S / load.step_s))
        cut = (used < COARSE_SHARE * used[:, -1:]).sum(1) // ratio * ratio
        column = np.arange(load.power_w.shape[1])
        self.head = coarser(replace(load, power_w=np.where(column < cut[:, None], load.power_w, 0.0)), ratio)
        there = cut[:, None] + np.arange(max(int((column.size - cut).max()), 1))
        inside = there < column.size
        tail = np.where(inside, np.take_along_axis(load.power_w, np.minimum(there, column.size - 1), 1), 0.0)
        left = np.rint(load.end_s[:, -1] / load.step_s).astype(np.int64) - cut
        self.tail = tail[:, : int(left.max())]
        self.mean_w = used[:, -1] * load.step_s / load.end_s[:, -1]

    def run(self, draws: PackDraws, limits: Limits, times: Array) -> Outcome:
        """Run the day on packs `times` (n,) as large: as one pack each under its share of the power."""
        first = _simulate(draws, self.head.power_w, self.head.step_s, limits, times)
        alive = ~np.isfinite(first.end_s)
        volts = draws.tables[:, :, 0].mean(1)
        rate = self.mean_w / times / volts / draws.capacity_ah
        warmed_up = replace(
            draws,
            charge=np.where(alive, first.charge_end, 1.0),
            rates_c=np.broadcast_to(rate, draws.rates_c.shape).copy(),
        )
        second = _simulate(warmed_up, self.tail, self.whole.step_s, limits, times)
        over = (first.why == CURRENT) | (alive & (second.why == CURRENT))
        return Outcome(alive & ~np.isfinite(second.end_s), over)


def some_of(draws: PackDraws, which: NDArray[np.int64]) -> PackDraws:
    """Only the draws chosen, in that order."""
    kept: dict[str, Any] = {}
    for field in fields(draws):
        value = getattr(draws, field.name)
        if isinstance(value, np.ndarray):
            kept[field.name] = np.take(value, which, axis=0 if value.shape[0] == draws.n else -1)
    return replace(draws, **kept)


def coarser(load: MowDraws, ratio: int) -> MowDraws:
    """The load at steps `ratio` times as long, its energy kept."""
    n, k = load.power_w.shape
    padded = np.zeros((n, -(-k // ratio) * ratio))
    padded[:, :k] = load.power_w
    return replace(load, power_w=padded.reshape(n, -1, ratio).mean(2), step_s=load.step_s * ratio)


def _simulate(
    draws: PackDraws, power_w: NDArray[np.floating], step_s: float, limits: Limits, times: Array
) -> Futures:
    return simulate(
        draws,
        (power_w / times[:, None]).astype(np.float32),
        step_s,
        cut_off_v=limits.cut_off_v,
        hold_s=limits.hold_s,
        reserve_charge=limits.reserve,
        current_limit_a=limits.current_a,
    )


def least_for_current(draws: PackDraws, load: MowDraws, limits: Limits) -> Array:
    """How many times the pack (n,) the current limit asks for at least, by the highest power that lasts."""
    if limits.current_a is None:
        return np.zeros(draws.n)
    lasting = max(1, math.ceil(limits.hold_s / load.step_s))
    held = np.lib.stride_tricks.sliding_window_view(load.power_w, min(lasting, load.power_w.shape[1]), axis=1)
    return np.asarray(held.min(2).max(1) / (draws.tables[:, :, 0].max(1) * limits.current_a))


def smallest_times(
    draws: PackDraws, day: Day, limits: Limits, least: Array, width: float, halvings: int
) -> Array:
    """How many times the pack (n,) each draw needs, between `least` and 16 times `least`.

    A k-fold pack under a power behaves as one pack under a k-th of it, and less power never ends sooner, so
    whether a draw finishes changes once only as the pack grows: halving the bracket of its logarithm finds
    it. The same draws are used throughout.
    """
    stride = np.log(width)
    low, high = np.log(least), np.log(least) + stride
    todo = ~day.run(draws, limits, np.exp(high)).finished
    while todo.any() and stride < np.log(WIDEST):
        stride *= 2
        low = np.where(todo, high, low)
        high = np.where(todo, high + stride, high)
        todo &= ~day.run(draws, limits, np.exp(high)).finished
    for _ in range(halvings):
        middle = (low + high) / 2
        good = day.run(draws, limits, np.exp(middle)).finished
        low, high = np.where(good, low, middle), np.where(good, middle, high)
    return np.asarray(np.exp((low + high) / 2))
