"""Which column of a table is what, by its titles and a sample of its rows, and whether the rows fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from estimator.importer.choices import Choices
from estimator.importer.clock.stamps import CLOCKS, parts, style_of
from estimator.importer.layout.layout import Column, Layout, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.cells import told_unit
from estimator.importer.table.numbers import Cell, decimal_mark, number
from estimator.importer.table.quantities import Unit, unit_of
from estimator.importer.table.titles import Meaning


def choose(
    titles: list[str],
    meanings: Sequence[Meaning | None],
    sample: Sequence[Sequence[str]],
    delimiter: str | None,
    choices: Choices,
) -> Layout | None:
    """Which column is time, current, voltage and so on, by the meanings of the titles and some lines.

    None where there is no time, or nothing that is measured.
    """
    decimal, every_s = choices.get("decimal"), choices.get("interval_s")
    meanings = [
        (_unit_by_cells(k, meanings, sample) if m is None or m.quantity == q.OTHER else m) or m
        for k, m in enumerate(meanings)
    ]

    def of(quantity: str) -> list[int]:
        found = [k for k, m in enumerate(meanings) if m and m.quantity == quantity]
        return sorted(found, key=lambda k: (m.doubt if (m := meanings[k]) else 9, k))

    def column(k: int, quantity: str | None = None, unit_index: int | None = None) -> Column:
        m = meanings[k]
        return Column(
            k, quantity or (m.quantity if m else q.OTHER), m.unit if m else None, titles[k], unit_index
        )

    measured: list[Column] = []
    for quantity in (q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE):
        measured += [column(k) for k in of(quantity) if _mostly(sample, k)][:1]
    titled, units = {c.quantity for c in measured} & {q.CURRENT, q.VOLTAGE, q.POWER}, {}
    if len(titled) < 2:
        units = {k: unit for k in of(q.VALUE) if (unit := _unit_column(k, meanings)) is not None}
    free = [None if k in units.values() else m for k, m in enumerate(meanings)]
    for n, c in enumerate(measured):
        j = _unit_column(c.index, free) if c.unit is None else None
        told = {row[j] for row in sample if j is not None and j < len(row) and row[j]}
        if not told or any(u.quantity == c.quantity for x in told if (u := told_unit(x))):  # else of another
            measured[n] = replace(c, unit_index=j)
    measured += [column(k, q.VALUE, unit) for k, unit in units.items()]
    if not any(c.quantity in (q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE) for c in measured):
        return None
    times, dates = of(q.TIME), of(q.DATE)
    telling = [c.index for c in measured]
    for k in times:
        cells = [r[k] for r in sample if k < len(r)]
        if "number" in (style_of(cells, "."), style_of(cells, ",")):
            telling.append(k)
    mark = decimal or decimal_mark(
        (row[k] for row in sample for k in telling if k < len(row)),
        "," if delimiter == ";" else ".",
        milli=all(c.unit is not None and c.unit.scale < 1 for c in measured if c.quantity != q.TEMPERATURE),
    )
    time = Column(-1, q.TIME, Unit(q.TIME), "the number of the row")
    date_k, style = None, "number"
    free_k = set(range(len(titles))) - set(telling)
    numbers = ((k, [number(row[k]).value for row in sample if k < len(row)]) for k in sorted(free_k))
    rising = (k for k, told in numbers if len(told) > 4 and np.mean(np.diff(told) == 1) > 0.8)
    counts = next(rising, None)  # the column that numbers the rows
    if every_s and counts is not None:
        # Lost rows leave a gap in the row numbers.
        time, every_s = Column(counts, q.TIME, Unit(q.TIME, every_s), titles[counts]), None
    elif every_s is None:
        time_k, date_k, found_style = _stamp_columns(times, dates, sample, mark)
        if time_k is None or found_style is None:
            return None
        time, style = column(time_k), found_style
    return Layout(
        delimiter=delimiter,
        decimal=mark,
        header_row=0,
        first_row=0,
        titles=tuple(titles),
        time=time,
        date=column(date_k) if date_k is not None else None,
        measured=tuple(measured),
        style=style,
        meanings=tuple(meanings),
        every_s=every_s,
    )


def passed_over(layout: Layout) -> list[str]:
    """Sentences that say which columns were not used where several measure the same."""
    said = []
    taken = {c.quantity: c for c in layout.measured} | {q.TIME: layout.time}
    for quantity, column in taken.items():
        rest = [
            title
            for k, (title, m) in enumerate(zip(layout.titles, layout.meanings, strict=False))
            if m and m.quantity == quantity and k != column.index
        ]
        if rest:
            more = f" and {len(rest) - 6} more" if len(rest) > 6 else ""
            named = ", ".join(map(repr, rest[:6]))
            said.append(f"{quantity.capitalize()} is taken from {column.title!r}, not {named}{more}.")
    return said


def _mostly(sample: Sequence[Sequence[str]], k: int) -> bool:
    kinds = [min(number(r[k], ".").kind, number(r[k], ",").kind) for r in sample if k < len(r)]
    return kinds.count(Cell.NUMBER) + kinds.count(Cell.OVERLOAD) > 0 and kinds.count(Cell.TEXT) <= 0.5 * len(
        kinds
    )


def _unit_by_cells(
    k: int, meanings: Sequence[Meaning | None], sample: Sequence[Sequence[str]]
) -> Meaning | None:
    """A unit, whatever the title, where all cells are units of the column to the left; else None."""
    left = meanings[k - 1] if k else None
    units = [unit_of(row[k]) for row in sample if k < len(row) and row[k].strip()]
    told = left and units and all(u is not None and u.quantity == left.quantity for u in units)
    return Meaning(q.UNIT) if told else None


def _unit_column(k: int, meanings: Sequence[Meaning | None]) -> int | None:
    for quantity in (q.UNIT, q.FUNCTION):
        for j in (k + 1, k - 1, k + 2, k - 2):
            m = meanings[j] if 0 <= j < len(meanings) else None
            if m and m.quantity == quantity:
                return j
    for quantity in (q.UNIT, q.FUNCTION):
        found = [j for j, m in enumerate(meanings) if m and m.quantity == quantity]
        if len(found) == 1:
            return found[0]
    return None


def _stamp_columns(
    times: Sequence[int], dates: Sequence[int], sample: Sequence[Sequence[str]], mark: str
) -> tuple[int | None, int | None, str | None]:
    def cells(k: int) -> list[str]:
        return [r[k] for r in sample if k < len(r)]

    for k in times:
        style = style_of(cells(k), mark)
        if style is None:
            continue
        if style in CLOCKS and dates:
            d = dates[0]
            if len(set(cells(d))) > 1 and (whole := style_of(cells(d), mark)) not in (None, "number"):
                return d, None, whole  # a date with its own clock, beside a clock that counts from the start
            joined = [
                f"{r[d].split()[0] if r[d].split() else ''} {r[k]}" for r in sample if max(k, d) < len(r)
            ]
            both = style_of(joined, mark)
            if both not in (None, "number", *CLOCKS):
                return k, d, both
        return k, None, style
    for k in dates:
        style = style_of(cells(k), mark)
        if style is not None:
            return k, None, style
    return None, None, None


_MOST_DEAD = 1000
"""Most rows without readings at the beginning of a table; bounds the work."""


def _is_stamp_alone(cells: Sequence[str]) -> bool:
    filled = [c for c in cells if c]
    return len(filled) < 2 or (len(filled) == 2 and style_of([" ".join(filled)]) not in (None, "number"))


@dataclass(frozen=True)
class Found:
    """A layout, and how well the lines fit it."""

    score: float
    layout: Layout


def checked(
    lines: Sequence[str | list[str]],
    after: int,
    header_row: int,
    titles: list[str],
    meanings: Sequence[Meaning | None],
    delimiter: str | None,
    choices: Choices,
) -> Found | None:
    """The layout that these meanings give to the lines from `after` on, None where they do not fit it."""
    sample: list[list[str]] = []
    first_row = 0
    for k in range(after, min(len(lines), after + _MOST_DEAD)):
        cells = [c.strip() for c in cells_of(lines[k], delimiter)]
        if any(cells) and not cells[0].startswith(("#", "//")):
            first_row = first_row or k + 1
            if _is_stamp_alone(cells):
                continue  # a logger that waits for its sensors
            sample.append(cells)
            if len(sample) >= 40:
                break
    if not sample:
        return None
    widths = sorted(len(s) for s in sample)
    width = widths[len(widths) // 2]
    filled = sum(any(k < len(s) and s[k] for s in sample) for k in range(len(titles), width))
    if width > len(titles) and filled and delimiter == ",":
        return None
    layout = choose(titles, meanings, sample, delimiter, choices)
    if layout is None:
        return None
    layout = replace(layout, header_row=header_row, first_row=first_row)
    fits = _fits(layout, sample)
    if fits == 0 or (fits < 0.5 * len(sample) and len(sample) > 3):
        return None
    kinds = {c.quantity for c in layout.measured}
    return Found(
        fits / len(sample) + 0.1 * len(kinds) + (0.05 if delimiter not in (",", " ") else 0.0), layout
    )


def _fits(layout: Layout, sample: Sequence[Sequence[str]]) -> int:
    fits = 0
    for cells in sample:
        if layout.every_s is None and parts(layout.stamp(cells), layout.style, layout.decimal) is None:
            continue
        read = [number(cells[c.index], layout.decimal).kind for c in layout.measured if c.index < len(cells)]
        fits += Cell.NUMBER in read and Cell.TEXT not in read
    return fits
