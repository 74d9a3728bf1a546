"""The layout of a table whose columns the user named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.errors import InputError
from estimator.importer.choices import named_column
from estimator.importer.clock.stamps import style_of
from estimator.importer.table import quantities as q
from estimator.importer.table.layout import cells_of
from estimator.importer.table.layout_checked import Found, checked
from estimator.importer.table.quantities import Unit, plain, unit_of
from estimator.importer.table.titles import Meaning, meaning

_CHOICES = (q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)


def named_layout(
    lines: Sequence[str | list[str]],
    delimiter: str | None,
    columns: Mapping[str, str | int],
    decimal: str | None,
    file: str | None,
    every_s: float | None,
) -> Found | None:
    """The layout with the columns that the user named; what they did not name is still known by its title."""
    for key in columns:
        if key not in _CHOICES:
            raise InputError(f"columns has {key!r}", file=file, mend=f"use {', '.join(_CHOICES)}")
    for k, line in enumerate(lines[:2000]):
        cells = [c.strip() for c in cells_of(line, delimiter)]
        placed = {key: _place(cells, value, file) for key, value in columns.items()}
        places = {key: at for key, (at, _) in placed.items() if at is not None}
        if len(places) < len(columns):
            continue
        told = [meaning(c) for c in cells]
        meanings = [m if m and m.quantity not in places else None for m in told]
        for key, at in places.items():
            own = told[at]
            unit = own.unit if own and own.unit and own.unit.quantity in (key, q.TIME) else None
            meanings[at] = Meaning(key, placed[key][1] or unit)
        numbers_only = all(str(value).partition("[")[0].strip().isdigit() for value in columns.values())
        first = cells[places.get(q.TIME, places.get(q.CURRENT, next(iter(places.values()))))]
        is_reading = numbers_only and style_of([first]) is not None
        found = checked(
            lines,
            k if is_reading else k + 1,
            0 if is_reading else k + 1,
            cells,
            meanings,
            delimiter,
            decimal,
            every_s,
        )
        if found:
            return found
    return None


def _place(cells: Sequence[str], value: str | int, file: str | None) -> tuple[int | None, Unit | None]:
    """Where in a line the column stands that was named, and the unit that was given for it."""
    plains = [plain(c) for c in cells]
    for named in named_column(value):
        unit = unit_of(named.unit) if named.unit else None
        if named.number is not None:
            if named.unit and unit is None:
                raise InputError(
                    f"unit {named.unit!r} is not known", file=file, mend="write A, mA, V, mV, s, min or h"
                )
            return (named.number - 1 if 0 < named.number <= len(cells) else None), unit
        if plain(named.title) in plains:
            return plains.index(plain(named.title)), unit
    return None, None
