"""Which quantity and unit a cell has where a column, a unit column or the cell itself says so."""

from __future__ import annotations

import re

from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import Unit, unit_of
from estimator.importer.table.titles import meaning

CHANNELS = (q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)
_FUNCTION = re.compile(r"^(?:[da]c)?\s*([mµμuk]?[avw])\s*(?:[da]c)?$", re.IGNORECASE)


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
