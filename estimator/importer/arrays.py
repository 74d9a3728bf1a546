"""What all of the importer does with columns of readings: find runs and stretches, draw straight lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def thinned(values: Floats) -> Floats:
    """About 50,000 evenly spread values of a column (n,): enough for percentiles, in a tenth of the time."""
    return values[:: max(1, len(values) // 50_000)]


def runs(mask: Bools) -> Ints:
    """The runs in which a mask (n,) is true, as (m, 2): the first index, and the index after the last.

    >>> runs(np.array([True, False, True, True])).tolist()
    [[0, 1], [2, 4]]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return edges.reshape(-1, 2)


def spans(time_s: Floats, mask: Bools) -> Floats:
    """The stretches (m, 2) [s] in which a mask (n,) is true."""
    return np.asarray(time_s[runs(mask) - [0, 1]])


def filled(values: Floats, at: Floats | None = None) -> Floats:
    """Values (n,) with straight lines across missing ones (nan); all zero where all are missing.

    at : where the values lie, such as their times; None spaces them evenly

    >>> filled(np.array([2.0, np.nan, 6]), np.array([0.0, 1, 4])).tolist(), filled(np.array([np.nan]))
    ([2.0, 3.0, 6.0], array([0.]))
    """
    good = np.isfinite(values)
    if bool(good.all()):
        return values
    x = np.arange(len(values), dtype=np.float64) if at is None else at
    return np.interp(x, x[good], values[good]) if bool(good.any()) else np.zeros(len(values))


def carried(way: Floats) -> Floats:
    """Carry each value (n,) that is not zero on to the next such value, and the first one back to the start.

    >>> carried(np.array([0.0, 1, 0, -1, 0])).tolist()
    [1.0, 1.0, 1.0, -1.0, -1.0]
    """
    known = np.flatnonzero(way)
    return np.asarray(
        way[known[np.maximum(np.searchsorted(known, np.arange(len(way)), side="right") - 1, 0)]]
    )


def agreement(di: Floats, dv: Floats) -> float:
    """Correlation of the steps of amps and volts: 1 together, -1 against each other, 0 without steps."""
    norm = float(np.sqrt(np.dot(di, di) * np.dot(dv, dv)))
    return float(np.dot(di, dv)) / norm if norm > 0 else 0.0
