"""What the measured cells of one row hold: quantity, value and unit, or an overload."""

from __future__ import annotations

import math

from estimator.errors import InputError
from estimator.importer.layout.layout import Layout
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.quantities import Unit, unit_of
from estimator.importer.table.titles import meaning

CHANNELS = (q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)


def read_cells(cells: list[str], row: int, layout: Layout, units: dict[str, set[float]]) -> dict[str, float]:
    """What the measured cells of one row hold, in A, V, W or °C; infinite for an overload of the meter."""
    values: dict[str, float] = {}
    fault: InputError | None = None
    for column in layout.measured:
        text = cells[column.index] if column.index < len(cells) else ""
        cell = number(text, layout.decimal)
        if cell.kind is Cell.TEXT and fault is None:
            title = layout.titles[column.index] if layout.titles else column.quantity
            fault = InputError(
                f"{title} is {text.strip()[:40]!r}, not a number",
                row=row,
                mend="correct the cell or leave it empty",
            )
        quantity, unit = what_is(column.quantity, column.unit, cell.unit, column.unit_index, cells)
        if quantity is None:
            if column.unit_index is not None and cell.kind is Cell.NUMBER:
                told = cells[column.unit_index].strip() if column.unit_index < len(cells) else ""
                if column.quantity == q.VALUE and not is_other(told):
                    raise InputError(f"unit is {told[:20]!r}", row=row, mend="write A, V or W")
            elif cell.unit is not None:
                raise InputError(
                    f"{column.title} is {text.strip()[:40]!r}",
                    row=row,
                    mend="write it in a unit of that column, such as A for current and V for voltage",
                )
        elif cell.kind is Cell.OVERLOAD:
            values[quantity] = math.inf
        elif cell.kind is Cell.NUMBER:
            scale, shift = (unit.scale, unit.shift) if unit else (1.0, 0.0)
            values[quantity] = cell.value * scale + shift
            if unit:
                units.setdefault(quantity, set()).add(unit.scale)
    told = "".join(cells[c.index] for c in layout.measured if c.index < len(cells))
    if fault is not None and any(map(str.isdigit, told)):
        raise fault  # a row of words alone, such as "no answer", is a reading that failed
    return values


def told_unit(text: str) -> Unit | None:
    """The unit that a cell names, or that of what it says was measured, such as "DC current"; else None."""
    told = meaning(text)
    by_word = (told.unit or Unit(told.quantity)) if told and told.quantity in CHANNELS else None
    return unit_of(text) or by_word


def is_other(text: str) -> bool:
    """Whether a cell names no unit, or the unit of a quantity that is not used, such as ohms.

    >>> is_other("ohm"), is_other(""), is_other("V")
    (True, True, False)
    """
    found = told_unit(text)
    return not text or (found is not None and found.quantity not in CHANNELS)


def what_is(
    quantity: str, title_unit: Unit | None, cell_unit: Unit | None, unit_index: int | None, cells: list[str]
) -> tuple[str | None, Unit | None]:
    """Which quantity a cell holds, and in which unit, by its title, its own unit or the column of units.

    None where the unit belongs to another quantity.
    """
    unit = cell_unit or title_unit
    if unit_index is not None and cell_unit is None:
        unit = told_unit(cells[unit_index]) if unit_index < len(cells) else None
        if unit is None and quantity != q.VALUE:
            return quantity, title_unit
    if quantity == q.VALUE:
        return (unit.quantity, unit) if unit is not None and unit.quantity in CHANNELS else (None, None)
    if unit is not None and unit.quantity != quantity:
        return None, None
    return quantity, unit
