"""The columns of a table that may be witnesses, read in addition to the readings."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats, Ints
from estimator.importer.clock.alike import stamps_of
from estimator.importer.clock.clock_axes import DAY_S, days_from_civil
from estimator.importer.clock.stamps import CLOCKS, style_of
from estimator.importer.layout.layout import Layout
from estimator.importer.layout.named import place
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import number
from estimator.importer.table.opened_file import Table
from estimator.importer.table.quantities import Unit, plain
from estimator.importer.table.titles import Meaning

_TELLING = (q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.CHARGE, q.ENERGY, q.GAUGE)
_STATES = (q.FUNCTION, q.OTHER, q.CHARGE)
_MOST_STATES = 40
"""Most different words in a column of states; a column of notes has more."""


@dataclass(frozen=True)
class Witness:
    """One column whose title says what it is: its place from 0, and its numbers (n,), nan without one."""

    index: int
    title: str
    meaning: Meaning
    values: Floats

    @property
    def scale(self) -> float | None:
        """What one count is by the column's title; None where the title has no unit."""
        unit = self.meaning.unit
        return unit.scale if unit is not None and unit.quantity == self.meaning.quantity else None


@dataclass(frozen=True)
class ClockColumn:
    """One column of stamps: (n,) seconds, or plain numbers where its unit is not known.

    style : as in `stamps`; unit : of plain numbers; backs : how often it goes back
    short : whether it has two fields, which are taken as minutes and seconds
    """

    index: int
    title: str
    style: str
    values: Floats
    unit: Unit | None
    doubt: int
    backs: int
    short: bool = False


@dataclass(frozen=True)
class Heard:
    """What the columns of a table say.

    rows : (n,) lines of the file; witnesses : columns of numbers; clocks : columns of stamps
    states : columns of words, each as its title and its (n,) words
    """

    rows: Ints
    witnesses: tuple[Witness, ...]
    clocks: tuple[ClockColumn, ...]
    states: tuple[tuple[str, np.ndarray[tuple[int], np.dtype[np.object_]]], ...]

    def of(self, quantity: str) -> list[Witness]:
        """The witnesses of one quantity, the least doubted first."""
        found = [w for w in self.witnesses if w.meaning.quantity == quantity]
        return sorted(found, key=lambda w: w.meaning.doubt)


def is_worth_hearing(layout: Layout) -> bool:
    """Whether a table has columns besides its readings that may be witnesses, or readings without a unit.

    Where every column is used and every unit given, there is nothing to hear.
    """
    if layout.unit_columns or any(c.quantity == q.VALUE for c in layout.measured):
        return False
    used = {c.index for c in (layout.time, layout.date, *layout.measured) if c is not None}
    others = [k for k in range(len(layout.titles)) if k not in used and layout.titles[k]]
    bare = [c for c in layout.measured if c.unit is None and c.quantity in (q.CURRENT, q.VOLTAGE)]
    return bool(others or bare)


def hear(table: Table, layout: Layout, state: str | int | None = None) -> Heard:
    """Read every column of a table that may be a witness by its title or words.

    state : title or number, where the user named one, of the only column of words to be heard
    Raises InputError where there is no such column.
    """
    columns = range(len(layout.titles))
    only = None if state is None else place(layout.titles, state)[0]
    if state is not None and only is None:
        raise InputError(f"no column {str(state)!r} for the state", mend="give its title or number")
    held: dict[int, list[str]] = {k: [] for k in columns if layout.titles[k]}
    rows: list[int] = []
    for row, cells in enumerate(table.rows(layout.delimiter), start=1):
        if row < layout.first_row or len(cells) < 2 or cells[0].lstrip().startswith(("#", "//")):
            continue
        rows.append(row)
        for k, column in held.items():
            column.append(cells[k] if k < len(cells) else "")
    values: dict[int, Floats] = {}
    states, stamps = [], []
    for k, column in held.items():
        told = layout.meanings[k]
        if told is not None and told.quantity in (q.TIME, q.DATE):
            stamps.append(k)
        elif (
            told is not None
            and told.quantity in _TELLING
            and not (told.quantity == q.CHARGE and all(c.strip()[:1].isalpha() for c in set(column)))
        ):
            values[k] = as_numbers(column, layout.decimal)
        elif only == k or (only is None and (told is None or told.quantity in _STATES)):
            words = np.array([plain(c) for c in column], dtype=object)
            if len(set(words[:2000])) <= _MOST_STATES and (
                set(words) == {"0", "1"} or any(w[:1].isalpha() for w in words[:400] if w)
            ):
                states.append((layout.titles[k], words))
    measured = [v for k, v in values.items() if (m := layout.meanings[k]) and m.quantity in q.MEASURED]
    if not measured:
        return Heard(np.zeros(0, dtype=np.int64), (), (), ())
    keep = np.any([np.isfinite(v) for v in measured], axis=0)
    witnesses = [
        Witness(k, layout.titles[k], m, found[keep])
        for k, found in values.items()
        if (m := layout.meanings[k])
    ]
    clocks: list[ClockColumn] = []
    for k in stamps:
        column = [c for c, kept in zip(held[k], keep, strict=True) if kept]
        clocks += _clock(k, layout.titles[k], layout.meanings[k], column, layout.decimal)
    return Heard(
        np.array(rows, dtype=np.int64)[keep],
        tuple(witnesses),
        tuple(clocks),
        tuple((title, words[keep]) for title, words in states),
    )


def as_numbers(cells: list[str], decimal: str) -> Floats:
    """Cells as numbers, nan where there is none.

    >>> as_numbers(["1,5", "OL", "2"], ",").tolist()
    [1.5, nan, 2.0]
    """
    if decimal == ".":
        with suppress(ValueError):  # ten times as quick, where all cells are plain numbers
            found = np.array([float(cell) for cell in cells])
            return np.where(np.isfinite(found), found, np.nan)
    read = [number(cell, decimal) for cell in cells]
    return np.array([cell.value * (cell.unit.scale if cell.unit else 1.0) for cell in read])


def _clock(k: int, title: str, told: Meaning | None, cells: list[str], decimal: str) -> list[ClockColumn]:
    """The column as a clock; empty where it is not one, or never moves."""
    style = style_of(cells, decimal)
    if style is None or told is None:
        return []
    unit = told.unit if told.unit is not None and told.unit.quantity == q.TIME else None
    if style == "number":
        values = as_numbers(cells, decimal)
    else:
        values, unit = _instants(cells, style, decimal), Unit(q.TIME)
    seen = values[np.isfinite(values)]
    if len(seen) < 0.9 * len(values) or len(seen) < 2 or float(np.ptp(seen)) == 0:
        return []
    steps = np.diff(seen)
    backs = int(np.count_nonzero(steps < 0))
    if np.count_nonzero(steps > 0) < backs:  # newest first
        backs = int(np.count_nonzero(steps > 0))
    short = style in CLOCKS and all(c.count(":") == 1 for c in cells[:50] if c.strip())
    return [ClockColumn(k, title, style, values, unit, told.doubt, backs, short)]


def _instants(cells: list[str], style: str, decimal: str) -> Floats:
    """Stamps (n,) as seconds on one axis; a clock of two fields counts as minutes and seconds."""
    stamps = stamps_of(cells, style, decimal)
    clock = stamps.seconds
    if style in CLOCKS:
        return clock / 60 if stamps.short else clock
    year, month, day = stamps.date.T if style != "year last" else stamps.date.T[::-1]
    return days_from_civil(year, month, day) * DAY_S + clock
