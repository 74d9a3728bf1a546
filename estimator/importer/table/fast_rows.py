"""The readings of a big regular table all at once; None where they must be read row by row."""

from __future__ import annotations

import io
import warnings
from typing import Any

import numpy as np
import numpy.typing as npt

from estimator.errors import InputError
from estimator.importer.arrays import Bools, Floats
from estimator.importer.clock.alike import fixed_width
from estimator.importer.clock.stamps import Stamps
from estimator.importer.layout.layout import Layout
from estimator.importer.table import quantities as q
from estimator.importer.table.numbers import SCPI_OVER, Cell, number
from estimator.importer.table.raw_table import RawTable

Parsed = dict[int, npt.NDArray[Any]]

_MARKERS = [
    "", "OL", "O.L", "0L", "O.L.", "0.L", "OVERLOAD", "-OL", "---", "----", "-----", "--", "-",
    "nan", "NaN", "NA", "N/A",
]  # fmt: skip
SMALL = 1 << 20
"""Up to this many bytes are read without pandas, which is slow to load."""
_SPARE = 4
"""Letters by which a stamp may be longer than the first one."""


def read_fast(data: bytes, layout: Layout, max_rows: int | None = None) -> RawTable | None:
    """Read a table of regular rows all at once.

    data : UTF-8 with plain line feeds

    None for anything irregular: units beside values, repeated titles, blank lines, stamps of changing length.
    """
    if layout.delimiter in (None, " ") or any(
        c.unit_index is not None or c.quantity == q.VALUE for c in layout.measured
    ):
        return None
    start = _offset(data, layout.first_row)
    end = len(data)
    while end and data[end - 1] in b"\n \t":  # stripping would copy the whole file
        end -= 1
    if start is None or end <= start:
        return None
    lines = data.count(b"\n", start, end) + 1
    if max_rows is not None and lines > max_rows + 2000:
        raise InputError(f"holds more than {max_rows} readings", mend="log at a longer interval")
    last = data[data.rfind(b"\n", start, end) + 1 : end].count((layout.delimiter or ",").encode())
    notes = layout.notes
    if last < max(c.index for c in (layout.time, *layout.measured)):
        if not data[data.rfind(b"\n", start, end) + 1 :][:1].isdigit():
            return None
        # A logger that loses its supply leaves its last line unfinished.
        notes = (*notes, f"The last line (row {layout.first_row + lines - 1}) is cut short: left out.")
        end, lines = data.rfind(b"\n", start, end), lines - 1
        if end <= start:
            return None
    stamp_columns = [c for c in (layout.date, layout.time) if c is not None and layout.every_s is None]
    first = data[start : (data.find(b"\n", start) + 1 or end)].split((layout.delimiter or ",").encode())
    types: dict[int, Any] = {c.index: np.float64 for c in layout.measured}
    for column in stamp_columns:
        if column.index >= len(first):
            return None
        width = len(first[column.index].strip().strip(b'"'))
        types[column.index] = np.float64 if layout.style == "number" else f"S{width + _SPARE}"
    frame = _parse(data, start, end, layout, types)
    if frame is None or len(frame[layout.measured[0].index]) != lines:
        return None
    if max_rows is not None and lines > max_rows:
        return None
    stamps = _stamps(frame, layout)
    if stamps is None:
        return None
    channels: dict[str, Floats] = {}
    overload: dict[str, Bools] = {}
    doubtful: list[int] = []
    for column in layout.measured:
        values = frame[column.index]
        marks = np.abs(values) >= SCPI_OVER
        if bool(marks.any()):
            values = np.where(marks, np.nan, values)
        if bool(np.isnan(values).any()):
            doubtful.append(column.index)
        if column.unit and (column.unit.scale != 1 or column.unit.shift):
            values = values * column.unit.scale + column.unit.shift
        channels[column.quantity], overload[column.quantity] = values, marks
    if doubtful:
        texts = _parse(data, start, end, layout, dict.fromkeys(doubtful, "S12"))
        if texts is None or len(texts[doubtful[0]]) != lines:
            return None
        for column in layout.measured:
            if column.index in doubtful:
                missing = np.flatnonzero(np.isnan(channels[column.quantity]))
                for k, text in zip(missing, texts[column.index][missing], strict=True):
                    if number(bytes(text).decode("utf-8", "replace")).kind is Cell.OVERLOAD:
                        overload[column.quantity][k] = True
    channels = {k: v for k, v in channels.items() if bool(np.isfinite(v).any()) or bool(overload[k].any())}
    rows = np.arange(layout.first_row, layout.first_row + lines, dtype=np.int64)
    return RawTable(layout, rows, stamps, channels, overload, notes=notes)


def _offset(data: bytes, row: int) -> int | None:
    at = 0
    for _ in range(row - 1):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return None
    return at


def _parse(data: bytes, start: int, end: int, layout: Layout, types: dict[int, Any]) -> Parsed | None:
    """Columns (n,) of the given types; None where a line does not fit them."""
    if end - start <= SMALL and (few := _parse_plain(data[start:end], layout, types)) is not None:
        return few
    import pandas as pd

    columns = sorted(types)
    held = io.BytesIO(data)  # without a copy
    held.seek(start)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            frame = pd.read_csv(
                held,
                nrows=data.count(b"\n", start, end) + 1,
                sep=layout.delimiter,
                header=None,
                usecols=columns,
                dtype=types,
                decimal=layout.decimal,
                keep_default_na=False,
                na_values=_MARKERS,
                skip_blank_lines=False,
                encoding="utf-8",
                encoding_errors="replace",
            )
        except (ValueError, Warning, OverflowError):
            return None
    return {k: frame[k].to_numpy() for k in columns} if all(k in frame for k in columns) else None


def _parse_plain(lines: bytes, layout: Layout, types: dict[int, Any]) -> Parsed | None:
    """The same without pandas; None unless all lines have as many cells, unquoted, with plain numbers."""
    comma = (layout.delimiter or ",").encode()
    rows = [line.split(comma) for line in lines.split(b"\n")]
    if b'"' in lines or any(len(row) != len(rows[0]) for row in rows) or max(types) >= len(rows[0]):
        return None
    mark = layout.decimal.encode()
    columns: Parsed = {}
    for k, kind in types.items():
        cells = [row[k] for row in rows]
        if kind is np.float64:
            if b"".join(cells).translate(None, b"0123456789+-eE" + mark):
                return None
            try:
                columns[k] = np.array([float(cell.replace(mark, b".")) for cell in cells])
            except ValueError:
                return None
        else:
            columns[k] = np.array(cells, kind)
    return columns


def _stamps(frame: Parsed, layout: Layout) -> Stamps | None:
    if layout.style == "number":
        if layout.every_s is None:
            seconds = frame[layout.time.index]
        else:
            seconds = np.arange(len(frame[layout.measured[0].index]), dtype=np.float64) * layout.every_s
        if not bool(np.isfinite(seconds).all()):
            return None
        n = len(seconds)
        zeros = np.zeros((n, 3), dtype=np.int64)
        return Stamps("number", zeros, seconds, np.broadcast_to(np.float64("nan"), (n,)), False)
    time = frame[layout.time.index]
    if layout.date is not None:
        time = np.char.add(np.char.add(frame[layout.date.index], b" "), time)
    return fixed_width(time, layout.style)
