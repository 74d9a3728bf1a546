"""The table of a file that was refused, shown below the line that says why."""

from __future__ import annotations

from estimator.errors import ShownTable
from estimator.mends import Door
from estimator.report.words.text import table


def refused_text(shown: ShownTable, door: Door) -> str:
    """Every sheet's numbered titles with three values each, and how to say what is what, as `door` words it.

    >>> from estimator.errors import Give, ShownColumn, ShownSheet
    >>> columns = (ShownColumn(1, "amps", ("0", "4.1"), "current [A]"),)
    >>> print(refused_text(ShownTable((ShownSheet("", columns),), (Give("interval_s", "SECONDS"),)), str))
    column  title  values  taken for
         1  amps   0; 4.1  current [A]
    To say what is what: interval_s=SECONDS
    """
    parts = []
    for sheet in shown.sheets:
        rows = [[str(c.number), c.title, "; ".join(c.values), c.taken_for] for c in sheet.columns]
        named = f"Sheet {sheet.name}:\n" if sheet.name else ""
        if rows:
            parts.append(named + table(["column", "title", "values", "taken for"], rows, width=110))
    if shown.read_with:
        parts.append(f"To say what is what: {' '.join(map(door, shown.read_with))}")
    return "\n".join(parts)
