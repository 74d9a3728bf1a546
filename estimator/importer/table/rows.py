"""The readings of one table, read row by row, with every oddity counted."""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from estimator.errors import InputError, TooFewReadings
from estimator.importer.arrays import Ints
from estimator.importer.clock.stamps import Stamps, parts
from estimator.importer.layout.layout import Layout
from estimator.importer.table import quantities as q
from estimator.importer.table.cells import CHANNELS, read_cells
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.quantities import plain
from estimator.importer.table.raw_table import RawTable
from estimator.importer.table.titles import may_be_titles, meaning


@dataclass
class _Counts:
    headers: list[int] = field(default_factory=list)
    preamble: int = 0
    comments: int = 0
    timeless: int = 0
    remarks: int = 0
    units: dict[str, set[float]] = field(default_factory=dict)


def read_rows(rows: Iterable[list[str]], layout: Layout, max_rows: int | None = None) -> RawTable:
    """Read the rows of a table (from the first line of the file on) by its layout.

    Raises InputError, naming the row, where a cell is neither a number nor a marker.
    """
    told_by_cell = any(c.quantity == q.VALUE for c in layout.measured)
    channels = CHANNELS if told_by_cell else tuple(c.quantity for c in layout.measured)
    # One flat array, so that a long file does not take many times its size in memory.
    grown, width, counts = array("d"), 5 + len(channels), _Counts()
    pending: list[tuple[int, list[str]]] = []
    example = ""
    titles = [plain(t) for t in layout.titles]
    used = [layout.time, *([layout.date] if layout.date else []), *layout.measured]
    widest = max(c.index for c in used)
    unfinished: int | None = None
    short = False
    for row, cells in enumerate(rows, start=1):
        if row < layout.first_row or not any(c.strip() for c in cells):
            continue
        if titles and [plain(c) for c in cells[: len(titles)]] == titles:
            counts.headers.append(row)
            counts.preamble += len(pending)
            pending.clear()
            continue
        if is_rule(cells):
            continue
        if cells[0].lstrip().startswith(("#", "//")):
            counts.comments += 1
            continue
        stamp = layout.stamp(cells)
        if layout.every_s is not None and _has_number(cells, layout):
            stamp = str(len(grown) // width * layout.every_s)
        part = parts(stamp, layout.style, "." if layout.every_s else layout.decimal)
        if part is None:
            if is_remark(cells) or (layout.every_s and not _has_number(cells, layout)):
                counts.remarks += 1
            elif not stamp and _has_number(cells, layout):
                counts.timeless += 1
            elif not grown and _CLOSING.search(stamp):
                counts.remarks += 1
            else:
                pending.append((row, cells))
            if len(pending) > 2000:
                break
            continue
        if pending:
            raise _not_understood(pending[0], layout)
        short = len(cells) <= widest
        found = read_cells(cells, row, layout, counts.units)
        if max_rows is not None and len(grown) // width >= max_rows:
            raise InputError(f"holds more than {max_rows} readings", row=row, mend="log at a longer interval")
        example = example or stamp
        grown.extend((row, (part.a * 1e4 + part.b) * 1e4 + part.c, part.seconds, part.zone_s, part.short))
        grown.extend(found.get(channel, math.nan) for channel in channels)
    if short and len(grown) > width:
        unfinished = int(grown[-width])
        del grown[-width:]
    closing = [r for r in pending if _has_number(r[1], layout) and len(r[1]) > widest]
    if closing and grown and not _CLOSING.search(closing[0][1][0]):
        raise _not_understood(closing[0], layout)
    if not grown:
        row = layout.header_row or 1
        raise TooFewReadings("has titles but no readings", row=row, mend="export it again")
    rows_of, dates, seconds, zone_s, two_fields, *values = (
        x.copy() for x in np.frombuffer(grown).reshape(-1, width).T
    )
    del grown
    counted_on = np.where(two_fields == 1, seconds / 60, seconds)
    if not two_fields.all() and np.diff(seconds).min(initial=0) < 0 <= np.diff(counted_on).min():
        seconds = counted_on  # a stopwatch: 59:59, then 1:00:00
    date: Ints = np.broadcast_to(np.int64(0), (len(dates), 3))
    if dates.any():
        date = np.stack((dates // 1e8, dates // 1e4 % 1e4, dates % 1e4), axis=1).astype(np.int64)
    held = {channel: x for channel, x in zip(channels, values, strict=True) if not np.isnan(x).all()}
    over = {channel: np.isinf(x) for channel, x in held.items()}
    return RawTable(
        layout=layout,
        rows=rows_of.astype(np.int64),
        stamps=Stamps(layout.style, date, seconds, zone_s, bool(two_fields.all()), example),
        channels={k: np.where(over[k], np.nan, x) if over[k].any() else x for k, x in held.items()},
        overload=over,
        notes=_said(layout, counts, len(pending), unfinished),
        title_rows=tuple(counts.headers),
    )


def _said(layout: Layout, counts: _Counts, closing: int, unfinished: int | None) -> tuple[str, ...]:
    notes = list(layout.notes)
    if counts.headers:
        more = f" with {counts.preamble} lines before them" if counts.preamble else ""
        times = "once" if len(counts.headers) == 1 else f"{len(counts.headers)} times"
        notes.append(f"Titles are repeated {times}{more}: left out.")
    for count, said in (
        (counts.comments, "comment line{s} left out."),
        (closing, "closing line{s} without readings left out."),
        (counts.timeless, "reading{s} without a time left out."),
        (counts.remarks, "remark{s} between the readings left out."),
    ):
        if count:
            notes.append(f"{count} {said.format(s='s' * (count > 1))}")
    if unfinished is not None:
        notes.append(f"The last line (row {unfinished}) is cut short: left out.")
    changing = [quantity for quantity, scales in counts.units.items() if len(scales) > 1]
    said = "The meter changes its range for {}: units are followed reading by reading."
    return (*notes, *map(said.format, changing))


def is_rule(cells: list[str]) -> bool:
    """Whether a row is a drawn line between titles and readings, with nothing but dashes in its cells.

    >>> is_rule(["------", "-----"]), is_rule(["", ":---", "---:"]), is_rule(["0", "---"])
    (True, True, False)
    """
    filled = [c for c in cells if c.strip()]
    return len(filled) > 1 and all(re.fullmatch(r"\s*:?[-=_]{2,}:?\s*", c) for c in filled)


def is_remark(cells: list[str]) -> bool:
    """Whether a line is a remark between readings: one cell of words.

    >>> is_remark(["-- reel engaged, gear 2 --"]), is_remark(["12", "5"]), is_remark(["12:07 pause"])
    (True, False, False)
    """
    filled = [c.strip() for c in cells if c.strip()]
    return len(filled) == 1 and re.fullmatch(r"\D+|\D*[^\W\d_]{3}.*", filled[0]) is not None


def _has_number(cells: list[str], layout: Layout) -> bool:
    return any(
        number(cells[c.index], layout.decimal).kind is Cell.NUMBER
        for c in layout.measured
        if c.index < len(cells)
    )


_CLOSING = re.compile(
    r"mean|avg|average|total|sum|min|max|end|count|std|mittel|summe|ende|moyen|somme|fin|medi|total|gemiddeld|som|einde|statist",
    re.IGNORECASE,
)


def _not_understood(line: tuple[int, list[str]], layout: Layout) -> InputError:
    row, cells = line
    stamp = layout.stamp(cells)
    shown = stamp or ", ".join(c.strip() for c in cells if c.strip())
    told = {m.quantity for m in map(meaning, cells) if m}
    if told & {q.TIME, q.DATE} and told >= {c.quantity for c in layout.measured} and may_be_titles(cells):
        return InputError("other titles begin here", row=row, mend="split the file before them")
    return InputError(f"time is {shown[:40]!r}", row=row, mend="correct it or take the line out")
