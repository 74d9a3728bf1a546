"""Files of a known meter: recognised by their titles, and read as was decided for the last one."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.importer.choices import Choices
from estimator.importer.layout.layout import DELIMITERS, split
from estimator.importer.meter import Meter
from estimator.importer.table.opened_file import Table
from estimator.importer.table.quantities import plain

_TITLE_LINES = 500
"""How many lines at the start of a file are searched for titles."""


def recognised(lines: Sequence[str | list[str]], meters: Sequence[Meter]) -> Meter | None:
    """The meter whose titles are among the first lines of a table; else one without a signature.

    >>> clamp = Meter("clamp", signature="time|amps|volts")
    >>> [found and found.name for found in (recognised([x], [clamp]) for x in ("Time;Amps;Volts", "t;I;U"))]
    ['clamp', None]
    """
    signed = {m.signature: m for m in meters if m.signature}
    if signed:
        for line in lines[:_TITLE_LINES]:
            for delimiter in DELIMITERS[:4]:
                cells = line if isinstance(line, list) else split(line, delimiter)
                found = signed.get("|".join(plain(c.strip()) for c in cells))
                if found is not None:
                    return found
    return next((m for m in meters if not m.signature), None)


def with_meter(choices: Choices, meter: Meter | None) -> Choices:
    """The choices, completed by what was decided for the meter.

    >>> with_meter({"gap_s": 5.0}, Meter("clamp", gap_s=30.0, interval_s=2.0))
    {'interval_s': 2.0, 'gap_s': 5.0}
    """
    if meter is None:
        return choices
    own: Choices = {"columns": dict(meter.columns), "decimal": meter.decimal, "interval_s": meter.interval_s,
                    "gap_s": meter.gap_s, "state": meter.state, "day_first": meter.day_first}  # fmt: skip
    told = {name: value for name, value in choices.items() if value not in (None, {}, "")}
    return {name: value for name, value in {**own, **told}.items() if value not in (None, {})}  # type: ignore[return-value]


def sheet_of_meter(table: Table, choices: Choices) -> str | None:
    """The sheet kept for a known meter whose titles it has; None where the user named a sheet."""
    if choices.get("sheet") is not None:
        return None
    for title, rows in table.sheets:
        named = [m for m in choices.get("meters", ()) if m.sheet and plain(m.sheet) == plain(title)]
        if named and recognised(list(rows), named) is not None:
            return title
    return None
