"""Columns of readings as arrays, and what all who look at them need: runs, stretches, straight lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def thinned(values: Floats) -> Floats:
    """Some 50,000 of a long column (n,), evenly: enough for its percentiles, in a tenth of the time."""
    return values[:: max(1, len(values) // 50_000)]


def runs(mask: Bools) -> Ints:
    """The runs (m, 2) in which a mask (n,) is true, from which index and up to which.

    >>> runs(np.array([True, False, True, True])).tolist()
    [[0, 1], [2, 4]]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return edges.reshape(-1, 2)


def spans(time_s: Floats, mask: Bools) -> Floats:
    """The stretches (m, 2) [s] in which a mask (n,) is true."""
    return np.asarray(time_s[runs(mask) - [0, 1]])


def filled(values: Floats, at: Floats | None = None) -> Floats:
    """Values (n,) with straight lines across those that are missing (nan); zeros where all are.

    at : where the values lie, such as their times; evenly where it is not given

    >>> filled(np.array([2.0, np.nan, 6]), np.array([0.0, 1, 4])).tolist(), filled(np.array([np.nan]))
    ([2.0, 3.0, 6.0], array([0.]))
    """
    good = np.isfinite(values)
    if bool(good.all()):
        return values
    x = np.arange(len(values), dtype=np.float64) if at is None else at
    return np.interp(x, x[good], values[good]) if bool(good.any()) else np.zeros(len(values))


def carried(way: Floats) -> Floats:
    """Each value (n,) that is not nothing, until the next; before the first, the first.

    >>> carried(np.array([0.0, 1, 0, -1, 0])).tolist()
    [1.0, 1.0, 1.0, -1.0, -1.0]
    """
    known = np.flatnonzero(way)
    return np.asarray(
        way[known[np.maximum(np.searchsorted(known, np.arange(len(way)), side="right") - 1, 0)]]
    )
