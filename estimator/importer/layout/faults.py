"""Why a table is not understood, or does not hold readings: too wide, summed up, its clock in parts."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence

from estimator.errors import InputError, TooFewReadings
from estimator.importer.layout.layout import DELIMITERS, Layout, cells_of
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import number
from estimator.importer.table.quantities import plain
from estimator.importer.table.titles import may_be_titles, meaning
from estimator.mends import Give, Mend


class NoReadings(InputError):
    """The table is understood, but what it holds are not the readings of one pack."""


_MOST_COLUMNS = 5000
"""No table of readings has this many; bounds the work."""


def unrecognised(lines: Sequence[str | list[str]], columns: Mapping[str, str | int] | None) -> InputError:
    """The fault that best explains why no readings were found in these lines, with its row."""
    if columns:
        told = ", ".join(f"{k} in {v!r}" for k, v in columns.items())
        return InputError(
            f"no readings with these columns ({told})",
            mend="check their titles or numbers, and name time, current and voltage where titles do not",
        )
    if "".join("".join(line) for line in lines[:5]).lstrip()[:1] in ("{", "["):
        return InputError("is JSON without a list of readings", mend="export them one by one, or as .csv")
    for k, line in enumerate(lines[:2000]):
        for delimiter in DELIMITERS:
            cells = cells_of(line, delimiter)
            if not may_be_titles(cells):
                continue
            found = {m.quantity for m in (meaning(c) for c in cells) if m}
            if len(found & {q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}) >= 2:
                if not any("".join(x).strip() for x in lines[k + 1 :]):
                    return TooFewReadings("has titles but no readings", row=k + 1, mend="export it again")
                which = "current" if found & {q.TIME, q.DATE} else "time"
                mend: Mend = ("say which it is, such as ", Give.column(which, "TITLE"))
                if which == "time":
                    mend = (*mend, ", or the time between rows with ", Give("interval_s", "SECONDS"))
                    return InputError("no column for time", row=k + 1, mend=mend)
                if not found & {q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}:
                    return InputError("no column for current or voltage", row=k + 1, mend=mend)
                row, why = _first_misfit(lines, k, delimiter)
                return InputError(why, row=row, mend="correct the row, or export with another separator")
    filled = [k for k, x in enumerate(lines, start=1) if "".join(x).strip()]
    if sum(len(re.findall(r"\d+", " ".join(lines[k - 1]))) > 1 for k in filled) < 0.5 * len(filled):
        return InputError(
            "hardly a line holds two numbers", row=filled[0], mend="check that it is the right file"
        )
    return InputError(
        "no columns for time, current and voltage",
        row=filled[0] if filled else 1,
        mend=(
            "give them titles such as time_s, current_a, voltage_v, or say ",
            Give.column("current", "2"),
            " and so on",
        ),
    )


def _first_misfit(lines: Sequence[str | list[str]], k: int, delimiter: str) -> tuple[int, str]:
    titles = cells_of(lines[k], delimiter)
    for j in range(k + 1, len(lines)):
        cells = cells_of(lines[j], delimiter)
        if any(c.strip() for c in cells):
            if len([c for c in cells if c.strip()]) > len(titles):
                return j + 1, f"there are {len(cells)} fields under {len(titles)} titles"
            return j + 1, f"readings such as {', '.join(c.strip() for c in cells)[:60]!r} are not understood"
    return k + 1, "has titles but no readings"


def check_width(lines: Sequence[str | list[str]]) -> None:
    """InputError for more columns than any logger has, before the meaning of each cell is looked for."""
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
        raise NoReadings(
            f"time is written in {len(scales)} columns ({titles})",
            row=layout.header_row,
            mend="join them into one column such as 14:30:05",
        )


_ID = re.compile(
    r"\bid\b|device|gerat|pack|batt|akku|module?|unit|node|address|adresse|channel|kanal|canal|slave|string"
)
_MOST_IN_TURN = 16  # packs that write rows into one file in turn; bounds the search


def check_in_turn(lines: Sequence[str | list[str]], layout: Layout) -> None:
    """InputError where the rows of several packs or meters take turns, as a column of names shows.

    The title of the column says that it holds names, or each stamp has as many rows as there are names.
    """
    rows = [cells_of(line, layout.delimiter) for line in lines[layout.first_row - 1 : layout.first_row + 199]]
    stamps = [layout.stamp(cells) for cells in rows]
    used = {c.index for c in (layout.time, layout.date, *layout.measured) if c is not None}
    for k, title in enumerate(layout.titles):
        m = layout.meanings[k]
        named = m is None or (m.unit is None and _ID.search(plain(title)) is not None)
        names = [cells[k].strip() for cells in rows if k < len(cells) and cells[k].strip()]
        n = len(set(names))
        if k in used or layout.unit_columns or not named or not 2 <= n <= _MOST_IN_TURN or len(names) < 4 * n:
            continue
        if _ID.search(plain(title)) is None:
            together = [len(set(stamps[j : j + n])) == 1 for j in range(0, len(stamps) - n, n)]
            if layout.every_s is not None or names[0][:1].isdigit() or sum(together) < 0.95 * len(together):
                continue
        held: dict[str, set[int]] = {}
        for cells in (cells for cells in rows if k < len(cells)):
            told = {c.index for c in layout.measured if c.index < len(cells) and cells[c.index].strip()}
            held.setdefault(cells[k].strip(), set()).update(told)
        if len(set.union(*held.values())) == sum(map(len, held.values())):
            continue  # each measures something else: one meter amps, the other volts
        same = sum(a == b for a, b in zip(names, names[n:], strict=False))
        if len(set(names[:n])) == n and same >= 0.95 * (len(names) - n):
            raise NoReadings(
                f"rows of {n} packs or meters take turns ({title!r} says {', '.join(names[:n][:4])})",
                row=layout.first_row,
                mend="export one of them alone",
            )


_CYCLE = re.compile(r"\bcycles?\b|zyklus|ciclo|cyclus")


def check_summary(lines: Sequence[str | list[str]], layout: Layout) -> None:
    """InputError where each row sums up a whole cycle: sums and means are not readings."""
    rows = [cells_of(line, layout.delimiter) for line in lines[layout.first_row - 1 : layout.first_row + 59]]
    for k, title in enumerate(layout.titles):
        if not _CYCLE.search(plain(title)):
            continue
        counts = [number(cells[k], layout.decimal).value for cells in rows if k < len(cells) and cells[k]]
        if len(counts) >= 5 and all(b - a == 1 for a, b in itertools.pairwise(counts)):
            raise NoReadings(
                f"each row sums up a whole cycle ({title!r} counts on row by row)",
                row=layout.header_row,
                mend="export the readings themselves",
            )
