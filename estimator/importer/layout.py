"""Where in a table the readings stand: delimiter, titles, columns, decimal mark."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from estimator.errors import InputError, TooFewReadings
from estimator.importer import quantities as q
from estimator.importer.numbers import Cell, decimal_mark, number
from estimator.importer.quantities import Meaning, Unit, meaning, plain, unit_of
from estimator.importer.stamps import parts, style_of

DELIMITERS = ("\t", ";", "|", ",", " ")
_MOST_PREAMBLE = 20_000


@dataclass(frozen=True)
class Column:
    """One column that is used: its place from 0, what it measures (None: a unit column says), its unit and
    title."""

    index: int
    quantity: str
    unit: Unit | None
    title: str
    unit_index: int | None = None


@dataclass(frozen=True)
class Layout:
    """How a table is laid out.

    delimiter : None where the cells are already apart (spreadsheets); header_row : line of the titles from
        1, 0 without
    first_row : line of the first reading; time, date : columns of the stamps; measured : the other used
        columns
    style : style of the stamps; titles : the cells of the title line
    """

    delimiter: str | None
    decimal: str
    header_row: int
    first_row: int
    titles: tuple[str, ...]
    time: Column
    date: Column | None
    measured: tuple[Column, ...]
    style: str
    notes: tuple[str, ...] = ()

    @property
    def signature(self) -> str:
        """What the meter's files are known by next time."""
        return "|".join(plain(t) for t in self.titles) if self.titles else ""

    def stamp(self, cells: Sequence[str]) -> str:
        """The stamp of a row, date and clock joined."""
        time = cells[self.time.index] if self.time.index < len(cells) else ""
        if self.date is None:
            return time.strip()
        date = cells[self.date.index] if self.date.index < len(cells) else ""
        if self.date.index < self.time.index and " " in date.strip() and ":" in date:
            date = date.split()[0]
        return f"{date.strip()} {time.strip()}".strip()


def split(line: str, delimiter: str) -> list[str]:
    """One line as cells.

    >>> split('1;"2;3";4', ";")
    ['1', '2;3', '4']
    """
    if delimiter == " ":
        return line.split()
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            return line.split(delimiter)
    return line.split(delimiter)


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
        raise _unrecognised(window, file, columns)
    return best.layout


def _cells(line: str | list[str], delimiter: str | None) -> list[str]:
    return line if isinstance(line, list) else split(line, delimiter or ",")


def _titled(lines: Sequence[str | list[str]], delimiter: str | None, decimal: str | None) -> _Found | None:
    best: _Found | None = None
    tried = 0
    for k, line in enumerate(lines):
        text = line if isinstance(line, str) else " ".join(line)
        if len(text) > 5000 or not re.search(r"[^\W\d_]", text):
            continue
        cells = [c.strip() for c in _cells(line, delimiter)]
        if cells and cells[0].startswith(("#", "//")):
            cells[0] = cells[0].lstrip("#/ ")
        meanings = [meaning(c) for c in cells]
        if not _enough(meanings):
            continue
        after = k + 1
        if after < len(lines):
            units = [c.strip() for c in _cells(lines[after], delimiter)]
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
        cells = [c.strip() for c in _cells(lines[k], delimiter)]
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
    layout = _choose(titles, meanings, sample, delimiter, decimal)
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


def _choose(
    titles: list[str],
    meanings: Sequence[Meaning | None],
    sample: Sequence[Sequence[str]],
    delimiter: str | None,
    decimal: str | None,
) -> Layout | None:
    def of(quantity: str) -> list[int]:
        found = [k for k, m in enumerate(meanings) if m and m.quantity == quantity]
        return sorted(found, key=lambda k: (_doubt(meanings[k]), k))

    def column(k: int, quantity: str | None = None, unit_index: int | None = None) -> Column:
        m = meanings[k]
        return Column(
            k, quantity or (m.quantity if m else q.OTHER), m.unit if m else None, titles[k], unit_index
        )

    notes: list[str] = []
    measured: list[Column] = []
    for quantity in (q.CURRENT, q.VOLTAGE, q.POWER, q.TEMPERATURE):
        candidates = [k for k in of(quantity) if _mostly(sample, k, decimal)]
        if not candidates:
            continue
        measured.append(column(candidates[0]))
        rest = [titles[k] for k in candidates[1:]]
        if rest:
            notes.append(
                f"{quantity.capitalize()} is taken from {titles[candidates[0]]!r}, not "
                f"{', '.join(map(repr, rest))}."
            )
    if not any(c.quantity in (q.CURRENT, q.VOLTAGE, q.POWER) for c in measured):
        measured += [
            column(k, q.VALUE, _unit_column(k, meanings))
            for k in of(q.VALUE)
            if _unit_column(k, meanings) is not None
        ]
    else:
        measured = [
            replace(c, unit_index=_unit_column(c.index, meanings)) if c.unit is None else c for c in measured
        ]
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
    )
    time_k, date_k, style = _stamp_columns(times, dates, sample, mark)
    if time_k is None or style is None:
        return None
    if len(times) > 1:
        notes.append(f"Time is taken from {titles[time_k]!r}.")
    return Layout(
        delimiter=delimiter,
        decimal=mark,
        header_row=0,
        first_row=0,
        titles=tuple(titles),
        time=column(time_k),
        date=column(date_k) if date_k is not None else None,
        measured=tuple(measured),
        style=style,
        notes=tuple(notes),
    )


def _doubt(m: Meaning | None) -> int:
    return m.doubt if m else 9


def _mostly(sample: Sequence[Sequence[str]], k: int, decimal: str | None) -> bool:
    kinds = [min(number(r[k], ".").kind, number(r[k], ",").kind) for r in sample if k < len(r)]
    return kinds.count(Cell.NUMBER) + kinds.count(Cell.OVERLOAD) > 0 and kinds.count(Cell.TEXT) <= 0.5 * len(
        kinds
    )


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


@dataclass(frozen=True)
class _StampColumns:
    time: int | None
    date: int | None
    style: str | None


def _stamp_columns(
    times: Sequence[int], dates: Sequence[int], sample: Sequence[Sequence[str]], mark: str
) -> tuple[int | None, int | None, str | None]:
    def cells(k: int) -> list[str]:
        return [r[k] for r in sample if k < len(r)]

    for k in times:
        style = style_of(cells(k), mark)
        if style is None:
            continue
        if style == "clock" and dates:
            d = dates[0]
            joined = [
                f"{r[d].split()[0] if r[d].split() else ''} {r[k]}" for r in sample if max(k, d) < len(r)
            ]
            both = style_of(joined, mark)
            if both not in (None, "clock", "number"):
                return k, d, both
        return k, None, style
    for k in dates:
        style = style_of(cells(k), mark)
        if style is not None:
            return k, None, style
    return None, None, None


def _untitled(lines: Sequence[str | list[str]], delimiter: str | None, decimal: str | None) -> _Found | None:
    """Tables without titles, where each value carries its unit."""
    for k, line in enumerate(lines[:200]):
        cells = [c.strip() for c in _cells(line, delimiter)]
        meanings: list[Meaning | None] = []
        for c in cells:
            reads = [r for r in (number(c, "."), number(c, ",")) if r.kind is Cell.NUMBER and r.unit]
            style = style_of([c]) if not reads and re.match(r"\d", c) else None
            if reads and reads[0].unit:
                meanings.append(Meaning(reads[0].unit.quantity))
            elif style in ("clock", "year first", "year last"):
                meanings.append(Meaning(q.TIME if ":" in c else q.DATE))
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
        cells = [c.strip() for c in _cells(line, delimiter)]
        plains = [plain(c) for c in cells]
        if any(v not in plains for v in named.values()) or any(
            not 0 <= v < len(cells) for v in placed.values()
        ):
            continue
        if not named and number(cells[placed.get(q.TIME, 0)], ".").kind is Cell.NUMBER:
            pass
        places = {**placed, **{key: plains.index(v) for key, v in named.items()}}
        meanings: list[Meaning | None] = [None] * len(cells)
        for key, at in places.items():
            own = meaning(cells[at])
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


def _unrecognised(
    lines: Sequence[str | list[str]], file: str | None, columns: Mapping[str, str | int] | None
) -> InputError:
    if columns:
        told = ", ".join(f"{k} in {v!r}" for k, v in columns.items())
        return InputError(f"no such columns ({told})", file=file, mend="check their titles or numbers")
    for k, line in enumerate(lines[:2000]):
        for delimiter in DELIMITERS:
            found = {m.quantity for m in (meaning(c) for c in _cells(line, delimiter)) if m}
            if len(found & {q.TIME, q.DATE, q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}) >= 2:
                if not any((x if isinstance(x, str) else "".join(x)).strip() for x in lines[k + 1 :]):
                    return TooFewReadings(
                        "has titles but no readings", file=file, row=k + 1, mend="export it again"
                    )
                lacking = [
                    w
                    for w, has in (
                        ("time", found & {q.TIME, q.DATE}),
                        ("current or voltage", found & {q.CURRENT, q.VOLTAGE, q.POWER, q.VALUE}),
                    )
                    if not has
                ]
                if lacking:
                    return InputError(
                        f"no column for {' and '.join(lacking)}",
                        file=file,
                        row=k + 1,
                        mend="add one, or say which it is with columns",
                    )
                row, why = _first_misfit(lines, k, delimiter)
                return InputError(
                    why, file=file, row=row, mend="correct the row, or export with another separator"
                )
    return InputError(
        "no columns for time, current and voltage",
        file=file,
        row=_first_filled(lines),
        mend="give them titles such as time_s, current_a, voltage_v",
    )


def _first_filled(lines: Sequence[str | list[str]]) -> int:
    for k, line in enumerate(lines):
        if (line if isinstance(line, str) else "".join(line)).strip():
            return k + 1
    return 1


def _first_misfit(lines: Sequence[str | list[str]], k: int, delimiter: str) -> tuple[int, str]:
    titles = _cells(lines[k], delimiter)
    for j in range(k + 1, len(lines)):
        cells = _cells(lines[j], delimiter)
        if any(c.strip() for c in cells):
            if len([c for c in cells if c.strip()]) > len(titles):
                return j + 1, f"{len(cells)} fields stand under {len(titles)} titles"
            return j + 1, f"readings such as {', '.join(c.strip() for c in cells)[:60]!r} are not understood"
    return k + 1, "has titles but no readings"
