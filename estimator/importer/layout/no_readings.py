"""Tables that are none of readings, or none that can be read: too wide, summed up, a clock in parts."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from estimator.errors import InputError
from estimator.importer.layout.layout import DELIMITERS, Layout, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import number
from estimator.importer.table.quantities import plain
from estimator.importer.table.titles import meaning

_MOST_COLUMNS = 5000
"""No table of readings has so many; bounds the work."""


def check_width(lines: Sequence[str | list[str]]) -> None:
    """InputError for more columns than any logger has, before each of their cells is asked what it means."""
    for k, line in enumerate(lines[:200], start=1):
        marks = [line.count(d) for d in DELIMITERS if d != " "] if isinstance(line, str) else [len(line) - 1]
        if max(marks) >= _MOST_COLUMNS:
            mend = "export the time, the current and the voltage alone"
            raise InputError(f"holds over {_MOST_COLUMNS} columns", row=k, mend=mend)


def check_split_time(lines: Sequence[str | list[str]], layout: Layout) -> None:
    """InputError where the clock is written in two or three columns, such as minutes beside seconds."""
    told = [meaning(title) for title in layout.titles]
    parts_of = [k for k, m in enumerate(told) if m and m.quantity == q.TIME and m.unit and m.unit.scale >= 1]
    scales = {k: m.unit.scale for k in parts_of if (m := told[k]) and m.unit}
    if layout.time.index not in scales or len(set(scales.values())) < 2:
        return
    finest = min(scales, key=lambda k: scales[k])
    rows = (cells_of(line, layout.delimiter) for line in lines[layout.first_row - 1 :])
    values = [number(cells[finest], layout.decimal).value for cells in rows if finest < len(cells)]
    if len(values) > 60 and all(0 <= v < 60 for v in values if v == v):
        titles = ", ".join(layout.titles[k] for k in scales)
        raise InputError(
            f"time is written in {len(scales)} columns ({titles})",
            row=layout.header_row,
            mend="join them into one column such as 14:30:05",
        )


_CYCLE = re.compile(r"\bcycles?\b|zyklus|ciclo|cyclus")


def check_summary(lines: Sequence[str | list[str]], layout: Layout) -> None:
    """InputError where each row sums up a whole cycle: sums and means are no readings."""
    rows = [cells_of(line, layout.delimiter) for line in lines[layout.first_row - 1 : layout.first_row + 59]]
    for k, title in enumerate(layout.titles):
        if not _CYCLE.search(plain(title)):
            continue
        counts = [number(cells[k], layout.decimal).value for cells in rows if k < len(cells) and cells[k]]
        if len(counts) >= 5 and all(b - a == 1 for a, b in itertools.pairwise(counts)):
            raise InputError(
                f"each row sums up a whole cycle ({title!r} counts on row by row)",
                row=layout.header_row,
                mend="export the readings themselves",
            )
