"""One file as a recording with its own clock: table found, readings read, stamps understood."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from estimator.errors import Give, InputError
from estimator.importer.choices import Choices, Decision
from estimator.importer.clock.clocks import clock
from estimator.importer.known_meters import recognised, with_meter
from estimator.importer.layout.columns import passed_over
from estimator.importer.layout.layout import Layout
from estimator.importer.layout.search import find_layout, told_interval_s
from estimator.importer.meter import Meter
from estimator.importer.one_file import Recording, borne_out, on_one_axis
from estimator.importer.table import quantities as q
from estimator.importer.table.fast_rows import read_fast
from estimator.importer.table.loose_lines import loosened
from estimator.importer.table.opened_file import HEAD_BYTES, Table
from estimator.importer.table.quantities import plain
from estimator.importer.table.raw_table import RawTable
from estimator.importer.table.rows import read_rows
from estimator.importer.testimony.settle import Settled, settle

_MOST_HEAD, _MOST_LOOSE = 1 << 24, 1 << 26
_ELAPSED = re.compile(
    r"elapsed|verstreken|ecoule|transcurrido|laufzeit|dauer|duration|relative|since|\[s\]|\(s\)"
)


def record(table: Table, name: str, choices: Choices, *, alone: bool = True) -> Recording:
    """The readings of a table; one of two files (not `alone`) may lack columns that the user named."""
    if table.doubt:
        raise InputError(
            table.doubt, file=name, mend=("say which, such as ", Give("sheet", table.sheets[0][0]))
        )
    meter = recognised(table.head(), choices.get("meters", ()))
    choices = with_meter(choices, meter)
    columns, decimal, every_s = choices.get("columns"), choices.get("decimal"), choices.get("interval_s")
    if decimal not in (None, ".", ","):
        raise InputError(f"decimal mark is {decimal!r}", mend="use . or ,")
    table, layout = _laid_out(table, name, columns, decimal, alone, every_s)
    named = columns or {}
    try:
        settled, raw = _settled(table, layout, named, name, choices)
    except InputError:
        if decimal is not None:
            raise
        # The first lines may hold whole numbers only: the other mark must then carry the whole file.
        other = replace(layout, decimal="." if layout.decimal == "," else ",")
        try:
            settled, raw = _settled(table, other, named, name, choices)
        except InputError:
            second = None
        else:
            second = settled
        if second is None:
            raise
    layout = settled.layout
    if settled.doubt:
        raise InputError(
            settled.doubt,
            file=name,
            row=layout.header_row or None,
            mend=(
                "say which, with its unit, such as ",
                Give.column("current", "TITLE[A]"),
                " or TITLE[0.01A]",
            ),
        )
    unit = layout.time.unit if layout.time.unit and layout.time.unit.quantity == q.TIME else None
    told = plain(layout.time.title)
    times = clock(
        raw.stamps, raw.rows, file=name, unit=unit, day_first=choices.get("day_first"),
        usual=meter.day_first_seen if meter else None, elapsed=bool(_ELAPSED.search(told)),
    )  # fmt: skip
    _check_stacked(raw, times.restarts, name, told_every=every_s is not None)
    turned = times.order if len(times.order) > 1 and times.order[0] > 0 else None
    said = [_recognised_said(layout, meter), *table.notes, *passed_over(layout), *settled.notes]
    said += [*raw.notes, *times.notes]
    decided = _decided(layout, raw.stamps.style, times.day_first)
    recording = on_one_axis(name, raw, times.time_s, turned, times.started, times.step_s, said, meter)
    told_step_s = min(told_interval_s(table.head()[:200]) or 0.0, 300.0)
    return replace(
        borne_out(recording, settled), decisions=decided, told_step_s=told_step_s,
        day_first_seen=times.day_first_seen,
    )  # fmt: skip


def _check_stacked(raw: RawTable, restarts: Sequence[int], name: str, *, told_every: bool) -> None:
    """InputError where recordings stand below each other, each under its own titles."""
    begins = [int(raw.rows[k]) for k in np.searchsorted(raw.rows, raw.title_rows) if k < len(raw.rows)]
    begins = sorted({row for row in begins if row > int(raw.rows[0])})
    every_s = raw.layout.every_s
    anew = {int(raw.rows[k]) for k in restarts}
    if not begins or told_every or (every_s is None and not set(begins) <= anew):
        return
    if any(_repeats_the_first(raw, row) for row in begins):
        return  # one export appended to another: its copies are left out later
    rows = ", ".join(map(str, begins[:6])) + (", ..." if len(begins) > 6 else "")
    joined = () if every_s is None else (", or join them with ", Give("interval_s", every_s))
    raise InputError(
        f"holds {len(begins) + 1} recordings one below the other",
        file=name,
        row=begins[0],
        mend=(f"split it before row{'s' if len(begins) > 1 else ''} {rows}", *joined),
    )


def _repeats_the_first(raw: RawTable, row: int) -> bool:
    k = int(np.searchsorted(raw.rows, row))
    length = min(k, len(raw.rows) - k, 200)
    held = [x[:length] == x[k : k + length] for x in raw.channels.values()]
    return length >= 30 and bool(held) and all(bool(same.mean() > 0.95) for same in held)


def _raw(table: Table, layout: Layout, name: str, choices: Choices) -> RawTable:
    raw = None
    if table.cells is None:
        raw = read_fast(table.data, layout, name, max_rows=choices.get("max_rows"))
    if raw is None:
        raw = read_rows(table.rows(layout.delimiter), layout, name, max_rows=choices.get("max_rows"))
    return raw


def _settled(
    table: Table, layout: Layout, told: Mapping[str, object], name: str, choices: Choices
) -> tuple[Settled, RawTable]:
    settled = settle(table, layout, told, choices.get("state"))
    return settled, _raw(table, settled.layout, name, choices)


def _laid_out(
    table: Table,
    name: str,
    columns: Mapping[str, str | int] | None,
    decimal: str | None,
    alone: bool,
    every_s: float | None,
) -> tuple[Table, Layout]:
    """The layout of a table; of lines that are none, once they are put below titles."""
    try:
        return table, _layout(table, name, columns, decimal, alone, every_s)
    except InputError:
        if table.cells is not None or len(table.data) > _MOST_LOOSE:
            raise
        for said, rows in loosened(table.data.decode("utf-8", "replace").split("\n")):
            made = replace(table, data=b"", cells=rows, notes=(*table.notes, said))
            try:
                return made, _layout(made, name, columns, decimal, alone, every_s)
            except InputError:
                continue
        raise


def _layout(
    table: Table,
    name: str,
    columns: Mapping[str, str | int] | None,
    decimal: str | None,
    alone: bool,
    every_s: float | None,
) -> Layout:
    tries = [columns]
    if columns and not alone:
        tries += [
            {k: v for k, v in columns.items() if k not in left_out}
            for left_out in (("voltage", "power"), ("current", "power"))
        ]
    fault: InputError | None = None
    for some in tries:
        size = HEAD_BYTES
        while True:
            try:
                return find_layout(table.head(size), name, columns=some, decimal=decimal, every_s=every_s)
            except InputError as e:
                fault = fault or e
            if size >= min(len(table.data), _MOST_HEAD):
                break
            size *= 16
    assert fault is not None
    raise fault


def _decided(layout: Layout, style: str, day_first: bool | None) -> tuple[Decision, ...]:
    columns = [f"time from {layout.time.title!r}"]
    columns += [f"{c.quantity} from {c.title!r}" for c in layout.measured]
    found = [
        Decision("columns", ", ".join(columns), "columns"),
        Decision("decimal mark", "comma" if layout.decimal == "," else "point", "decimal"),
    ]
    if day_first is not None and style in ("year last", "no year"):
        found.append(Decision("order of dates", "day first" if day_first else "month first", "day_first"))
    return tuple(found)


_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", " ": "blanks"}
_SI = {q.CURRENT: "A", q.VOLTAGE: "V", q.POWER: "W", q.TEMPERATURE: "°C"}


def _recognised_said(layout: Layout, meter: Meter | None) -> str:
    told = []
    for column in layout.measured:
        if column.quantity == q.VALUE:
            told.append(f"values with their unit from {column.title!r}")
            continue
        scale = column.unit.scale if column.unit else 1.0
        prefix = {1e-3: "m", 1e3: "k", 1e-6: "µ"}.get(scale, "") if column.quantity != q.TEMPERATURE else ""
        told.append(f"{column.quantity} [{prefix}{_SI[column.quantity]}] from {column.title!r}")
    apart = f", separated by {_SEPARATORS[layout.delimiter]}" if layout.delimiter else ""
    mark = "decimal comma" if layout.decimal == "," else "decimal point"
    known = f" Meter {meter.name} recognised." if meter and meter.name else ""
    return f"Time from {layout.time.title!r}, {', '.join(told)}{apart}, {mark}.{known}"
