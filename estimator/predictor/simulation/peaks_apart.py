"""Loads in blocks of some seconds, each turned into two steps: the mean of the rest, then its highest power.

A pack meets its cut-off in peaks of a second or two, while charge, warmth and lag change over minutes. So two
steps a block follow a day as well as its seconds do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Single

BLOCK_S = 12.0
"""Short compared with the quickest pair of the pack (15 s)."""


@dataclass(frozen=True)
class PeaksApart:
    """Power (n, 2 m) [W] whose columns last `turns` [s], one after the other."""

    power_w: Single
    turns: tuple[float, ...]


def peaks_apart(
    power_w: NDArray[np.floating], step_s: float, hold_s: float = 0.0, block_s: float = BLOCK_S
) -> PeaksApart:
    """Loads (n, k) [W] at steps of `step_s` [s] with the highest power of each block kept.

    hold_s : how long [s] a peak must last to count; a block's highest power is the mean over this time
    block_s : length [s] of a block

    >>> two = peaks_apart(np.array([[1.0, 1.0, 9.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0]]), 1.0)
    >>> two.power_w.tolist(), two.turns
    ([[1.0, 9.0]], (11.0, 1.0))
    """
    lasting = max(1, math.ceil(round(hold_s / step_s, 6)))
    of = round(block_s / (lasting * step_s))
    if of < 2:
        return PeaksApart(np.asarray(power_w, np.float32), (step_s,))
    n, k = power_w.shape
    padded = np.zeros((n, -(-k // (of * lasting)) * of * lasting), np.float32)
    padded[:, :k] = power_w
    blocks = padded.reshape(n, -1, of, lasting).mean(3) if lasting > 1 else padded.reshape(n, -1, of)
    blocks = _few_first(blocks)
    highest = blocks.max(0)
    rest = (blocks.sum(0) - highest) / (of - 1)
    pairs = np.stack([rest, highest], axis=2).reshape(n, -1)
    return PeaksApart(pairs, ((of - 1) * lasting * step_s, lasting * step_s))


def _few_first(blocks: NDArray[np.floating]) -> NDArray[np.floating]:
    """Blocks (n, m, few) as (few, n, m): numpy is ten times as fast on long rows as on many short ones."""
    return np.moveaxis(blocks, 2, 0).copy()


@dataclass(frozen=True)
class CoarseLoad:
    """The same load in fewer steps: chunks (n, k) [W] whose columns last `turns` [s], one after the other."""

    chunks: Iterator[NDArray[np.floating]]
    turns: tuple[float, ...]


def coarser(
    chunks: Iterator[NDArray[np.floating]], step_s: float, hold_s: float, block_s: float
) -> CoarseLoad:
    """Chunks (n, k) [W] in blocks of about `block_s` [s], each as the mean of the rest and its highest power.

    A load changes within a step, as between readings of a log: half its rise since the step before is added.

    >>> steps = iter([np.array([[1.0, 1.0, 1.0]]), np.array([[1.0, 5.0, 5.0]])])
    >>> load = coarser(steps, 1.0, 0.0, 6.0)
    >>> [chunk.tolist() for chunk in load.chunks], load.turns
    ([[[1.7999999523162842, 7.0]]], (5.0, 1.0))
    """
    lasting = max(1, math.ceil(round(hold_s / step_s, 6)))
    turns = peaks_apart(np.zeros((1, 1)), step_s, hold_s, block_s).turns
    columns = round(sum(turns) / step_s)

    def blocks() -> Iterator[NDArray[np.floating]]:
        kept: NDArray[np.floating] | None = None
        before: NDArray[np.floating] | None = None
        for chunk in chunks:
            joined = chunk if kept is None else np.concatenate([kept, chunk], axis=1)
            whole = joined.shape[1] // columns * columns
            kept, now = joined[:, whole:], joined[:, :whole]
            if not whole:
                continue
            last = now[:, :1] if before is None else before
            before = now[:, -1:]
            if lasting > 1:
                yield peaks_apart(now, step_s, hold_s, block_s).power_w
                continue
            rise = np.maximum(np.diff(now, axis=1, prepend=last), 0) / 2
            pairs = peaks_apart(now, step_s, hold_s, block_s).power_w
            pairs[:, 1::2] = _few_first((now + rise).reshape(len(now), -1, columns)).max(0)
            yield pairs

    return CoarseLoad(blocks(), turns)
