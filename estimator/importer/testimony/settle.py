"""Find the reading of a table that its other columns confirm: columns, units, and which way charge flows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from estimator.importer.arrays import Floats, Ints
from estimator.importer.clock.stamps import CLOCKS
from estimator.importer.layout.layout import Column, Layout
from estimator.importer.table import quantities as q
from estimator.importer.table.opened_file import Table
from estimator.importer.table.quantities import Unit, unit_name, unknown_unit
from estimator.importer.testimony.agree import Reading, readings_of
from estimator.importer.testimony.cells import families_of, single_cells
from estimator.importer.testimony.flow import Flow, both_ways, flow_of
from estimator.importer.testimony.heard import ClockColumn, Heard, Witness, hear, is_worth_hearing

_ONE_CELL = 5
"""The doubt about a title that names both a cell and a highest or lowest."""
_SURELY = 0.5
"""Between two readings whose costs differ by less than this, nothing is settled."""


@dataclass(frozen=True)
class Settled:
    """The reading of a table that its columns confirm.

    layout : with the columns and units that were settled; rows : (n,) lines of the file that were heard
    flow : which way its amps count, None where nothing says so; amps : (n,) discharge less charging, where
        each has a column; volts : (n,) the sum of the cells, where the table has no volts of the pack
    notes : what was settled, and by which columns
    doubt : why it cannot be settled; empty where it can
    """

    layout: Layout
    rows: Ints
    flow: Flow | None = None
    amps: Floats | None = None
    volts: Floats | None = None
    notes: tuple[str, ...] = ()
    doubt: str = ""


def settle(
    table: Table, layout: Layout, told: Mapping[str, object], state: str | int | None = None
) -> Settled:
    """Settle columns, units and the direction of charge by the other columns of a table.

    told : quantities whose column the user named; that choice is not changed
    state : title or number of the column that says which way charge flows, where the user named it
    """
    nothing = Settled(layout, np.zeros(0, dtype=np.int64))
    if not is_worth_hearing(layout):
        return nothing
    each = hear(table, layout, state)
    heard = both_ways(each) if q.CURRENT not in told else each
    if len(heard.rows) < 2:
        return nothing
    layout, clock, seconds, notes = _clock(heard, layout, told)
    fixed = {c.quantity: c.index for c in layout.measured if c.quantity in told}
    readings = readings_of(heard, clock, seconds, fixed)
    if not readings:
        current = next((w for w in heard.of(q.CURRENT)), None)
        flow = flow_of(heard, current) if current is not None else None
        amps = current.values * (current.scale or 1.0) if current is not None and heard is not each else None
        return Settled(layout, heard.rows, flow, amps, None, tuple(notes), _strange(layout))
    best = readings[0]
    layout, said = _with(layout, best, clock)
    notes += said
    cells = single_cells(heard) if q.VOLTAGE not in told else []
    volts = None
    if best.voltage.index in {w.index for w in cells}:
        volts = np.sum([w.values * (w.scale or best.voltage_scale) for w in cells], axis=0)
        notes.append(
            f"Volts are the sum of {len(cells)} cells, from {cells[0].title!r} to {cells[-1].title!r}."
        )
    amps = best.current.values * best.current_scale if heard is not each else None
    flow = flow_of(heard, best.current) if amps is None else None
    if amps is not None:
        notes.append(f"Amps are {best.current.title}.")
    one_cell = best.voltage.meaning.doubt >= _ONE_CELL and volts is None and q.VOLTAGE not in told
    if flow is not None:
        notes.append(flow.said)
    return Settled(
        layout,
        heard.rows,
        flow,
        amps,
        volts,
        tuple(notes),
        _rival(readings)
        or (f"{best.voltage.title!r} is not the voltage of the whole pack" if one_cell else "")
        or ("" if best.agrees else _strange(layout) or _in_parts(heard, best, volts, told)),
    )


def _clock(
    heard: Heard, layout: Layout, told: Mapping[str, object]
) -> tuple[Layout, ClockColumn | None, Floats, list[str]]:
    """The clock that goes back least and whose unit is known, or found from a second clock, with notes."""
    n = len(heard.rows)
    if layout.every_s is not None:
        return layout, None, np.arange(n, dtype=np.float64) * layout.every_s, []
    mine = next((c for c in heard.clocks if c.index == layout.time.index), None)
    notes: list[str] = []
    joined = layout.date is not None and mine is not None and mine.style in CLOCKS
    if q.TIME not in told and not (joined and mine is not None and mine.backs <= 1 + n // 1000):
        best = min(heard.clocks, key=_against, default=None)
        if best is not None and (mine is None or _against(best) < _against(mine)):
            if mine is not None and mine.backs > best.backs:
                notes.append(
                    f"Time is from {best.title!r}, since {layout.time.title!r} starts again and again."
                )
            time = Column(best.index, q.TIME, best.unit if best.style == "number" else None, best.title)
            if best.style not in CLOCKS or layout.date is None:
                layout = replace(layout, time=time, date=None, style=best.style)
                mine = best
    if mine is None:
        return layout, None, np.arange(n, dtype=np.float64), notes
    seconds = mine.values
    if mine.style == "number" and mine.unit is None:
        unit, by = _unit_by_second(mine, heard)
        if unit is not None:
            mine = replace(mine, unit=unit)
            layout = replace(layout, time=replace(layout.time, unit=unit))
            notes.append(f"The unit of {mine.title!r} follows from {by!r}: {unit_name(q.TIME, unit.scale)}.")
    return layout, mine, seconds, notes


def _against(c: ClockColumn) -> tuple[bool | int, ...]:
    repeats = int(np.count_nonzero(np.diff(c.values) == 0))
    coarse, undated = repeats > 0.5 * len(c.values), c.style in CLOCKS
    return c.backs > 0, min(c.backs, 3) + c.doubt, coarse, c.style != "number", repeats > 0, undated, c.index


def _unit_by_second(mine: ClockColumn, heard: Heard) -> tuple[Unit | None, str]:
    for other in heard.clocks:
        if other.index == mine.index or other.unit is None:
            continue
        a, b = np.diff(mine.values), np.diff(other.values)
        both = (a >= 0) & (b >= 0)
        mine_span, other_span = float(a[both].sum()), float(b[both].sum()) * other.unit.scale
        if mine_span <= 0 or other_span < 20 * float(np.min(b[b > 0], initial=np.inf)) * other.unit.scale:
            continue
        for scale in (1.0, 60.0, 3600.0, 1e-3, 1e-6, 86400.0):
            if abs(mine_span * scale / other_span - 1) < 0.05:
                return Unit(q.TIME, scale), other.title
    return None, ""


def _with(layout: Layout, r: Reading, clock: ClockColumn | None) -> tuple[Layout, list[str]]:
    """The layout with the columns and units of a reading, and notes on what was settled."""
    notes: list[str] = []
    measured = {c.quantity: c for c in layout.measured}
    by = ", ".join(map(repr, r.agrees[:3]))
    for quantity, w, scale in (
        (q.CURRENT, r.current, r.current_scale),
        (q.VOLTAGE, r.voltage, r.voltage_scale),
    ):
        before = measured.get(quantity)
        if before is None or before.index != w.index or scale != (w.scale or 1.0):
            unit = Unit(quantity, scale) if scale != 1.0 or w.scale is not None else None
            measured[quantity] = Column(w.index, quantity, unit, w.title)
            if r.agrees:
                named = unit_name(quantity, scale)
                notes.append(f"{quantity.capitalize()} is {w.title!r} in {named}: confirmed by {by}.")
    if clock is not None and clock.short and r.agrees:
        layout = replace(layout, time=replace(layout.time, unit=Unit(q.TIME, r.time_scale)))
    if clock is not None and clock.style == "number":
        told = clock.unit.scale if clock.unit is not None else None
        if r.time_scale != (told or 1.0):
            layout = replace(layout, time=replace(layout.time, unit=Unit(q.TIME, r.time_scale)))
            notes.append(f"{clock.title!r} counts in {unit_name(q.TIME, r.time_scale)}: confirmed by {by}.")
        elif r.agrees and told is None:
            layout = replace(layout, time=replace(layout.time, unit=Unit(q.TIME, 1.0)))
    kept = [measured[x] for x in (q.CURRENT, q.VOLTAGE) if x in measured]
    kept += [c for c in layout.measured if c.quantity not in (q.CURRENT, q.VOLTAGE)]
    return replace(layout, measured=tuple(kept)), notes


def _rival(readings: list[Reading]) -> str:
    """Which other reading is as likely; empty where one reading stands out."""
    best = readings[0]
    for other in readings[1:]:
        if other.cost > best.cost + _SURELY:
            break
        if not _alike(best.current, other.current):
            return f"{best.current.title!r} and {other.current.title!r} may both be the pack's current"
        both_cells = min(best.voltage.meaning.doubt, other.voltage.meaning.doubt) >= 2
        if not both_cells and not _alike(best.voltage, other.voltage):
            return f"{best.voltage.title!r} and {other.voltage.title!r} may both be the pack's volts"
        if (other.current_scale, other.time_scale, other.voltage_scale) != (
            best.current_scale,
            best.time_scale,
            best.voltage_scale,
        ) and other.index_of == best.index_of:
            return f"the units of {best.current.title!r} and {best.voltage.title!r} are not given"
    return ""


def _strange(layout: Layout) -> str:
    """A doubt about amps or volts in an unknown unit; empty where there is none."""
    titles = (c.title for c in layout.measured if c.unit is None and c.quantity in (q.CURRENT, q.VOLTAGE))
    return next((f"the unit of {title!r} is not known" for title in titles if unknown_unit(title)), "")


def _in_parts(heard: Heard, best: Reading, volts: Floats | None, told: Mapping[str, object]) -> str:
    """A doubt about numbered columns with the same volts or amps, maybe parts of a pack; else empty."""
    for used, quantity, parts in (
        (best.voltage, q.VOLTAGE, "blocks in series"),
        (best.current, q.CURRENT, "strings in parallel"),
    ):
        families = [f for f in families_of(heard, quantity) if used.index in {w.index for w in f}]
        settled = quantity in told or (quantity == q.VOLTAGE and volts is not None)
        if not settled and families and all(_alike(w, used) for w in families[0]):
            titles = ", ".join(repr(w.title) for w in families[0][:4])
            return f"{titles} may be {parts} (then add a column with their sum) or each the whole pack"
    return ""


def _alike(a: Witness, b: Witness) -> bool:
    both = np.isfinite(a.values) & np.isfinite(b.values)
    if not bool(both.any()):
        return False
    x, y = np.abs(a.values[both]) * (a.scale or 1.0), np.abs(b.values[both]) * (b.scale or 1.0)
    return bool(np.abs(x - y).sum() < 0.03 * np.abs(x).sum() + 1e-12)
