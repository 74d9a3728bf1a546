"""Cutting and idling, told apart by power alone, and a mow's power over time, packed small enough to keep."""

from __future__ import annotations

import base64
import zlib

import numpy as np

from estimator.arrays import Array, Flags
from estimator.results import result

OFF_SHARE = 0.04
"""Electronics without the motor take less than this share of the mowing power (common practice)."""
LOW_SHARE = 0.35
"""Below this share of the way from idle to usual power, the blades turn in no grass (common practice)."""
SPIN_UP_S = 3
"""Seconds within which a motor brings its blades up to speed (common practice)."""


@result
class Phases:
    """What a mow's power shows of its cutting and its idling.

    cutting_w : usual power [W] while cutting; idle_w : that of blades turning in no grass, None where it was
    not seen. Thresholds are common practice, not standards.
    """

    cutting_w: float
    idle_w: float | None


def idle_power(power_w: Array, on: Flags) -> float | None:
    """Power [W] of blades turning in no grass: the level of the calm low stretches, None without any.

    >>> power = np.concatenate([np.full(20, 80.0), np.full(200, 300.0)])
    >>> idle_power(power, power > 0)
    80.0
    """
    if on.sum() < 10:
        return None
    usual = float(np.median(power_w[on]))
    top = float(np.quantile(power_w[on], 0.6))
    low = on & (power_w < 0.6 * top)
    edges = np.flatnonzero(np.diff(low, prepend=False, append=False)).reshape(-1, 2)
    held = [power_w[start + 1 : stop - 1] for start, stop in edges if stop - start >= 3]
    calm = np.concatenate(held) if held else np.zeros(0)
    if calm.size < 3:
        return None
    level = float(np.median(np.sort(calm)[: max(3, calm.size // 2)]))
    near = calm[np.abs(calm - level) < 0.15 * level]
    return float(np.median(near)) if near.size and level < usual else None


def motor_on(power_w: Array) -> Flags:
    """Whether more than the electronics draws power, for each power [W] (k,).

    >>> motor_on(np.array([0.0, 2.0, 80.0, 250.0])).tolist()
    [False, False, True, True]
    """
    if not power_w.size:
        return np.zeros(0, bool)
    return np.asarray(power_w > max(3.0, OFF_SHARE * float(np.quantile(power_w, 0.9))))


def motor_runs(power_w: Array, phases: Phases) -> Flags:
    """Whether the motor runs at each power [W] (k,) of a mow, as with blades turning free, or waits.

    >>> motor_runs(np.array([0.0, 15.0, 80.0, 250.0]), Phases(cutting_w=250, idle_w=80)).tolist()
    [False, False, True, True]
    """
    least_w = 0.25 * phases.idle_w if phases.idle_w else max(3.0, OFF_SHARE * phases.cutting_w)
    return power_w > least_w


def find_phases(power_w: Array) -> Phases:
    """Tell cutting from idling by a mow's power (k,) [W] at one-second steps.

    >>> power = np.concatenate([np.full(20, 80.0), np.full(60, 300.0), np.full(5, 80.0), np.full(60, 300.0)])
    >>> find_phases(power)
    Phases(cutting_w=300, idle_w=80)
    """
    on = motor_on(power_w)
    if not on.any():
        return Phases(0.0, None)
    first, last = int(np.argmax(on)), int(on.size - np.argmax(on[::-1]))
    power, on = power_w[first:last], on[first:last]
    spinning = np.zeros(on.size, bool)
    for start in np.flatnonzero(on & ~np.concatenate([[False], on[:-1]])):
        spinning[start : start + SPIN_UP_S] = True
    spinning &= on
    idle = idle_power(power, on & ~spinning)
    usual = float(np.median(power[on]))
    usual = float(np.median(power[on & (power > 0.6 * usual)]))
    low_limit = idle + LOW_SHARE * (usual - idle) if idle is not None else LOW_SHARE * usual
    cutting = on & (power >= low_limit) & ~spinning
    return Phases(cutting_w=float(np.median(power[cutting])) if cutting.any() else usual, idle_w=idle)


LONGEST_S = 4800
"""Seconds kept of a mow, 80 minutes: bounds the size of a logbook."""
STRETCH_S = 60
"""Length of the stretches kept of a longer mow: longer than any peak that is looked for (30 s)."""


@result
class RunTrace:
    """Power [W] or current [A] second by second while the motor runs, in 255 steps from zero to the highest.

    The steps are even in the square root of the value: the highest is kept exactly, and idling at a tenth of
    it within 1.3 %.

    packed : the steps, compressed, as text; highest : the value of the top step

    >>> trace = RunTrace.of(np.array([80.0, 160.0, 320.0]))
    >>> trace.values().round()
    array([ 81., 159., 320.])
    """

    packed: str
    highest: float

    @classmethod
    def of(cls, values: Array) -> RunTrace:
        """Pack values (k,) at one-second steps; a long mow keeps evenly spread one-minute stretches."""
        kept = _spread(np.clip(np.asarray(values, float), 0.0, None))
        highest = float(kept.max()) if kept.size else 0.0
        steps = np.rint(255 * np.sqrt(kept / highest)) if highest > 0 else np.zeros(kept.size)
        return cls(base64.b64encode(zlib.compress(steps.astype(np.uint8).tobytes(), 9)).decode(), highest)

    def values(self) -> Array:
        """The values, shape (k,), one a second."""
        steps = np.frombuffer(zlib.decompress(base64.b64decode(self.packed)), np.uint8)
        return self.highest * (steps / 255.0) ** 2


def _spread(power_w: Array) -> Array:
    if power_w.size <= LONGEST_S:
        return power_w
    starts = np.linspace(0, power_w.size - STRETCH_S, LONGEST_S // STRETCH_S).astype(int)
    return power_w[starts[:, None] + np.arange(STRETCH_S)].ravel()
