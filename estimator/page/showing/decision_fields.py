"""The fields of a form that overrule how a file is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from estimator.errors import ShownColumn
from estimator.mends import Give

QUANTITIES = ("time", "date", "current", "voltage", "power", "temperature")


@dataclass(frozen=True)
class DecisionField:
    """One decision that can be overruled: its label, what to enter, and the choices if there are few."""

    label: str
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()


_DECIDE = ("", "decided from the file")
DECISIONS: dict[str, DecisionField] = {
    **{
        f"column_{quantity}": DecisionField(
            f"Column of the {quantity}", "its title or number from 1; with its unit: 3[mA]"
        )
        for quantity in QUANTITIES
    },
    "state": DecisionField("Column that says charging or discharging", "its title, or its number from 1"),
    "interval_s": DecisionField("Seconds between two rows", "where the file has no clock"),
    "gap_s": DecisionField(
        "Longest step that counts as measured, s", "for meters that pause while nothing changes"
    ),
    "gaps": DecisionField(
        "Minutes without readings",
        "",
        (_DECIDE, ("break", "a break, nothing ran"), ("mowing", "the motor ran on")),
    ),
    "sheet": DecisionField("Sheet", "of a spreadsheet"),
    "day_first": DecisionField(
        "Dates such as 03/04", "", (_DECIDE, ("yes", "3 April: the day comes first"), ("no", "4 March"))
    ),
    "decimal": DecisionField("Decimal mark", "", (_DECIDE, (".", "point"), (",", "comma"))),
    "reverse": DecisionField(
        "Clamp", "", (_DECIDE, ("yes", "sat the wrong way round"), ("no", "sat the right way round"))
    ),
    "zero_a": DecisionField(
        "Zero error of the clamp, A", "taken off every reading; 0 leaves them as they are"
    ),
    "offset_s": DecisionField("Seconds to add to the voltmeter's clock", "for two meters"),
}
"""Decisions that can be overruled on the page, by the name of their field."""

TOUCHED = (
    ("", "as read"), ("time", "time"), ("date", "date"), ("current", "amps"),
    ("current[mA]", "milliamps"), ("voltage", "volts"), ("voltage[mV]", "millivolts"), ("power", "watts"),
    ("temperature", "temperature"), ("state", "charging or discharging"),
)  # fmt: skip
"""What the user can say that a column of a refused table holds, with its unit where that is needed."""


_LABELS = {
    "started": "Began", "start_charge": "Charge at the start, %", "series": "Cells in series",
    "lawn": "Lawn", "pack": "Pack", "machine": "Machine",
}  # fmt: skip
"""Labels of other fields that a mend can ask for."""


def field_of(give: Give) -> str:
    """The name of the field that takes what a mend asks for."""
    return f"column_{give.quantity}" if give.quantity else give.name


def as_sent(give: Give) -> str:
    """What a mend asks for, written as the interface takes it.

    >>> as_sent(Give("columns", "3[mA]", "current")), as_sent(Give("day_first", False))
    ('column_current=3[mA]', 'day_first=no')
    """
    return field_of(give) + ("" if give.value is None else f"={give.plain_value}")


def labelled(give: Give) -> str:
    """What a mend asks for, by the label of its field.

    >>> labelled(Give("columns", "TITLE", "current")), labelled(Give("day_first", False))
    ('“Column of the current”', '“Dates such as 03/04”')
    """
    name = field_of(give)
    return f"“{DECISIONS[name].label if name in DECISIONS else _LABELS[name]}”"


def labelled_below(give: Give) -> str:
    """As `labelled`, on the page of the upload, where these fields are further down."""
    return f"{labelled(give)} below"


def holds(said: Mapping[str, str], column: ShownColumn) -> str:
    """What the user said that a column holds, as one of the choices in TOUCHED; blank where nothing was said.

    >>> holds({"column_current": "3[mA]"}, ShownColumn(3, "", (), "numbers"))
    'current[mA]'
    """
    for name, text in said.items():
        number, bracket, unit = text.partition("[")
        if number == str(column.number) and (name == "state" or name.startswith("column_")):
            return name.removeprefix("column_") + bracket + unit
    return ""
