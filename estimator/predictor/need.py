"""The smallest pack that finishes each drawn day: one root per draw, all found together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.load_draws import MowDraws
from estimator.fitting.pack_draws import PackDraws
from estimator.predictor.simulation import simulate

Array = NDArray[np.float64]

HALVINGS = 8
WIDEST = 16.0


@dataclass(frozen=True)
class Limits:
    """What stops a pack: cut-off [V] and its hold time [s], reserve of charge, current limit [A/Ah]."""

    cut_off_v: float
    hold_s: float
    reserve: float
    current_a_per_ah: float | None


def limits_of(pack: Pack, reserve: float, label_ah: float) -> Limits:
    """The pack's own limits; its current limit grows with it, as whole strings share the current."""
    per_ah = pack.current_limit_a / label_ah if pack.current_limit_a is not None else None
    return Limits(pack.cut_off_v, pack.hold_s, reserve, per_ah)


def finishes(
    draws: PackDraws, load: MowDraws, limits: Limits, times: Array, label_ah: float
) -> NDArray[np.bool_]:
    """Which draws (n,) get through the day on a pack `times` (n,) as large."""
    limit_a = None
    pack, power = draws.scaled(times), load.power_w
    if limits.current_a_per_ah is not None:
        limit_a = limits.current_a_per_ah * label_ah
        pack, power = draws, load.power_w / times[:, None]
    futures = simulate(
        pack,
        power,
        load.step_s,
        cut_off_v=limits.cut_off_v,
        hold_s=limits.hold_s,
        reserve_charge=limits.reserve,
        current_limit_a=limit_a,
    )
    return np.asarray(futures.end_s > load.end_s[:, -1] - 1e-9)


def smallest_times(
    draws: PackDraws, load: MowDraws, limits: Limits, least: Array, label_ah: float, width: float = 1.5
) -> Array:
    """How many times the pack (n,) each draw needs at least, between `least` and 16 times `least`.

    A k-fold pack under a power behaves as one pack under a k-th of it, and less power never ends sooner, so
    whether a draw finishes changes once only as the pack grows: halving the bracket in its logarithm finds
    it. The same draws are used throughout.
    """
    low, high = np.log(least), np.log(least * width)
    todo = ~finishes(draws, load, limits, np.exp(high), label_ah)
    while todo.any() and float(np.max(high - np.log(least))) < np.log(WIDEST):
        low = np.where(todo, high, low)
        high = np.where(todo, high + np.log(width), high)
        todo &= ~finishes(draws, load, limits, np.exp(high), label_ah)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        good = finishes(draws, load, limits, np.exp(middle), label_ah)
        low, high = np.where(good, low, middle), np.where(good, middle, high)
    return np.asarray(np.exp(high))
