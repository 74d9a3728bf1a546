"""What the mower did, second by second, told from its power alone.

A mow's power over time, packed small enough to keep for every mow of a logbook.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.shown import shown

Array = NDArray[np.float64]

OFF_SHARE = 0.04
LOW_SHARE = 0.35
TURN_LONGEST_S = 12
WALK_SHORTEST_S = 20
SPIN_UP_S = 3
THICK_SHARE = 1.3


@shown
@dataclass(frozen=True)
class Phases:
    """Seconds spent and what stood out.

    off_s motor off between first and last start; spin_up_s, spin_ups, spin_up_w after each start; idling_s
    blades turning without grass; turning_s short dips between rows; walking_s long dips, motor on or off, on
    the way to somewhere else; cutting_s the rest. Thick patches are stretches of cutting at 1.3 times the
    usual cutting power or more: patches their number, patch_s mean length [s], patch_height
    mean power as a multiple of the usual. idle_w is None where no idling was seen. Thresholds are common
    practice, not standards.
    """

    off_s: float
    spin_up_s: float
    spin_ups: int
    spin_up_w: float | None
    idling_s: float
    turning_s: float
    turns: int
    walking_s: float
    cutting_s: float
    cutting_w: float
    idle_w: float | None
    patches: int
    patch_s: float
    patch_height: float


@dataclass(frozen=True)
class _Runs:
    start: NDArray[np.int64]
    length: NDArray[np.int64]


def _runs(mask: NDArray[np.bool_]) -> _Runs:
    """Runs of True: where they start and how long they last."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]])))
    start, stop = edge[0::2], edge[1::2]
    return _Runs(start, stop - start)


def idle_power(power_w: Array, on: NDArray[np.bool_]) -> float | None:
    """Power [W] of blades that turn without grass: the level of the calm low stretches, None where there is
    none.

    >>> power = np.concatenate([np.full(20, 80.0), np.full(200, 300.0)])
    >>> idle_power(power, power > 0)
    80.0
    """
    if on.sum() < 10:
        return None
    usual = float(np.median(power_w[on]))
    top = float(np.quantile(power_w[on], 0.6))
    low = on & (power_w < 0.6 * top)
    runs = _runs(low)
    held = [power_w[s + 1 : s + n - 1] for s, n in zip(runs.start, runs.length, strict=True) if n >= 3]
    calm = np.concatenate(held) if held else np.zeros(0)
    if calm.size < 3:
        return None
    level = float(np.median(np.sort(calm)[: max(3, calm.size // 2)]))
    near = calm[np.abs(calm - level) < 0.15 * level]
    return float(np.median(near)) if near.size and level < usual else None


def find_phases(power_w: Array) -> Phases:
    """Tell the phases of a mow from its power [W] at one-second steps, shape (k,).

    >>> power = np.concatenate([np.full(20, 80.0), np.full(60, 300.0), np.full(5, 80.0), np.full(60, 300.0)])
    >>> found = find_phases(power)
    >>> found.idling_s, found.turns, found.turning_s, found.cutting_s
    (17.0, 1, 5.0, 120.0)
    """
    on = power_w > max(3.0, OFF_SHARE * float(np.quantile(power_w, 0.9))) if power_w.size else power_w > 0
    if not on.any():
        return Phases(0, 0, 0, None, 0, 0, 0, 0, 0, 0.0, None, 0, 0, 1.0)
    first, last = int(np.argmax(on)), int(on.size - np.argmax(on[::-1]))
    power, on = power_w[first:last], on[first:last]
    starts = np.flatnonzero(on & ~np.concatenate([[False], on[:-1]]))
    spinning = np.zeros(on.size, bool)
    for start in starts:
        spinning[start : start + SPIN_UP_S] = True
    spinning &= on
    idle = idle_power(power, on & ~spinning)
    usual = float(np.median(power[on]))
    busy = power[on & (power > 0.6 * usual)]
    usual = float(np.median(busy)) if busy.size else usual
    low_limit = idle + LOW_SHARE * (usual - idle) if idle is not None else LOW_SHARE * usual
    low = power < max(low_limit, 0.0)
    runs = _runs(low)
    stopped = np.array(
        [bool((~on[s : s + n]).any()) for s, n in zip(runs.start, runs.length, strict=True)], bool
    )
    busy_at = np.flatnonzero(on & ~low & ~spinning)
    inside = (
        (runs.start > busy_at[0]) & (runs.start < busy_at[-1])
        if busy_at.size
        else np.zeros(stopped.size, bool)
    )
    walks = inside & (runs.length >= WALK_SHORTEST_S)
    turns = inside & (runs.length <= TURN_LONGEST_S) & (runs.length >= 2) & ~stopped
    walking = _cover(runs, walks, on.size)
    turning = _cover(runs, turns, on.size) & ~spinning
    idling = low & on & ~walking & ~turning & ~spinning
    cutting = on & ~low & ~spinning
    usual = float(np.median(power[cutting])) if cutting.any() else usual
    thick = _runs(cutting & (power >= THICK_SHARE * usual))
    heights = np.array(
        [power[s : s + n].mean() / usual for s, n in zip(thick.start, thick.length, strict=True)]
    )
    some = heights.size > 0
    return Phases(
        off_s=float((~on & ~walking).sum()),
        spin_up_s=float(spinning.sum()),
        spin_ups=starts.size,
        spin_up_w=float(power[spinning].max()) if spinning.any() else None,
        idling_s=float(idling.sum()),
        turning_s=float(turning.sum()),
        turns=int(turns.sum()),
        walking_s=float(walking.sum()),
        cutting_s=float(cutting.sum()),
        cutting_w=usual,
        idle_w=idle,
        patches=int(heights.size),
        patch_s=float(thick.length.mean()) if some else 0.0,
        patch_height=float(heights.mean()) if some else 1.0,
    )


def _cover(runs: _Runs, chosen: NDArray[np.bool_], size: int) -> NDArray[np.bool_]:
    covered = np.zeros(size, bool)
    for start, length in zip(runs.start[chosen], runs.length[chosen], strict=True):
        covered[start : start + length] = True
    return covered


LONGEST_S = 4800
STRETCH_S = 60


@shown
@dataclass(frozen=True)
class PowerTrace:
    """Power [W] second by second while the motor runs, in 255 steps from zero to the highest.

    The steps are even in the square root of the power: the highest reading is kept exactly and an idle of a
    tenth of it to within 1.3 %.

    packed : the steps, compressed, as text; highest_w : power [W] of the top step

    >>> trace = PowerTrace.of(np.array([80.0, 160.0, 320.0]))
    >>> trace.watts().round()
    array([ 81., 159., 320.])
    """

    packed: str
    highest_w: float

    @classmethod
    def of(cls, power_w: NDArray[np.float64]) -> PowerTrace:
        """Pack power [W] (k,) at one-second steps; a long mow keeps evenly spread one-minute stretches."""
        kept = _spread(np.clip(np.asarray(power_w, float), 0.0, None))
        highest = float(kept.max()) if kept.size else 0.0
        steps = np.rint(255 * np.sqrt(kept / highest)) if highest > 0 else np.zeros(kept.size)
        return cls(base64.b64encode(zlib.compress(steps.astype(np.uint8).tobytes(), 9)).decode(), highest)

    def watts(self) -> NDArray[np.float64]:
        """Power [W], shape (k,), one value a second."""
        steps = np.frombuffer(zlib.decompress(base64.b64decode(self.packed)), np.uint8)
        return self.highest_w * (steps / 255.0) ** 2


def _spread(power_w: NDArray[np.float64]) -> NDArray[np.float64]:
    if power_w.size <= LONGEST_S:
        return power_w
    starts = np.linspace(0, power_w.size - STRETCH_S, LONGEST_S // STRETCH_S).astype(int)
    return power_w[starts[:, None] + np.arange(STRETCH_S)].ravel()
