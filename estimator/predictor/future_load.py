"""The load to come, from the log so far: blocks resampled so that the peaks survive."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from estimator.importer.log import Log

Array = NDArray[np.float64]
CHUNK = 600


def even_power(log: Log, step_s: float) -> Array:
    """(k,) power [W] of a log, its readings joined by straight lines, in the middle of every `step_s` [s]."""
    r = log.readings
    time_s = r["time_s"].to_numpy(float)
    power = r["current_a"].to_numpy(float) * r["voltage_v"].to_numpy(float)
    middle = time_s[0] + step_s * (np.arange(max(int((time_s[-1] - time_s[0]) / step_s), 1)) + 0.5)
    return np.interp(middle, time_s, power)


def repeated(power_w: Array, horizon: int) -> Iterator[NDArray[np.float32]]:
    """The same power over and over, (1, chunk) at a time, `horizon` steps in all."""
    for first in range(0, horizon, CHUNK):
        index = np.arange(first, min(first + CHUNK, horizon)) % len(power_w)
        yield power_w[index].astype(np.float32)[None, :]


def resampled(
    power_w: Array, n: int, horizon: int, block: int, spread: float, rng: np.random.Generator
) -> Iterator[NDArray[np.float32]]:
    """(n, chunk) at a time: blocks of the past in random order, each draw with its own level of `spread`."""
    level = np.exp(spread * rng.standard_normal(n) - spread**2 / 2).astype(np.float32)[:, None]
    past = power_w.astype(np.float32)
    block = min(block, len(past))
    for first in range(0, horizon, block):
        start = rng.integers(0, len(past), n)[:, None]
        yield past[(start + np.arange(min(block, horizon - first))) % len(past)] * level
