"""The layout of a table whose columns the user named."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from estimator.errors import InputError
from estimator.importer.choices import Choices
from estimator.importer.clock.stamps import style_of
from estimator.importer.layout.columns import Found, checked
from estimator.importer.layout.layout import cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit, plain, unit_of
from estimator.importer.table.titles import Meaning, meaning
from estimator.mends import Give

_CHOICES = (q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)


def named_layout(lines: Sequence[str | list[str]], delimiter: str | None, choices: Choices) -> Found | None:
    """The layout with the columns that the user named; other columns are still known by their titles."""
    columns = choices.get("columns") or {}
    for key in columns:
        if key not in _CHOICES:
            raise InputError(f"columns has {key!r}", mend=f"use {', '.join(_CHOICES)}")
    for k, line in enumerate(lines[:2000]):
        cells = [c.strip() for c in cells_of(line, delimiter)]
        placed = {key: place(cells, value) for key, value in columns.items()}
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
        row = 0 if is_reading else k + 1
        found = checked(lines, k if is_reading else k + 1, row, cells, meanings, delimiter, choices)
        if found:
            if not is_reading and not {q.TIME, q.CURRENT, q.VOLTAGE} <= places.keys():
                _check_named(cells, told, places, {key: unit for key, (_, unit) in placed.items()}, row)
            return found
    return None


def _check_named(
    titles: Sequence[str],
    told: Sequence[Meaning | None],
    places: Mapping[str, int],
    units: Mapping[str, Unit | None],
    row: int,
) -> None:
    """InputError where the title of a named column contradicts the user; giving a unit overrules it."""
    for key, at in places.items():
        own = told[at]
        # A single letter says too little to contradict the user.
        if own is None or units[key] is not None or key in (q.TIME, q.DATE) or len(titles[at]) < 2:
            continue
        letter = {q.CURRENT: "A", q.VOLTAGE: "V", q.POWER: "W"}.get(key, "C")
        mend = ("name another column, or insist with ", Give.column(key, f"{at + 1}[{letter}]"))
        if own.quantity in (*q.MEASURED, q.CHARGE, q.ENERGY, q.GAUGE) and own.quantity != key:
            raise InputError(f"{titles[at]!r} is {own.quantity}, not {key}", row=row, mend=mend)
        better = [
            titles[k]
            for k, m in enumerate(told)
            if m and m.quantity == key and m.unit and m.doubt < own.doubt - 1
        ]
        if own.quantity == key and own.doubt >= 2 and better:
            raise InputError(
                f"{titles[at]!r} is not the {key} of the pack, which {better[0]!r} seems to be",
                row=row,
                mend=mend,
            )


_IN_BRACKETS = re.compile(r"(.*?)\s*\[([^\[\]]{1,16})\]")


def place(cells: Sequence[str], value: str | int) -> tuple[int | None, Unit | None]:
    """The place of the column named by its title or its number from 1, and the unit given for it.

    >>> place(["Strom [mA]", "U"], "2[mV]")[0], place(["Strom [mA]", "U"], "Strom [mA]")
    (1, (0, None))
    """
    plains, text = [plain(c) for c in cells], str(value).strip()
    if not text.isdigit() and plain(text) in plains:  # a title may itself hold brackets
        return plains.index(plain(text)), None
    found = _IN_BRACKETS.fullmatch(text)
    base, given = found.groups() if found else (text, "")
    if not base.isdigit() and plain(base) not in plains:
        return None, None
    unit = _given_unit(given)
    if given and unit is None:
        raise InputError(f"unit {given!r} is not known", mend="write A, mA, V, mV, s, min or h")
    at = int(base) - 1 if base.isdigit() else plains.index(plain(base))
    return (at if 0 <= at < len(cells) else None), unit


def _given_unit(text: str) -> Unit | None:
    """A unit as the user gives it; for time also a multiple of one, such as 20 ms for a tick."""
    many = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(\D+)", text)
    one = unit_of(many.group(2)) if many else None
    if many and one is not None and one.quantity == q.TIME and float(many.group(1)) > 0:
        return Unit(q.TIME, one.scale * float(many.group(1)))
    return unit_of(text)
