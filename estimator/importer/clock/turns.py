"""Readings that come out of turn, and several readings under one stamp."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.importer.arrays import Floats, Ints

_COARSE = 10
"""With this many readings under one stamp, the clock is coarser than a second."""
_REACH = 5
"""How many rows late a reading may be: what was sent in pieces arrives almost in order."""


def in_order(t: Floats, steps: Floats) -> Ints | None:
    """The order (n,) in which a few rows out of turn fill exactly the holes that they left, else None.

    t : (n,) times in the order of the rows; steps : (n - 1,) the steps between them

    >>> t = np.concatenate((np.arange(30.0), [31.0, 30.0], np.arange(32.0, 60.0)))
    >>> in_order(t, np.diff(t))[29:33].tolist()
    [29, 31, 30, 32]
    """
    back = int(np.count_nonzero(steps < 0))
    if not 0 < back <= 0.05 * len(t):
        return None
    order = np.argsort(t, kind="stable")
    moved = np.flatnonzero(order != np.arange(len(t)))
    usual = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    around = np.diff(t[order])[np.unique(np.clip(np.concatenate((moved - 1, moved)), 0, len(t) - 2))]
    fills = (
        np.abs(order - np.arange(len(t))).max() <= _REACH
        and 0.6 * usual < around.min()
        and around.max() < 3 * usual
    )
    return order if usual > 0 and bool(fills) else None


@dataclass(frozen=True)
class Spread:
    """Times [s] after spreading, and the notes on it."""

    time_s: Floats
    notes: tuple[str, ...]


def spread_repeats(t: Floats) -> Spread:
    """Spread readings with the same stamp evenly until the next stamp; t : (n,) seconds, never going back.

    >>> spread_repeats(np.array([0.0, 0.0, 1.0, 1.0, 2.0])).time_s.tolist()
    [0.0, 0.5, 1.0, 1.5, 2.0]
    """
    if len(t) < 2:
        return Spread(t, ())
    fresh = np.concatenate(([True], np.diff(t) > 0))
    if bool(fresh.all()):
        return Spread(t, ())
    starts = np.flatnonzero(fresh)
    counts = np.diff(np.concatenate((starts, [len(t)])))
    stamps = t[starts]
    gaps = np.diff(stamps)
    whole = bool(np.all(stamps == np.round(stamps)))
    usual = float(np.median(counts))
    resolution = float(gaps.min()) if gaps.size and not whole else 1.0
    if gaps.size and whole and (usual >= _COARSE or bool(np.all(gaps % 60 == 0))):
        resolution = float(np.gcd.reduce(gaps.astype(np.int64)))
    stalled = counts > max(20 * usual, 30)
    room = np.minimum(np.concatenate((gaps, [resolution])), resolution)
    room[:-1][stalled[:-1]] = gaps[stalled[:-1]]
    late = 0.0
    if resolution > 1:  # a log begins and ends in the middle of its first and last stamp
        room[[0, -1]] *= np.minimum(1.0, counts[[0, -1]] / usual)
        late = resolution - float(room[0])
    within = np.arange(len(t)) - np.repeat(starts, counts)
    out = t + within * np.repeat(room / counts, counts)
    out[: counts[0]] += late
    repeated = int(np.count_nonzero(counts > 1))
    notes = [
        f"{repeated} stamps are shared by several readings (clock of {resolution:g} s): spread evenly "
        f"within each."
    ]
    if np.any(stalled):
        notes.append(
            f"The clock stood still for {int(counts[stalled].max())} readings: spread until its next stamp."
        )
    return Spread(out, tuple(notes))
