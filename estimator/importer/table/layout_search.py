"""Where in a table the readings stand: preambles, titles, unit lines, tables without titles."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from estimator.errors import InputError
from estimator.importer.clock.stamps import CLOCKS, parts, style_of
from estimator.importer.table import quantities as q
from estimator.importer.table.layout import DELIMITERS, Layout, cells_of
from estimator.importer.table.layout_columns import choose
from estimator.importer.table.layout_faults import unrecognised
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.quantities import plain, unit_of
from estimator.importer.table.titles import Meaning, may_be_titles, meaning

_MOST_PREAMBLE = 20_000


@dataclass(frozen=True)
class _Found:
    score: float
    layout: Layout


def find_layout(
    lines: Sequence[str | list[str]],
    file: str | None = None,
    *,
    columns: Mapping[str, str | int] | None = None,
    decimal: str | None = None,
) -> Layout:
    """The layout of a table from its first lines (texts, or lists of cells for spreadsheets).

    columns : the user's own choice, quantity (time, date, current, voltage, power, temperature) to title or
        number from 1.
    Raises InputError where no columns can be recognised.

    >>> layout = find_layout(["Zeit;Strom (mA);Spannung", "0;1200,5;53,1", "1;1300,0;53,0"])
    >>> layout.delimiter, layout.decimal, [c.quantity for c in layout.measured]
    (';', ',', ['current', 'voltage'])
    """
    apart = bool(lines) and isinstance(lines[0], list)
    best: _Found | None = None
    delimiters: tuple[str | None, ...] = (None,) if apart else DELIMITERS
    window = lines[:_MOST_PREAMBLE]
    for delimiter in delimiters:
        if delimiter is not None and delimiter != " " and not any(delimiter in str(line) for line in window):
            continue
        found = (
            _chosen(window, delimiter, columns, decimal, file)
            if columns
            else (_titled(window, delimiter, decimal) or _untitled(window, delimiter, decimal))
        )
        if found and (best is None or found.score > best.score + 1e-9):
            best = found
    if best is None:
        raise unrecognised(window, file, columns)
    if not columns:
        _check_split_time(window, best.layout, file)
    return best.layout


def _check_split_time(lines: Sequence[str | list[str]], layout: Layout, file: str | None) -> None:
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
            file=file,
            row=layout.header_row,
            mend="join them into one column such as 14:30:05",
        )


def _titled(lines: Sequence[str | list[str]], delimiter: str | None, decimal: str | None) -> _Found | None:
    best: _Found | None = None
    tried = 0
    for k, line in enumerate(lines):
        text = line if isinstance(line, str) else " ".join(line)
        if len(text) > 5000 or not re.search(r"[^\W\d_]", text):
            continue
        cells = [c.strip() for c in cells_of(line, delimiter)]
        if cells and cells[0].startswith(("#", "//")):
            cells[0] = cells[0].lstrip("#/ ")
        if not may_be_titles(cells):
            continue
        meanings = [meaning(c) for c in cells]
        if not _enough(meanings):
            continue
        after = k + 1
        if after < len(lines):
            units = [c.strip() for c in cells_of(lines[after], delimiter)]
            if _is_unit_row(units):
                meanings = _with_units(meanings, cells, units)
                after += 1
        found = _checked(lines, after, k + 1, cells, meanings, delimiter, decimal)
        if found and (best is None or found.score > best.score):
            best = found
        tried += 1
        if (best and best.score > 0.8) or tried > 40:
            break
    return best


def _enough(meanings: Sequence[Meaning | None]) -> bool:
    found = {m.quantity for m in meanings if m}
    return bool(found & {q.TIME, q.DATE}) and bool(found & {q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE})


def _is_unit_row(cells: Sequence[str]) -> bool:
    filled = [c for c in cells if c]
    known = sum(unit_of(c) is not None for c in filled)
    return known >= 2 and known >= 0.6 * len(filled) and not any(c[0].isdigit() for c in filled)


def _with_units(meanings: list[Meaning | None], titles: list[str], units: list[str]) -> list[Meaning | None]:
    out: list[Meaning | None] = []
    for k, m in enumerate(meanings):
        unit = unit_of(units[k]) if k < len(units) else None
        out.append(meaning(f"{titles[k]} [{units[k].strip('[]() ')}]") if unit is not None else m)
    return out


def _checked(
    lines: Sequence[str | list[str]],
    after: int,
    header_row: int,
    titles: list[str],
    meanings: Sequence[Meaning | None],
    delimiter: str | None,
    decimal: str | None,
) -> _Found | None:
    sample: list[list[str]] = []
    first_row = 0
    for k in range(after, min(len(lines), after + 400)):
        cells = [c.strip() for c in cells_of(lines[k], delimiter)]
        if any(cells) and not cells[0].startswith(("#", "//")):
            first_row = first_row or k + 1
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
    layout = choose(titles, meanings, sample, delimiter, decimal)
    if layout is None:
        return None
    layout = replace(layout, header_row=header_row, first_row=first_row)
    fits = _fits(layout, sample)
    if fits == 0 or (fits < 0.5 * len(sample) and len(sample) > 3):
        return None
    kinds = {c.quantity for c in layout.measured}
    return _Found(
        fits / len(sample) + 0.1 * len(kinds) + (0.05 if delimiter not in (",", " ") else 0.0), layout
    )


def _fits(layout: Layout, sample: Sequence[Sequence[str]]) -> int:
    fits = 0
    for cells in sample:
        if parts(layout.stamp(cells), layout.style, layout.decimal) is None:
            continue
        read = [number(cells[c.index], layout.decimal).kind for c in layout.measured if c.index < len(cells)]
        fits += Cell.NUMBER in read and Cell.TEXT not in read
    return fits


def _untitled(lines: Sequence[str | list[str]], delimiter: str | None, decimal: str | None) -> _Found | None:
    """Tables without titles, where each value carries its unit."""
    for k, line in enumerate(lines[:200]):
        cells = [c.strip() for c in cells_of(line, delimiter)]
        meanings: list[Meaning | None] = []
        for c in cells:
            reads = [r for r in (number(c, "."), number(c, ",")) if r.kind is Cell.NUMBER and r.unit]
            style = style_of([c]) if not reads and re.match(r"\d", c) else None
            if reads and reads[0].unit:
                meanings.append(Meaning(reads[0].unit.quantity))
            elif style in (*CLOCKS, "year first", "year last"):
                meanings.append(Meaning(q.TIME))
            elif re.fullmatch(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}", c):
                meanings.append(Meaning(q.DATE))
            else:
                meanings.append(None)
        if _enough(meanings) and {q.CURRENT, q.VOLTAGE} & {m.quantity for m in meanings if m}:
            titles = [f"column {j + 1}" for j in range(len(cells))]
            found = _checked(lines, k, 0, titles, meanings, delimiter, decimal)
            if found:
                said = "No titles: columns are known by the units beside their values."
                return _Found(found.score - 0.3, replace(found.layout, titles=(), notes=(said,)))
    return None


_CHOICES = (q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE)


def _chosen(
    lines: Sequence[str | list[str]],
    delimiter: str | None,
    columns: Mapping[str, str | int],
    decimal: str | None,
    file: str | None,
) -> _Found | None:
    for key in columns:
        if key not in _CHOICES:
            raise InputError(f"columns has {key!r}", file=file, mend=f"use {', '.join(_CHOICES)}")
    named = {key: plain(v) for key, v in columns.items() if isinstance(v, str) and not v.strip().isdigit()}
    placed = {key: int(v) - 1 for key, v in columns.items() if key not in named}
    for k, line in enumerate(lines[:2000]):
        cells = [c.strip() for c in cells_of(line, delimiter)]
        plains = [plain(c) for c in cells]
        if any(v not in plains for v in named.values()) or any(
            not 0 <= v < len(cells) for v in placed.values()
        ):
            continue
        places = {**placed, **{key: plains.index(v) for key, v in named.items()}}
        # What the user did not name is still known by its title.
        told = [meaning(c) for c in cells]
        meanings = [m if m and m.quantity not in places else None for m in told]
        for key, at in places.items():
            own = told[at]
            meanings[at] = Meaning(
                key, own.unit if own and own.unit and own.unit.quantity in (key, q.TIME) else None
            )
        is_reading = (
            not named and style_of([cells[places[q.TIME]]]) is not None if q.TIME in places else False
        )
        found = _checked(
            lines, k if is_reading else k + 1, 0 if is_reading else k + 1, cells, meanings, delimiter, decimal
        )
        if found:
            return found
    return None
