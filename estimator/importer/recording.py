"""Read one file as a recording with its own clock: find the table, read the readings and the stamps."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from estimator.errors import InputError
from estimator.importer.choices import Choices, Decision
from estimator.importer.clock.clocks import clock
from estimator.importer.clock.told_start import day_first_by_name, told_start
from estimator.importer.known_meters import recognised, with_meter
from estimator.importer.layout.beside import TICKS, told_interval_s
from estimator.importer.layout.columns import passed_over
from estimator.importer.layout.faults import NoReadings
from estimator.importer.layout.layout import Layout
from estimator.importer.layout.search import find_layout
from estimator.importer.meter import Meter
from estimator.importer.one_file import Recording, borne_out, on_one_axis
from estimator.importer.table import quantities as q
from estimator.importer.table.fast_rows import read_fast
from estimator.importer.table.loose_lines import loosened, stacked
from estimator.importer.table.markup import from_dump
from estimator.importer.table.opened_file import HEAD_BYTES, Table
from estimator.importer.table.quantities import Unit, plain, unit_name
from estimator.importer.table.raw_table import RawTable, without_copies
from estimator.importer.table.rows import read_rows
from estimator.importer.table.titles import is_foreign
from estimator.importer.testimony.settle import Settled, settle
from estimator.mends import Give

_HEADS = (HEAD_BYTES, 16 * HEAD_BYTES, 256 * HEAD_BYTES)  # how much is searched for titles, one after another
_MOST_LOOSE = 1 << 26  # files of more bytes are not searched for loose lines; bounds the work
_ELAPSED = re.compile(
    r"elapsed|verstreken|ecoule|transcurrido|laufzeit|dauer|duration|relative|since|\[s\]|\(s\)"
)


def record(table: Table, name: str, choices: Choices, *, alone: bool = True) -> Recording:
    """The readings of a table; one of two files (`alone` False) may lack columns that the user named."""
    if table.doubt:
        raise InputError(table.doubt, mend=("say which, such as ", Give("sheet", table.sheet)))
    meter = recognised(table.head(), choices.get("meters", ()))
    choices = with_meter(choices, meter)
    table, layout = _laid_out(table, choices, alone)
    try:
        settled, raw = _settled(table, layout, choices)
    except InputError as fault:
        if choices.get("decimal") is not None:
            raise
        # The first lines may hold only whole numbers; then the other decimal mark must fit the whole file.
        other = replace(layout, decimal="." if layout.decimal == "," else ",")
        try:
            settled, raw = _settled(table, other, choices)
        except InputError:
            raise fault from None
    layout, raw = settled.layout, without_copies(raw)
    if settled.doubt:
        mend = ("say which, with its unit, such as ", Give.column("current", "TITLE[A]"), " or TITLE[0.01A]")
        raise InputError(settled.doubt, row=layout.header_row or None, mend=mend)
    if layout.time.unit is None and raw.stamps.style == "number" and TICKS.search(plain(layout.time.title)):
        how_long = ("say how long one is, such as ", Give.column("time", f"{layout.time.title}[10 ms]"))
        raise InputError(f"{layout.time.title!r} has no unit", row=layout.header_row or None, mend=how_long)
    unit = layout.time.unit if layout.time.unit and layout.time.unit.quantity == q.TIME else None
    told = plain(layout.time.title)
    usual = meter.day_first_seen if meter else None
    # Those who write a decimal comma, or titles that are not English, write the day first.
    titles = [c.title for c in (layout.time, layout.date, *layout.measured) if c is not None]
    likely = layout.decimal == "," or any(map(is_foreign, titles))
    by_name = day_first_by_name(name, *map(int, raw.stamps.date[0, :2]))
    if by_name is not None:
        usual, likely = None, by_name
    times = clock(
        replace(raw.stamps, day_likely_first=likely), raw.rows, unit=unit, day_first=choices.get("day_first"),
        usual=usual, elapsed=bool(_ELAPSED.search(told)),
        last_s=_last_field_s(told, unit, "time" in (choices.get("columns") or {})), title=layout.time.title,
    )  # fmt: skip
    start_by_name = False
    if times.started is None:
        above = [x if isinstance(x, str) else " ".join(x) for x in table.head()[: min(layout.first_row, 200)]]
        if raw.stamps.style == "dotted clock":  # 10.05.21 in the first row is no date
            above[-1] = above[-1].replace(raw.stamps.example, "")
        begun = told_start(above, name, times.clock_s, choices.get("day_first"), usual, likely)
        if begun is not None:
            times = replace(times, started=begun.at, notes=(*times.notes, *begun.notes))
            start_by_name = begun.by_name
    _check_stacked(raw, times.restarts, told_every=choices.get("interval_s") is not None)
    said = [_recognised_said(layout, meter), *table.notes, *passed_over(layout), *settled.notes]
    said += [*raw.notes, *times.notes]
    decided = _decided(layout, raw.stamps.style, times.day_first)
    recording = on_one_axis(name, raw, times, said, meter)
    counters = [
        t for t, m in zip(layout.titles, layout.meanings, strict=False) if m and m.quantity == q.CHARGE
    ]
    if alone and recording.current_a is None and counters:
        raise InputError(
            f"has no amps, and {counters[0]!r} says only their mean",
            mend="log amps too, or enter the mow by hand: mean amps are the Ah over the hours",
        )
    told_step_s = min(told_interval_s(table.head()[:200]) or 0.0, 300.0)
    recording = replace(recording, start_by_name=start_by_name)
    return replace(borne_out(recording, settled), decisions=decided, told_step_s=told_step_s)


_HOURS_MINUTES = re.compile(r"\bh{1,2}:m{1,2}\b(?!:)|[\[(]h[\])]|\bhours\b|stunden|heures|horas")
_MINUTES_SECONDS = re.compile(r"\bm{1,2}:s{1,2}\b|\bmin\b|minut")


def _last_field_s(title: str, unit: Unit | None, named: bool) -> float | None:
    """What the last field of a two-field clock counts in [s]: by the user, its title or other columns."""
    if not named and _HOURS_MINUTES.search(title):
        return 60.0
    return 1.0 if not named and _MINUTES_SECONDS.search(title) else unit.scale if unit is not None else None


def _check_stacked(raw: RawTable, restarts: Sequence[int], *, told_every: bool) -> None:
    """Raise InputError where a file holds recordings one below the other, each with its own titles."""
    begins = [int(raw.rows[k]) for k in np.searchsorted(raw.rows, raw.title_rows) if k < len(raw.rows)]
    begins = sorted({row for row in begins if row > int(raw.rows[0])})
    every_s = raw.layout.every_s
    anew = {int(raw.rows[k]) for k in restarts}
    if not begins or told_every or (every_s is None and not set(begins) <= anew):
        return
    rows = ", ".join(map(str, begins[:6])) + (", ..." if len(begins) > 6 else "")
    joined = () if every_s is None else (", or join them with ", Give("interval_s", every_s))
    raise InputError(
        f"holds {len(begins) + 1} recordings one below the other",
        row=begins[0],
        mend=(f"split it before row{'s' if len(begins) > 1 else ''} {rows}", *joined),
    )


def _settled(table: Table, layout: Layout, choices: Choices) -> tuple[Settled, RawTable]:
    settled = settle(table, layout, choices.get("columns") or {}, choices.get("state"))
    most, layout = choices.get("max_rows"), settled.layout
    raw = read_fast(table.data, layout, most) if table.cells is None else None
    return settled, raw or read_rows(table.rows(layout.delimiter), layout, most)


def _laid_out(table: Table, choices: Choices, alone: bool) -> tuple[Table, Layout]:
    """The table and its layout; lines that are not a table yet are first put below titles."""
    if table.cells is None and len(table.data) <= _MOST_LOOSE:
        head = table.data[:8000].decode("utf-8", "replace").split("\n")
        for said, read in (
            ("One name and value per line: a reading begins where a name comes again.", stacked),
            ("The file is a dump of a database: its longest table is read.", from_dump),
        ):
            if read(head):
                rows = read(table.data.decode("utf-8", "replace").split("\n"))
                made = replace(table, data=b"", cells=rows, notes=(*table.notes, said))
                return made, _layout(made, choices, alone)
    try:
        return table, _layout(table, choices, alone)
    except NoReadings:
        raise
    except InputError:
        if table.cells is not None or len(table.data) > _MOST_LOOSE:
            raise
        for said, rows in loosened(table.data.decode("utf-8", "replace").split("\n")):
            made = replace(table, data=b"", cells=rows, notes=(*table.notes, said))
            try:
                return made, _layout(made, choices, alone)
            except InputError:
                continue
        raise


def _layout(table: Table, choices: Choices, alone: bool) -> Layout:
    columns, tries = choices.get("columns"), [choices]
    for left_out in ({"voltage", "power"}, {"current", "power"}) if columns and not alone else ():
        some = {k: v for k, v in (columns or {}).items() if k not in left_out}
        tries.append({**choices, "columns": some})
    fault: InputError | None = None
    for tried, size in itertools.product(tries, _HEADS):
        if size > HEAD_BYTES and size >= 16 * len(table.data):
            continue
        try:
            return find_layout(table.head(size), tried)
        except InputError as e:
            fault = fault or e
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


def _recognised_said(layout: Layout, meter: Meter | None) -> str:
    told = []
    for column in layout.measured:
        if column.quantity == q.VALUE:
            told.append(f"values with their unit from {column.title!r}")
            continue
        named = unit_name(column.quantity, column.unit.scale if column.unit else 1.0)
        told.append(f"{column.quantity} [{named}] from {column.title!r}")
    apart = f", separated by {_SEPARATORS[layout.delimiter]}" if layout.delimiter else ""
    mark = "decimal comma" if layout.decimal == "," else "decimal point"
    known = f" Meter {meter.name} recognised." if meter and meter.name else ""
    return f"Time from {layout.time.title!r}, {', '.join(told)}{apart}, {mark}.{known}"
