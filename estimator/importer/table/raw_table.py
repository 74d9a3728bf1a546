"""The readings of one table as they stand, what their cells hold, and how they grow in little memory."""

from __future__ import annotations

import math
import re
from array import array
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from estimator.importer.arrays import Bools, Floats, Ints
from estimator.importer.clock.stamps import CLOCKS, Parts, Stamps
from estimator.importer.layout.layout import Layout
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit, unit_of
from estimator.importer.table.titles import meaning

CHANNELS = (q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)
_FUNCTION = re.compile(r"^(?:[da]c)?\s*([mµμuk]?[avw])\s*(?:[da]c)?$", re.IGNORECASE)


@dataclass(frozen=True)
class RawTable:
    """What stands in a table, in A, V, W and °C; nan where a cell holds no number.

    rows : (n,) line in the file; channels : quantity to (n,) values; overload : quantity to (n,) markers of
        overload
    title_rows : lines on which the titles stand again
    mixed : whether the rows hold different quantities in turn (one meter switched between amps and volts)
    """

    layout: Layout
    rows: Ints
    stamps: Stamps
    channels: dict[str, Floats]
    overload: dict[str, Bools]
    notes: tuple[str, ...] = ()
    mixed: bool = False
    title_rows: tuple[int, ...] = ()

    def turned(self, order: Ints) -> RawTable:
        """The same with its readings in another order (n,); the stamps stay."""
        channels = {quantity: values[order] for quantity, values in self.channels.items()}
        overload = {quantity: marks[order] for quantity, marks in self.overload.items()}
        return replace(self, rows=self.rows[order], channels=channels, overload=overload)


@dataclass(frozen=True)
class Cells:
    """What the measured cells of one row hold: values in A, V, W or °C, and overloads."""

    values: dict[str, float]
    over: frozenset[str] = frozenset()


@dataclass
class Grown:
    """The rows read so far, in compact arrays: a long file must not cost many times its size."""

    rows: array[int]
    dates: tuple[array[int], ...]  # none where the stamps hold no date
    seconds: array[float]
    halves: array[int]
    zones: array[float]
    channels: dict[str, array[float]]
    overs: dict[str, array[int]]
    short_clock: bool = True
    mixed: bool = False

    def add(self, row: int, part: Parts, cells: Cells) -> None:
        """Take one row."""
        self.rows.append(row)
        for held, value in zip(self.dates, (part.a, part.b, part.c), strict=False):
            held.append(value)
        self.seconds.append(part.seconds)
        self.halves.append(part.half)
        self.zones.append(part.zone_s)
        for channel, held_values in self.channels.items():
            held_values.append(cells.values.get(channel, math.nan))
            self.overs[channel].append(channel in cells.over)
        self.short_clock = self.short_clock and part.short

    def drop_last(self) -> None:
        """Forget the last row."""
        columns: tuple[array[Any], ...] = self.dates
        for held in (*columns, self.rows, self.seconds, self.halves, self.zones):
            held.pop()
        for channel in self.channels:
            self.channels[channel].pop()
            self.overs[channel].pop()


def _is_dated(layout: Layout) -> bool:
    return layout.style not in ("number", *CLOCKS)


def nothing_grown(layout: Layout) -> Grown:
    """No rows yet, with room for what the layout may bring."""
    told_by_cell = any(c.quantity == q.VALUE for c in layout.measured)
    channels = CHANNELS if told_by_cell else tuple(c.quantity for c in layout.measured)
    return Grown(
        array("q"),
        tuple(array("i") for _ in "abc" if _is_dated(layout)),
        array("d"),
        array("b"),
        array("d"),
        {c: array("d") for c in channels},
        {c: array("b") for c in channels},
    )


def as_table(
    layout: Layout, grown: Grown, notes: tuple[str, ...], example: str, title_rows: tuple[int, ...] = ()
) -> RawTable:
    """The rows gathered, as arrays on the same memory; `example` is any one stamp."""
    channels: dict[str, Floats] = {}
    overload: dict[str, Bools] = {}
    for channel, held in grown.channels.items():
        values, marks = (
            np.frombuffer(held, dtype=np.float64),
            np.frombuffer(grown.overs[channel], dtype=np.bool_),
        )
        if bool(np.any(np.isfinite(values))) or bool(marks.any()):
            channels[channel], overload[channel] = values, marks
    n, halves = len(grown.rows), np.frombuffer(grown.halves, dtype=np.int8)
    date: Ints = np.broadcast_to(np.int64(0), (n, 3))
    if _is_dated(layout):
        date = np.column_stack([np.frombuffer(d, dtype=np.int32) for d in grown.dates]).astype(np.int64)
    return RawTable(
        layout=layout,
        rows=np.frombuffer(grown.rows, dtype=np.int64),
        stamps=Stamps(
            style=layout.style,
            date=date,
            seconds=np.frombuffer(grown.seconds, dtype=np.float64),
            half=halves.astype(np.int64) if halves.any() else np.broadcast_to(np.int64(0), (n,)),
            zone_s=np.frombuffer(grown.zones, dtype=np.float64),
            short=grown.short_clock,
            example=example,
        ),
        channels=channels,
        overload=overload,
        notes=notes,
        mixed=grown.mixed,
        title_rows=title_rows,
    )


_FEWEST_COPIES = 20
"""So many readings that come again with their stamps are no chance."""


def without_copies(raw: RawTable) -> RawTable:
    """The rows once, where the clock goes back to times that the file holds already, with the same readings.

    As when exports of overlapping times, or one export twice, were put together.
    """
    s = raw.stamps
    turns = np.flatnonzero((np.diff(s.seconds) < 0) & (np.diff(s.date, axis=0) == 0).all(axis=1)) + 1
    if s.style == "number" or not turns.size:
        return raw
    rows = np.nan_to_num(np.column_stack((s.date, s.half, s.seconds, *raw.channels.values())), nan=-9e9)
    _, first, of = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    copied = first[of.ravel()] < np.arange(len(rows))
    copied[: turns[0]] = False
    if int(copied.sum()) < _FEWEST_COPIES or not copied[turns[0]]:
        return raw
    kept = np.flatnonzero(~copied)
    said = (
        f"{int(copied.sum())} rows from row {int(raw.rows[turns[0]])} on stand in the file already: left out."
    )
    stamps = replace(s, date=s.date[kept], seconds=s.seconds[kept], half=s.half[kept], zone_s=s.zone_s[kept])
    return replace(raw.turned(kept), stamps=stamps, notes=(*raw.notes, said))


def _function_unit(text: str) -> Unit | None:
    found = unit_of(text)
    if found:
        return found
    short = _FUNCTION.match(text.strip())
    if short:
        return unit_of(short.group(1))
    told = meaning(text)
    if told and told.quantity in CHANNELS:
        return told.unit or Unit(told.quantity)
    return None


def is_other(text: str) -> bool:
    """Whether a cell names no unit, or one of a quantity that is not wanted, such as ohms.

    >>> is_other("ohm"), is_other("V")
    (True, False)
    """
    found = _function_unit(text)
    return not text or (found is not None and found.quantity not in CHANNELS)


def what_is(
    quantity: str, title_unit: Unit | None, cell_unit: Unit | None, unit_index: int | None, cells: list[str]
) -> tuple[str | None, Unit | None]:
    """Which quantity a cell holds and in which unit, from its title, its own unit or the unit's own column.

    None where the unit is that of another quantity.
    """
    unit = cell_unit or title_unit
    if unit_index is not None and cell_unit is None:
        unit = _function_unit(cells[unit_index]) if unit_index < len(cells) else None
        if unit is None and quantity != q.VALUE:
            return quantity, title_unit
    if quantity == q.VALUE:
        return (unit.quantity, unit) if unit is not None and unit.quantity in CHANNELS else (None, None)
    if unit is not None and unit.quantity != quantity:
        return None, None
    return quantity, unit
