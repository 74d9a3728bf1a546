"""Where in a table the readings are: preambles, titles, unit lines, tables without titles."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from estimator.importer.choices import Choices
from estimator.importer.clock.stamps import CLOCKS, STYLES, style_of
from estimator.importer.layout.beside import TICKS, told_interval_s, with_legend, with_told_ticks
from estimator.importer.layout.columns import Found, checked
from estimator.importer.layout.faults import (
    check_in_turn,
    check_split_time,
    check_summary,
    check_width,
    unrecognised,
)
from estimator.importer.layout.layout import DELIMITERS, Layout, cells_of
from estimator.importer.layout.named import named_layout
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import plain, unit_of
from estimator.importer.table.titles import Meaning, may_be_titles, meaning

_MOST_PREAMBLE = 20_000
"""Most lines before the titles; bounds the work."""
_MOST_LEGEND = 300
"""Most lines above titles that are searched for a legend; bounds the work."""
_MOST_ALIKE = 3
"""Of lines that differ in their digits only the first few can be titles; bounds the work."""
_LONG_LINE, _MOST_WIDE = 5000, 50
"""Of lines longer than this only the first few can be titles; bounds the work."""


def find_layout(lines: Sequence[str | list[str]], choices: Choices) -> Layout:
    """The layout of a table from its first lines (texts, or lists of cells for spreadsheets).

    choices : what the user decided about columns, decimal mark and interval; where there is neither a clock
        nor an interval, the time between rows is looked for in the other lines
    Raises InputError where no columns can be recognised.

    >>> layout = find_layout(["Zeit;Strom (mA);Spannung", "0;1200,5;53,1", "1;1300,0;53,0"], {})
    >>> layout.delimiter, layout.decimal, [c.quantity for c in layout.measured]
    (';', ',', ['current', 'voltage'])
    """
    window = lines[:_MOST_PREAMBLE]
    check_width(window)
    columns, best = choices.get("columns"), _best(window, choices)
    told = choices.get("interval_s") is not None
    if best is None and not told and (interval_s := told_interval_s(window)) is not None:
        best = _best(window, {**choices, "interval_s": interval_s})
        if best is not None:
            said = f"No clock: rows are {interval_s:g} s apart, as a line of the file says."
            best = replace(best, layout=replace(best.layout, notes=(*best.layout.notes, said)))
    if best is None:
        raise unrecognised(window, columns)
    if best.layout.time.unit is None and TICKS.search(plain(best.layout.time.title)):
        best = replace(best, layout=with_told_ticks(best.layout, window))
    check_in_turn(window, best.layout)
    if not columns:
        check_split_time(window, best.layout)
        check_summary(window, best.layout)
    return best.layout


def _best(window: Sequence[str | list[str]], choices: Choices) -> Found | None:
    apart = bool(window) and isinstance(window[0], list)
    way = named_layout if choices.get("columns") else _titled
    best: Found | None = None
    for delimiter in (None,) if apart else DELIMITERS:
        if delimiter in (None, " ") or any(str(delimiter) in str(line) for line in window):
            found = way(window, delimiter, choices)
            if found and (best is None or found.score > best.score):
                best = found
    return best


def _titled(lines: Sequence[str | list[str]], delimiter: str | None, choices: Choices) -> Found | None:
    best: Found | None = None
    every_s = choices.get("interval_s")
    tried = wide = 0
    alike: Counter[str] = Counter()
    for k, line in enumerate(lines):
        text = line if isinstance(line, str) else " ".join(line)
        if not re.search(r"[^\W\d_]", text):
            continue
        shape = re.sub(r"\d+", "0", text)
        alike[shape] += 1
        if alike[shape] > _MOST_ALIKE:
            continue
        if len(text) > _LONG_LINE:
            wide += 1
            if wide > _MOST_WIDE:
                continue
        cells = [c.strip() for c in cells_of(line, delimiter)]
        if cells and cells[0].startswith(("#", "//")):
            cells[0] = cells[0].lstrip("#/ ")
            below = cells_of(lines[k + 1], delimiter) if k + 1 < len(lines) else []
            if not cells[0] and len(below) == len(cells) - 1:
                del cells[0]  # the comment sign stood apart from the titles
        if not may_be_titles(cells):
            continue
        meanings = [meaning(c) for c in cells]
        if k < _MOST_LEGEND and (every_s or not _enough(meanings, every_s)):
            meanings = with_legend(meanings, cells, lines[:k], delimiter)
        if k < _MOST_LEGEND and not any(m and m.quantity == q.TIME for m in meanings):
            meanings = _with_stamps(
                meanings, cells, [cells_of(row, delimiter) for row in lines[k + 1 : k + 9]]
            )
        after = k + 1
        units = [c.strip() for c in cells_of(lines[after], delimiter)] if after < len(lines) else []
        named = [c for c in units if c]
        known = sum(unit_of(c) is not None for c in named)
        if known >= max(2, 0.6 * len(named)) and not any(c[0].isdigit() for c in named):
            if delimiter == " " and len(units) < len(cells):
                continue  # printed: only their places would show which title each unit belongs to
            groups: Iterator[str] = itertools.accumulate(cells, lambda last, title: title or last)
            pairs = itertools.zip_longest(cells, groups, units[: len(cells)])
            cells = [
                title or (f"{group} [{unit}]" if unit_of(unit or "") else unit or "")
                for title, group, unit in pairs
            ]
            stacked = zip(meanings, cells, [*units, *[""] * len(cells)], strict=False)
            meanings = [
                meaning(f"{t} [{u.strip('[]() ')}]") if unit_of(u) else m or meaning(t) for m, t, u in stacked
            ]
            after += 1
        if not _enough(meanings, every_s):
            continue
        found = checked(lines, after, k + 1, cells, meanings, delimiter, choices)
        if found and (best is None or found.score > best.score):
            best = found
        tried += 1
        if (best and best.score > 0.8) or tried > 40:
            break
    return best


def _enough(meanings: Sequence[Meaning | None], every_s: float | None) -> bool:
    found = {m.quantity for m in meanings if m}
    if every_s is not None:
        return {q.CURRENT, q.VOLTAGE} <= found
    return bool(found & {q.TIME, q.DATE}) and bool(found & {q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE})


_DATED = tuple(style for style in STYLES if style != "compact")


def _with_stamps(
    meanings: list[Meaning | None], titles: Sequence[str], rows: Sequence[Sequence[str]]
) -> list[Meaning | None]:
    """The meanings where no title says time: the column of an unknown title with dates or clocks is time."""
    dates = [k for k, m in enumerate(meanings) if m and m.quantity == q.DATE]
    if any(style_of([row[k] for row in rows if k < len(row)]) for k in dates):
        return meanings
    wanted = CLOCKS if dates else _DATED
    for k, m in enumerate(meanings):
        cells = {row[k].strip() for row in rows if k < len(row) and row[k].strip()}
        if (
            m is None
            and style_of([titles[k]]) is None
            and len(cells) > 1
            and all(style_of([c]) in wanted for c in cells)
        ):
            return [*meanings[:k], Meaning(q.TIME, None, 1), *meanings[k + 1 :]]
    return meanings
