"""The readings of one table as they are in the file."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from estimator.importer.arrays import Bools, Floats, Ints
from estimator.importer.clock.stamps import Stamps
from estimator.importer.layout.layout import Layout


@dataclass(frozen=True)
class RawTable:
    """What a table holds, in A, V, W and °C; nan where a cell holds no number.

    rows : (n,) line in the file; channels, overload : values (n,) and marks of overload (n,) by quantity
    title_rows : lines on which the titles are repeated
    """

    layout: Layout
    rows: Ints
    stamps: Stamps
    channels: dict[str, Floats]
    overload: dict[str, Bools]
    notes: tuple[str, ...] = ()
    title_rows: tuple[int, ...] = ()

    def turned(self, order: Ints) -> RawTable:
        """The table with its readings in another order (n,); the stamps stay."""
        channels = {quantity: values[order] for quantity, values in self.channels.items()}
        overload = {quantity: marks[order] for quantity, marks in self.overload.items()}
        return replace(self, rows=self.rows[order], channels=channels, overload=overload)


_FEWEST_COPIES, _VALUES, _MOST_OF = 20, 10, 0.95
"""This many readings that come again with their stamps are not a coincidence. Seconds from a start come again
in every log: there it takes so many different readings, and this share of all that could come again."""


def without_copies(raw: RawTable) -> RawTable:
    """The table with each row once, where the clock goes back and readings come again with their stamps.

    That happens where exports of overlapping times, or one export twice, were put together.
    """
    s, n = raw.stamps, len(raw.rows)
    turns = np.flatnonzero((np.diff(s.seconds) < 0) & (np.diff(s.date, axis=0) == 0).all(axis=1)) + 1
    if not turns.size:
        return raw
    rows = np.nan_to_num(np.column_stack((s.date, s.seconds, *raw.channels.values())), nan=-9e9)
    _, first, of = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    copied = first[of.ravel()] < np.arange(n)
    copied[: turns[0]] = False
    count = int(copied.sum())
    if count < _FEWEST_COPIES or not copied[turns[0]]:
        return raw
    if s.style == "number" and (
        count < _MOST_OF * min(turns[0], n - turns[0]) or len(np.unique(rows[copied, 4:], axis=0)) < _VALUES
    ):
        return raw
    kept = np.flatnonzero(~copied)
    said = f"{count} rows from row {int(raw.rows[turns[0]])} on are already in the file: left out."
    stamps = replace(s, date=s.date[kept], seconds=s.seconds[kept], zone_s=s.zone_s[kept])
    return replace(raw.turned(kept), stamps=stamps, notes=(*raw.notes, said))
