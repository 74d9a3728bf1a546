"""The load to come, learnt from the log so far: blocks resampled so that peaks survive."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from estimator.arrays import Array, Single
from estimator.importer.log import Log
from estimator.predictor.simulation.load_memory import LoadMemory

CHUNK = 600
"""Steps at a time, to bound the memory."""


def even_power(log: Log, step_s: float) -> Array:
    """(k,) power [W] of a log in the middle of every `step_s` [s], its readings joined by straight lines."""
    r = log.arrays
    return evenly(r["time_s"], r["current_a"] * r["voltage_v"], step_s)


def evenly(time_s: Array, values: Array, step_s: float) -> Array:
    """(k,) values in the middle of every `step_s` [s], joined by straight lines."""
    steps = max(int((time_s[-1] - time_s[0]) / step_s), 1)
    return np.asarray(np.interp(time_s[0] + step_s * (np.arange(steps) + 0.5), time_s, values))


def repeated(power_w: Array, horizon: int) -> Iterator[Single]:
    """The same power over and over, (1, chunk) at a time, `horizon` steps in all."""
    for first in range(0, horizon, CHUNK):
        index = np.arange(first, min(first + CHUNK, horizon)) % len(power_w)
        yield power_w[index].astype(np.float32)[None, :]


def corrected(chunks: Iterator[Single], extra_w: Array) -> Iterator[Single]:
    """The load (n, chunk) at a time, with `extra_w` (n,) [W] added to each draw."""
    for chunk in chunks:
        yield chunk + extra_w.astype(np.float32)[:, None]


def resampled(memory: LoadMemory, level: Array, horizon: int, rng: np.random.Generator) -> Iterator[Single]:
    """Blocks of the past in random order, (n, block) at a time, each draw scaled by its `level` (n,).

    No block comes a second time before all have had their turn, just as rows and laps come round again.
    """
    factor = level.astype(np.float32)[:, None]
    past = memory.power_w.astype(np.float32)
    block = min(memory.block, len(past))
    around = np.pad(past, block, mode="wrap")  # the first stretch follows the last, as on a lap
    edges = np.cumsum(memory.weight)
    in_turn = max(round(1.0 / float(np.sum(memory.weight**2)) / block), 1)
    turns = np.zeros((len(level), 0), np.intp)
    for number, first in enumerate(range(0, horizon, block)):
        if number % in_turn == 0:
            turns = rng.random((len(level), in_turn)).argsort(axis=1)
        place = (turns[:, number % in_turn] + rng.random(len(level))) / in_turn
        begin = np.searchsorted(edges, place * edges[-1]) + block - block // 2
        yield sliding_window_view(around, min(block, horizon - first))[begin] * factor


def draw_level(spread: float, freedom: float, n: int, rng: np.random.Generator) -> Array:
    """(n,) levels of the mean power about 1: on logarithms Student's t, since the spread is estimated."""
    return np.asarray(np.exp(np.clip(spread * rng.standard_t(freedom, n), -1.5, 1.5) - spread**2 / 2))
