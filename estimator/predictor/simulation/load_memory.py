"""What a log so far says about the load to come: its mean, how it follows the voltage, how far it wanders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.fitting.load.phases import motor_on

FOLLOW, FOLLOW_STD = 0.4, 0.5
"""Prior exponent with which a load's power follows the voltage (common practice: 0 where a speed governor
holds the power, 1 where the current is constant, more where a plain duty cycle lets the blade slow down)."""

FOLLOW_STRETCHES, FOLLOW_LEAST_S = 40, 20.0
"""The exponent is found from this many stretches of a log, none shorter than this [s]: readings within a
stretch err alike, however many there are."""

STRETCH_S = 180.0
"""The shortest stretches [s] whose means are compared with their neighbours'."""

OCTAVE_STD, QUIETEST = 0.4, 0.02
"""How much (on the logarithm) variance times length changes when stretches are twice as long; and its least
value over that of the shortest ones: a few that happen to even out do not show that all do."""

ELSEWHERE, MOST_ELSEWHERE = 0.8, 0.05
"""The grass to come differs from that mown so far by more than neighbouring stretches of a log show: by this
share of the scatter of three-minute stretches, at most by 5 % (common practice: corners, shade, damp).

Chosen by the likelihood of what came, over walked lawns of an invented world, vehicle cycles, square waves
and loads that forget in 30 and 120 s (`tests/worlds/loads_left_out.py`): OCTAVE_STD is 0.4 whichever source
is left out; ELSEWHERE is 0.4 and 9 % (0.8 without the square waves, 5 % without the vehicles). 0.8 and 5 %
are kept, since on the walked lawns, the only mowing among these, 93 % of 90 % bands hold with them and 83 %
with 0.4."""


@dataclass(frozen=True, eq=False)
class LoadMemory:
    """What the log so far says about the load to come.

    power_w : (k,) power [W] at every step, converted to the present voltage
    weight : (k,) how much each step counts
    follow, follow_std : exponent with which the power follows the voltage
    mean_w : weighted mean power [W]
    changed : 0..1, how surely the load has changed during the log
    block : steps in a block
    block_variance, lasting : variance [W²] of a block's mean, and variance times steps [W²] of the mean of
        ever longer stretches
    """

    power_w: Array
    weight: Array
    follow: float
    follow_std: float
    mean_w: float
    changed: float
    block: int
    step_s: float
    block_variance: float
    lasting: float

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the block variance: independent blocks minus one, at least 3."""
        return max(1.0 / float(np.sum(self.weight**2)) / self.block - 1.0, 3.0)

    def level_std(self, horizon_s: float) -> float:
        """Relative standard uncertainty of mean power over the next `horizon_s` [s] that blocks do not show.

        The means over the past (as far as it counts) and over the future both scatter about the load's own
        mean. For a load that forgets, the variance of a mean is inverse to its time, however the log's blocks
        scatter. Where the future is shorter than the past, the scatter of resampled blocks is taken off.
        """
        past, future = 1.0 / float(np.sum(self.weight**2)), max(horizon_s / self.step_s, 1.0)
        shown = min(self.lasting, self.block_variance * self.block)
        variance = self.lasting * (1 / past + 1 / future) - shown * max(1 / future - 1 / past, 0.0)
        elsewhere = min(ELSEWHERE * float(np.sqrt(self.block_variance)), MOST_ELSEWHERE * abs(self.mean_w))
        return float(np.hypot(np.sqrt(variance), elsewhere)) / max(abs(self.mean_w), 1e-9)


def remember(
    power_w: Array, loaded_v: Array, step_s: float, read_s: Array, read_w: Array, read_loaded_v: Array
) -> LoadMemory:
    """Learn from the power [W] at every step so far and at the readings themselves.

    loaded_v, read_loaded_v : voltage [V] that the pack would show at the time under the load's usual current
    read_s : times [s] of the readings

    Only what lies between the motor's first start and last stop counts.

    >>> even, volts = np.full(1200, 400.0), np.linspace(52.0, 48.0, 1200)
    >>> steady = remember(even, volts, 1.0, np.arange(0.0, 1200.0, 2.0), even[::2], volts[::2])
    >>> round(steady.follow, 2), round(steady.level_std(1200.0), 3), steady.changed
    (0.0, 0.0, 0.0)
    """
    on = np.flatnonzero(motor_on(read_w))
    mown = slice(int(on[0]), int(on[-1]) + 1) if len(on) > 1 else slice(None)
    began, ended = (read_s[mown][[0, -1]] - read_s[0]) / step_s
    steps = slice(int(began), int(ended) + 1)
    power_w, loaded_v = power_w[steps], loaded_v[steps]
    read_s, read_w, read_loaded_v = read_s[mown], read_w[mown], read_loaded_v[mown]
    k = len(power_w)
    follow, follow_std = _follow(read_s, read_w, read_loaded_v)
    level = power_w * (loaded_v[-1] / loaded_v) ** follow
    twelfth = max(k // 12, 1)
    changed, since = _change(_means(level, twelfth), k - twelfth * (k // twelfth), twelfth)
    weight = np.where(np.arange(k) >= since, 1.0, 1.0 - changed)
    weight /= weight.sum()
    block = max(int(min(STRETCH_S / step_s, k / 8)), 1)
    variance, lasting = _scatter(_moved_up(level, since) if changed > 0.5 else level, block)
    return LoadMemory(
        power_w=level,
        weight=weight,
        follow=follow,
        follow_std=follow_std,
        mean_w=float(level @ weight),
        changed=changed,
        block=block,
        step_s=step_s,
        block_variance=variance,
        lasting=lasting,
    )


def _means(values: Array, size: int) -> Array:
    n = max(len(values) // size, 1)
    return (
        values[len(values) - n * size :].reshape(n, size).mean(axis=1) if len(values) >= size else values[:1]
    )


def _follow(time_s: Array, power: Array, loaded_v: Array) -> tuple[float, float]:
    """Exponent of the power over the voltage under the usual current: a regression over stretches of the log.

    Only readings above the mean of their stretch count, each for its time, and no stretches of rest.
    """
    stands_s = np.gradient(time_s)
    mean_w = float(power @ stands_s / stands_s.sum())
    stretch_s = max(float(time_s[-1] - time_s[0]) / FOLLOW_STRETCHES, FOLLOW_LEAST_S)
    stretch = ((time_s - time_s[0]) / stretch_s).astype(np.intp)
    own_w = np.bincount(stretch, stands_s * power) / np.maximum(np.bincount(stretch, stands_s), 1e-9)
    loaded = (power > 0.999 * own_w[stretch]) & (own_w[stretch] > 0.3 * mean_w) & (power > 0)
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
    """How surely the level changed, and the first step at the new one: by the split with the largest t²."""
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
    """The load with its part before the change moved to the level after it: so the whole log shows how much
    the load scatters, where the few stretches since the change might happen to scatter little."""
    early, late = level[:since], level[since:]
    return np.concatenate([early + (late.mean() - early.mean()), late])


def _scatter(level: Array, block: int) -> tuple[float, float]:
    """Variance [W²] of a block's mean, and variance times steps [W²] of the mean of ever longer stretches.

    The latter is half the mean square difference of neighbouring stretches (a variogram, Cressie 1993,
    Statistics for Spatial Data, ch. 2) of 1, 2, 4 ... blocks, times their length: constant where a load
    forgets, falling where rows and cycles come round again, rising where it wanders. Its logarithm walks at
    random from length to length, seen with the scatter of the few stretches there are (a Kalman filter).
    """
    total = np.concatenate([[0.0], np.cumsum(level)])
    found, log, variance, size = 0.0, 0.0, 0.0, block
    while 2 * size <= len(level):
        first = np.arange(0, len(level) - 2 * size + 1, max(size // 8, 1))
        apart = (total[first + 2 * size] - 2 * total[first + size] + total[first]) / size
        here, free = size * float(np.mean(apart**2)) / 2, max(len(level) / size - 1.0, 1.0)
        seen = np.log(max(here, QUIETEST * found, 1e-30)) + 1 / free  # the mean logarithm of chi² lies lower
        if size == block:
            found, log, variance = here, float(seen), 2 / free
        else:
            gain = (variance + OCTAVE_STD**2) / (variance + OCTAVE_STD**2 + 2 / free)
            log, variance = log + gain * (float(seen) - log), gain * 2 / free
        size *= 2
    if size == block:  # a single reading
        return 0.0, 0.0
    return found / block, float(np.exp(log))
