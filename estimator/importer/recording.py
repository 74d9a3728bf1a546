"""One file as a recording with its own clock: table found, readings read, stamps understood."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from estimator.errors import InputError
from estimator.importer.choices import Choices, Decision
from estimator.importer.clock.clocks import clock
from estimator.importer.clock.stamps import Floats, Ints
from estimator.importer.meter import Meter
from estimator.importer.table import quantities as q
from estimator.importer.table.fast_rows import read_fast
from estimator.importer.table.layout import DELIMITERS, Layout, split
from estimator.importer.table.layout_columns import passed_over
from estimator.importer.table.layout_search import find_layout
from estimator.importer.table.opening import HEAD_BYTES, Table
from estimator.importer.table.quantities import plain
from estimator.importer.table.raw_table import Bools, RawTable
from estimator.importer.table.rows import read_rows
from estimator.importer.testimony.settle import Settled, settle

_MOST_HEAD = 1 << 24
_ELAPSED = re.compile(
    r"elapsed|verstreken|ecoule|transcurrido|laufzeit|dauer|duration|relative|since|\[s\]|\(s\)"
)


@dataclass(frozen=True)
class Recording:
    """The readings of one file.

    time_s : (n,) seconds from its first reading; current_a, voltage_v, temperature_c : (n,) or None
    over : (n,) markers of overload in the current; rows : (n,) lines of the file
    flow_told : whether another column says which way charge flows
    """

    name: str
    time_s: Floats
    current_a: Floats | None
    voltage_v: Floats | None
    temperature_c: Floats | None
    over: Bools
    rows: Ints
    started: datetime | None
    step_s: float
    notes: tuple[str, ...]
    signature: str
    meter: Meter | None
    decisions: tuple[Decision, ...] = ()
    flow_told: bool = False


def record(table: Table, name: str, choices: Choices, *, alone: bool = True) -> Recording:
    """The readings of a table; one of two files (not `alone`) may lack columns that the user named."""
    meter = _recognised(table, choices.get("meters", ()))
    columns = choices.get("columns") or (dict(meter.columns) if meter and meter.columns else None)
    decimal = choices.get("decimal") or (meter.decimal if meter else None)
    if decimal not in (None, ".", ","):
        raise InputError(f"decimal mark is {decimal!r}", mend="use . or ,")
    layout = _layout(table, name, columns, decimal, alone)
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
            mend="say which, such as --column current=TITLE[A]",
        )
    day_first = choices.get("day_first")
    if day_first is None and meter is not None:
        day_first = meter.day_first
    unit = layout.time.unit if layout.time.unit and layout.time.unit.quantity == q.TIME else None
    told = plain(layout.time.title)
    times = clock(
        raw.stamps, raw.rows, file=name, unit=unit, day_first=day_first, elapsed=bool(_ELAPSED.search(told))
    )
    turned = times.order if len(times.order) > 1 and times.order[0] > 0 else None
    said = [_recognised_said(layout, meter), *table.notes, *passed_over(layout), *settled.notes]
    said += [*raw.notes, *times.notes]
    decided = _decided(layout, raw.stamps.style, times.day_first)
    recording = _recording(name, raw, times.time_s, turned, times.started, times.step_s, said, meter)
    return replace(_borne_out(recording, settled), decisions=decided)


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
    settled = settle(table, layout, told)
    return settled, _raw(table, settled.layout, name, choices)


def _borne_out(r: Recording, settled: Settled) -> Recording:
    """The readings with what the other columns say of them: the way charge flows, volts that are a sum."""
    if not settled.rows.size or r.current_a is None:
        return r
    k = np.minimum(np.searchsorted(settled.rows, r.rows), settled.rows.size - 1)
    if settled.volts is not None:
        r = replace(r, voltage_v=settled.volts[k])
    if settled.flow is not None and r.current_a is not None:
        r = replace(r, current_a=r.current_a * settled.flow.factor[k], flow_told=True)
    return r


def _layout(
    table: Table, name: str, columns: Mapping[str, str | int] | None, decimal: str | None, alone: bool
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
                return find_layout(table.head(size), name, columns=some, decimal=decimal)
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


def _recording(
    name: str,
    raw: RawTable,
    time_s: Floats,
    turned: Ints | None,
    started: datetime | None,
    step_s: float,
    said: Sequence[str],
    meter: Meter | None,
) -> Recording:
    def channel(quantity: str) -> Floats | None:
        values = raw.channels.get(quantity)
        return values if values is None or turned is None else values[turned]

    current, voltage, power = channel(q.CURRENT), channel(q.VOLTAGE), channel(q.POWER)
    over = raw.overload.get(q.CURRENT, np.zeros(len(raw.rows), dtype=np.bool_))
    over = over if turned is None else over[turned]
    notes = list(said)
    if current is None and power is not None and voltage is not None:
        if raw.mixed:
            power = _straight(time_s, power)
            voltage = _straight(time_s, voltage)
        with np.errstate(divide="ignore", invalid="ignore"):
            current = np.where(np.abs(voltage) > 0.5, power / voltage, np.nan)
        over = raw.overload.get(q.POWER, over)
        notes.append("Only watts and volts were logged: amps are watts over volts.")
    rows = raw.rows if turned is None else raw.rows[turned]
    recording = Recording(
        name=name,
        time_s=time_s,
        current_a=current,
        voltage_v=voltage,
        temperature_c=channel(q.TEMPERATURE),
        over=over,
        rows=rows,
        started=started,
        step_s=step_s,
        notes=tuple(n for n in notes if n),
        signature=raw.layout.signature,
        meter=meter,
    )
    return _untangled(recording) if raw.mixed else recording


def _straight(time_s: Floats, values: Floats) -> Floats:
    good = np.isfinite(values)
    return np.interp(time_s, time_s[good], values[good]) if bool(good.any()) else values


def _untangled(r: Recording) -> Recording:
    """One meter that was switched between amps and volts: volts are drawn straight on to the readings of
    amps."""
    if r.current_a is None or r.voltage_v is None:
        return r
    amps = np.isfinite(r.current_a) | r.over
    volts = np.isfinite(r.voltage_v)
    if int(amps.sum()) < 2 or int(volts.sum()) < 1 or bool(np.any(amps & volts)):
        return r
    at = r.time_s[volts]
    voltage = np.interp(r.time_s[amps], at, r.voltage_v[volts])
    k = np.searchsorted(at, r.time_s[amps])
    before, after = at[np.clip(k - 1, 0, at.size - 1)], at[np.clip(k, 0, at.size - 1)]
    nearest = np.minimum(np.abs(r.time_s[amps] - before), np.abs(after - r.time_s[amps]))
    time_s = r.time_s[amps]
    steps = np.diff(time_s)
    steps = steps[steps > 0]
    said = (
        f"One meter was switched between amps ({int(amps.sum())} readings) and volts "
        f"({int(volts.sum())}): volts between "
        f"its readings are straight lines, no point of them further than {float(nearest.max()):.0f} s "
        f"from one."
    )
    return replace(
        r,
        time_s=time_s - time_s[0],
        current_a=r.current_a[amps],
        voltage_v=voltage,
        over=r.over[amps],
        rows=r.rows[amps],
        temperature_c=None if r.temperature_c is None else r.temperature_c[amps],
        step_s=float(np.median(steps)) if steps.size else r.step_s,
        notes=(*r.notes, said),
    )


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


def _recognised(table: Table, meters: Sequence[Meter]) -> Meter | None:
    signed = {m.signature: m for m in meters if m.signature}
    if signed:
        for line in table.head()[:500]:
            for delimiter in DELIMITERS[:4]:
                cells = line if isinstance(line, list) else split(line, delimiter)
                found = signed.get("|".join(plain(c.strip()) for c in cells))
                if found is not None:
                    return found
    return next((m for m in meters if not m.signature), None)
