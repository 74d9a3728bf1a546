"""The load to come, learnt from the log so far: blocks resampled so that the peaks survive."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from estimator.importer.log import Log

Array = NDArray[np.float64]
CHUNK = 600

FOLLOW, FOLLOW_STD = 0.4, 0.5
"""How the power of a load follows the voltage before the log has its say (common practice: 0 where a speed
governor holds the power, 1 where the current holds, more where a plain duty cycle lets the blade slow
down)."""

FOLLOW_STRETCHES, FOLLOW_LEAST_S = 40, 20.0
"""The exponent is found between so many stretches of a log, none shorter than this [s]: readings within a
stretch err alike, however many there are."""

ELSEWHERE, MOST_ELSEWHERE = 0.8, 0.09
"""The grass to come differs from that mown so far by more than stretches of the log show: by this share of
what those of three minutes scatter by, but no more than 9 % (common practice: corners, shade and damp)."""

USUAL_DECAY = 1.0
"""Variance of a mean over time L goes as L^-this: 1 without memory, less where long stretches differ (common
practice: laps and rows come round again); the log's own stretches have their say, though a few of them
that happen to even out do not show that all do."""


@dataclass(frozen=True, eq=False)
class LoadMemory:
    """What the log so far says about the load to come.

    power_w : (k,) power [W] at every step, as if at the present voltage
    weight : (k,) how much each step counts
    follow, follow_std : exponent with which the power follows the voltage
    mean_w : weighted mean power [W]
    changed : 0..1, how surely the load has changed on the way
    block : steps in a block
    """

    power_w: Array
    weight: Array
    follow: float
    follow_std: float
    mean_w: float
    changed: float
    block: int
    step_s: float
    decay: float
    block_variance: float

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the block variance: independent blocks less one, at least 3."""
        return max(1.0 / float(np.sum(self.weight**2)) / self.block - 1.0, 3.0)

    def level_std(self, horizon_s: float) -> float:
        """Relative standard uncertainty of the mean power over the next `horizon_s` [s] beyond what blocks
        show.

        The means over the past (as far as it counts) and over the future scatter about the load's own mean
        by what shorter stretches of the log scatter, carried on with a slowly falling variance.
        """
        steps = 1.0 / float(np.sum(self.weight**2))
        past = (steps / self.block) ** -self.decay
        future_blocks = max(horizon_s / self.step_s / self.block, 1.0)
        future = future_blocks**-self.decay - 1.0 / future_blocks
        of_block = float(np.sqrt(self.block_variance)) / max(abs(self.mean_w), 1e-9)
        elsewhere = min(ELSEWHERE * of_block, MOST_ELSEWHERE)
        return float(np.sqrt(of_block**2 * (past + max(future, 0.0)) + elsewhere**2))


def even_power(log: Log, step_s: float) -> Array:
    """(k,) power [W] of a log, its readings joined by straight lines, in the middle of every `step_s` [s]."""
    r = log.readings
    power = r["current_a"].to_numpy(float) * r["voltage_v"].to_numpy(float)
    return evenly(r["time_s"].to_numpy(float), power, step_s)


def evenly(time_s: Array, values: Array, step_s: float) -> Array:
    """(k,) values in the middle of every `step_s` [s], joined by straight lines."""
    steps = max(int((time_s[-1] - time_s[0]) / step_s), 1)
    return np.asarray(np.interp(time_s[0] + step_s * (np.arange(steps) + 0.5), time_s, values))


def remember(
    power_w: Array, loaded_v: Array, step_s: float, read_s: Array, read_w: Array, read_loaded_v: Array
) -> LoadMemory:
    """Learn from the power [W] at every step so far and at the readings themselves.

    loaded_v, read_loaded_v : voltage [V] that the pack would show then under the load's usual current
    read_s : times [s] of the readings

    >>> even, volts = np.full(1200, 400.0), np.linspace(52.0, 48.0, 1200)
    >>> steady = remember(even, volts, 1.0, np.arange(0.0, 1200.0, 2.0), even[::2], volts[::2])
    >>> round(steady.follow, 2), round(steady.level_std(1200.0), 3), steady.changed
    (0.0, 0.0, 0.0)
    """
    k = len(power_w)
    follow, follow_std = _follow(read_s, read_w, read_loaded_v)
    level = power_w * (loaded_v[-1] / loaded_v) ** follow
    twelfth = max(k // 12, 1)
    changed, since = _change(_means(level, twelfth), k - twelfth * (k // twelfth), twelfth)
    weight = np.where(np.arange(k) >= since, 1.0, 1.0 - changed)
    weight /= weight.sum()
    block = max(int(min(180.0 / step_s, k / 8)), 1)
    variance, decay = _variance(_moved_up(level, since) if changed > 0.5 else level, block)
    return LoadMemory(
        power_w=level,
        weight=weight,
        follow=follow,
        follow_std=follow_std,
        mean_w=float(level @ weight),
        changed=changed,
        block=block,
        step_s=step_s,
        decay=decay,
        block_variance=variance,
    )


def _means(values: Array, size: int) -> Array:
    n = max(len(values) // size, 1)
    return (
        values[len(values) - n * size :].reshape(n, size).mean(axis=1) if len(values) >= size else values[:1]
    )


def _follow(time_s: Array, power: Array, loaded_v: Array) -> tuple[float, float]:
    """Exponent of the power over the voltage under the usual current: regression over stretches of the log.

    Only readings over their stretch's mean count, each for the time it stands for; stretches of rest do not.
    """
    stands_s = np.gradient(time_s)
    mean_w = float(power @ stands_s / stands_s.sum())
    stretch_s = max(float(time_s[-1] - time_s[0]) / FOLLOW_STRETCHES, FOLLOW_LEAST_S)
    stretch = ((time_s - time_s[0]) / stretch_s).astype(np.intp)
    own_w = np.bincount(stretch, stands_s * power) / np.maximum(np.bincount(stretch, stands_s), 1e-9)
    loaded = (power > 0.999 * own_w[stretch]) & (own_w[stretch] > max(0.3 * mean_w, 0.0)) & (power > 0)
    stretch = stretch[loaded]
    weight = np.bincount(stretch, stands_s[loaded])
    full = weight > 0
    if np.count_nonzero(full) < 6:
        return FOLLOW, FOLLOW_STD
    x, y = (
        np.bincount(stretch, stands_s[loaded] * np.log(values[loaded]))[full] / weight[full]
        for values in (loaded_v, power)
    )
    share = weight[full] / weight.sum()
    x, y = x - share @ x, y - share @ y
    across = float(share @ x**2)
    if across < 1e-8:
        return FOLLOW, FOLLOW_STD
    slope = float(share @ (x * y)) / across
    rest = y - slope * x
    lag_one = float(np.clip(rest[1:] @ rest[:-1] / max(rest @ rest, 1e-12), 0.0, 0.9))
    independent = (len(y) - 2) * (1 - lag_one) / (1 + lag_one)
    certain = across * independent / (float(share @ rest**2) + 1e-8)
    std = float(1 / np.sqrt(certain + 1 / FOLLOW_STD**2))
    follow = (slope * certain + FOLLOW / FOLLOW_STD**2) * std**2
    return float(np.clip(follow, 0.0, 1.2)), std


def _change(means: Array, first: int, size: int) -> tuple[float, int]:
    """How surely the level changed, and the step since which it holds: the best of all splits, judged by its
    t²."""
    n, least = len(means), 3
    best, at = 0.0, 0
    for split in range(least, n - least + 1):
        early, late = means[:split], means[split:]
        rest = np.concatenate([early - early.mean(), late - late.mean()])
        lag_one = float(np.clip(rest[1:] @ rest[:-1] / max(rest @ rest, 1e-12), 0.0, 0.9))
        noise = float(rest @ rest) / (n - 2) * (1 + lag_one) / (1 - lag_one)
        noise += (1e-3 * means.mean()) ** 2
        t2 = (early.mean() - late.mean()) ** 2 / (noise * (1 / split + 1 / (n - split)))
        if t2 > best:
            best, at = t2, split
    # the largest t² of many splits reaches 12 by chance alone about one time in twenty
    return (max(0.0, 1.0 - 12.0 / best), first + at * size) if best > 0 else (0.0, 0)


def _moved_up(level: Array, since: int) -> Array:
    """The same with what came before the change moved to the level after it: all of the log says how much
    the load scatters, where the few stretches since then may happen to be alike."""
    early, late = level[:since], level[since:]
    return np.concatenate([early + (late.mean() - early.mean()), late])


def _variance(level: Array, block: int) -> tuple[float, float]:
    """Variance [W²] of a block's mean and the power of time with which it falls, from ever longer
    stretches."""
    sizes = [block * m for m in (1, 2, 4, 8) if len(level) // (block * m) >= 3]
    if not sizes:
        return float(np.var(level)) / 2, USUAL_DECAY
    found = np.array([float(np.var(_means(level, s), ddof=1)) for s in sizes])
    counts = np.array([len(level) // s for s in sizes])
    if len(sizes) < 2 or found.min() <= 0:
        return float(found[0]), USUAL_DECAY
    slope = -float(np.polyfit(np.log(sizes), np.log(found), 1, w=np.sqrt(counts))[0])
    trust = counts[-1] / (counts[-1] + 8.0)
    return float(found[0]), float(np.clip(trust * slope + (1 - trust) * USUAL_DECAY, 0.7, USUAL_DECAY))


def repeated(power_w: Array, horizon: int) -> Iterator[NDArray[np.float32]]:
    """The same power over and over, (1, chunk) at a time, `horizon` steps in all."""
    for first in range(0, horizon, CHUNK):
        index = np.arange(first, min(first + CHUNK, horizon)) % len(power_w)
        yield power_w[index].astype(np.float32)[None, :]


def corrected(chunks: Iterator[NDArray[np.float32]], extra_w: Array) -> Iterator[NDArray[np.float32]]:
    """(n, chunk) at a time: the same with (n,) `extra_w` [W] of each draw added."""
    for chunk in chunks:
        yield chunk + extra_w.astype(np.float32)[:, None]


def resampled(
    memory: LoadMemory, level: Array, horizon: int, rng: np.random.Generator
) -> Iterator[NDArray[np.float32]]:
    """(n, block) at a time: blocks of the past in random order, each draw at its (n,) `level` of the mean.

    None comes a second time before all had their turn, as rows and laps come round again.
    """
    factor = level.astype(np.float32)[:, None]
    past = memory.power_w.astype(np.float32)
    block = min(memory.block, len(past))
    edges = np.cumsum(memory.weight)
    in_turn = max(round(1.0 / float(np.sum(memory.weight**2)) / block), 1)
    turns = np.zeros((len(level), 0), np.intp)
    for number, first in enumerate(range(0, horizon, block)):
        if number % in_turn == 0:
            turns = rng.random((len(level), in_turn)).argsort(axis=1)
        place = (turns[:, number % in_turn] + rng.random(len(level))) / in_turn
        middle = np.searchsorted(edges, place * edges[-1])[:, None]
        steps = np.arange(min(block, horizon - first)) - block // 2
        yield past[(middle + steps) % len(past)] * factor


def draw_level(spread: float, freedom: float, n: int, rng: np.random.Generator) -> Array:
    """(n,) levels of the mean power about 1: logarithms of Student's t, as the spread is itself estimated."""
    return np.asarray(np.exp(np.clip(spread * rng.standard_t(freedom, n), -1.5, 1.5) - spread**2 / 2))
