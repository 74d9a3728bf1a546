"""Loads in blocks of some seconds, each as two steps: the mean of all but its highest power, then that power.

A pack meets its cut-off in peaks of a second or two, while charge, warmth and lag move over minutes. So two
steps a block follow a day as well as its seconds do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BLOCK_S = 12.0


@dataclass(frozen=True)
class PeaksApart:
    """Power (n, 2 m) [W] whose columns last `turns` [s], one after the other."""

    power_w: NDArray[np.float32]
    turns: tuple[float, ...]


def peaks_apart(power_w: NDArray[np.floating], step_s: float, hold_s: float = 0.0) -> PeaksApart:
    """Loads (n, k) [W] at steps of `step_s` [s] with the highest power of each block kept.

    hold_s : how long [s] a peak must last to count; a block's highest power is the mean over so long

    >>> two = peaks_apart(np.array([[1.0, 1.0, 9.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0]]), 1.0)
    >>> two.power_w.tolist(), two.turns
    ([[1.0, 9.0]], (11.0, 1.0))
    """
    lasting = max(1, math.ceil(round(hold_s / step_s, 6)))
    of = round(BLOCK_S / (lasting * step_s))
    if of < 2:
        return PeaksApart(np.asarray(power_w, np.float32), (step_s,))
    n, k = power_w.shape
    padded = np.zeros((n, -(-k // (of * lasting)) * of * lasting), np.float32)
    padded[:, :k] = power_w
    blocks = padded.reshape(n, -1, of, lasting).mean(3) if lasting > 1 else padded.reshape(n, -1, of)
    highest = blocks.max(2)
    rest = (blocks.sum(2) - highest) / (of - 1)
    pairs = np.stack([rest, highest], axis=2).reshape(n, -1)
    return PeaksApart(pairs, ((of - 1) * lasting * step_s, lasting * step_s))
