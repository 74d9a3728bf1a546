"""The table of a file that was refused, as people need to see it to say which column is which."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from estimator.errors import ShownColumn, ShownSheet, ShownTable
from estimator.importer.layout.layout import DELIMITERS, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.opened_file import Table
from estimator.importer.table.quantities import unit_name
from estimator.importer.table.titles import may_be_titles, meaning
from estimator.mends import Give

_LINES, _COLUMNS, _WIDE = 400, 80, 24  # shown at most of a file, and of a cell: a screen or two


def shown_table(table: Table) -> ShownTable:
    """What a file holds: numbered titles with three values each, and what would make it readable."""
    sheets = tuple(
        ShownSheet(name, _columns(lines)) for name, lines in table.sheet_heads(_LINES) if len(lines) > 0
    )
    return ShownTable(sheets, _read_with(sheets, table.sheet))


def _columns(lines: Sequence[str | list[str]]) -> tuple[ShownColumn, ...]:
    delimiter, width = _delimiter(lines)
    rows = [[c.strip().strip('"') for c in cells_of(line, delimiter)] for line in lines]
    body = [k for k, row in enumerate(rows) if len(row) >= max(1, width - 1) and any(row)]
    if not body:
        return ()
    head = next(
        (k for k in body[:50] if may_be_titles(rows[k]) or (width == 1 and not _numeric(rows[k][0]))), None
    )
    readings = [rows[k] for k in body if (head is None or k > head)] or [rows[k] for k in body]
    titles = rows[head] if head is not None else []
    three = [readings[k] for k in sorted({0, len(readings) // 2, len(readings) - 1})]
    found = []
    for k in range(min(width, _COLUMNS)):
        title = titles[k] if k < len(titles) else ""
        values = [row[k] for row in three if k < len(row)]
        found.append(
            ShownColumn(k + 1, title[:_WIDE], tuple(v[:_WIDE] for v in values), _taken_for(title, values))
        )
    return tuple(found)


def _delimiter(lines: Sequence[str | list[str]]) -> tuple[str | None, int]:
    if lines and isinstance(lines[0], list):
        return None, max(len(line) for line in lines)
    best: tuple[int, str | None, int] = (0, ",", 1)
    for delimiter in DELIMITERS:
        counts = Counter(n for line in lines if (n := len(cells_of(line, delimiter))) > 1)
        if counts:
            width, times = counts.most_common(1)[0]
            if (times * min(width, 3)) > best[0]:
                best = (times * min(width, 3), delimiter, width)
    return best[1], best[2]


def _numeric(text: str) -> bool:
    return min(number(text, ".").kind, number(text, ",").kind) is Cell.NUMBER


def _taken_for(title: str, values: Sequence[str]) -> str:
    told = meaning(title) if title else None
    if told is None or told.quantity in (q.OTHER, q.VALUE, q.UNIT, q.FUNCTION):
        return "numbers" if any(_numeric(v) for v in values) else "words"
    unit = told.unit if told.quantity not in (q.TEMPERATURE, q.DATE, q.GAUGE) else None
    return f"{told.quantity} [{unit_name(told.quantity, unit.scale)}]" if unit is not None else told.quantity


def _read_with(sheets: Sequence[ShownSheet], sheet: str) -> tuple[Give, ...]:
    """What would make the likeliest sheet readable; what only the user knows is in capitals."""
    if len(sheets) > 1 and not sheet:
        return (Give("sheet", sheets[-1].name),)
    if not sheets or not sheets[0].columns:
        return ()
    columns = sheets[0].columns
    given, numbers = [], [c for c in columns if any(_numeric(v) for v in c.values)]
    for quantity, unit in ((q.CURRENT, "A"), (q.VOLTAGE, "V")):
        found = next((c.number for c in columns if c.taken_for.startswith(quantity)), None)
        if found is None and len(numbers) < 2:
            return ()
        known = columns[found - 1] if found is not None else None
        bare = known.values if known is not None and "[" not in known.taken_for else ()
        if any(abs(number(v).value) > 500 for v in bare):
            unit = "UNIT"  # counts of some fraction of an amp or volt that only the user knows
        given.append(Give.column(quantity, f"{found if found is not None else 'NUMBER'}[{unit}]"))
    clocks = [c.number for kind in (q.TIME, q.DATE) for c in columns if c.taken_for.startswith(kind)]
    given.append(Give.column("time", str(clocks[0])) if clocks else Give("interval_s", "SECONDS"))
    return tuple(given)
