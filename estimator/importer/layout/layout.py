"""How a table is laid out: delimiter, titles, the columns that are used, decimal mark."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass

from estimator.importer.table.quantities import Unit, plain
from estimator.importer.table.titles import Meaning

DELIMITERS = ("\t", ";", "|", ",", " ")


@dataclass(frozen=True)
class Column:
    """One column that is used: its place from 0, what it measures, its unit and title.

    unit_index : place of the column that gives the unit, where there is one
    """

    index: int
    quantity: str
    unit: Unit | None
    title: str
    unit_index: int | None = None


@dataclass(frozen=True)
class Layout:
    """How a table is laid out.

    delimiter : None where the cells are already separate (spreadsheets)
    header_row, first_row : lines of the titles (0 without) and of the first reading, from 1
    time, date : columns of the stamps; measured : the other columns that are used
    style : style of the stamps; titles : cells of the title line; meanings : what each title means
    every_s : time between rows [s] where the table has no clock
    """

    delimiter: str | None
    decimal: str
    header_row: int
    first_row: int
    titles: tuple[str, ...]
    time: Column
    date: Column | None
    measured: tuple[Column, ...]
    style: str
    notes: tuple[str, ...] = ()
    meanings: tuple[Meaning | None, ...] = ()
    every_s: float | None = None

    @property
    def unit_columns(self) -> bool:
        """Whether a column of values has a column of units."""
        return any(c.unit_index is not None for c in self.measured)

    @property
    def signature(self) -> str:
        """The titles, by which files of the same meter are known again."""
        return "|".join(plain(t) for t in self.titles) if self.titles else ""

    def stamp(self, cells: Sequence[str]) -> str:
        """The stamp of a row: its date and clock joined."""
        if self.every_s is not None:
            return ""
        time = cells[self.time.index] if self.time.index < len(cells) else ""
        if self.date is None:
            return time.strip()
        date = cells[self.date.index] if self.date.index < len(cells) else ""
        if self.date.index < self.time.index and " " in date.strip() and ":" in date:
            date = date.split()[0]
        return f"{date.strip()} {time.strip()}".strip()


def split(line: str, delimiter: str) -> list[str]:
    """One line as cells.

    >>> split('1;"2;3";4', ";")
    ['1', '2;3', '4']
    """
    if delimiter == " ":
        return line.split()
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            return line.split(delimiter)
    return line.split(delimiter)


def cells_of(line: str | list[str], delimiter: str | None) -> list[str]:
    """The cells of a line; those of a spreadsheet are already split.

    >>> cells_of("1;2", ";"), cells_of(["1", "2"], None)
    (['1', '2'], ['1', '2'])
    """
    return line if isinstance(line, list) else split(line, delimiter or ",")
