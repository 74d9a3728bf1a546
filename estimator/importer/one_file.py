"""The readings of one file: its columns on one time axis, in A, V and °C."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Bools, Floats, Ints, filled
from estimator.importer.choices import Decision
from estimator.importer.clock.clocks import Clock
from estimator.importer.meter import Meter
from estimator.importer.table import quantities as q
from estimator.importer.table.raw_table import RawTable
from estimator.importer.testimony.settle import Settled
from estimator.mends import Give


@dataclass(frozen=True)
class Recording:
    """The readings of one file.

    time_s : (n,) seconds from its first reading; current_a, voltage_v, temperature_c : (n,) or None
    over : (n,) whether the current was over the meter's range; rows : (n,) lines of the file
    told_step_s : the longest time between readings [s] that a line of the file gives, 0 where none does
    flow_told : whether another column says which way charge flows
    day_first_seen : whether the day comes first in its dates, where they show it
    clock_s : time of day [s] of its first reading, where it has one and no date
    start_by_name : whether only the file's name says when it started
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
    told_step_s: float = 0.0
    day_first_seen: bool | None = None
    clock_s: float | None = None
    start_by_name: bool = False


def on_one_axis(
    name: str, raw: RawTable, times: Clock, said: Sequence[str], meter: Meter | None
) -> Recording:
    """The columns of a table on its time axis; amps are worked out if only watts and volts were logged."""
    if not np.array_equal(times.order, np.arange(len(times.order))):
        raw = raw.turned(times.order)
    time_s = times.time_s
    held = [np.isfinite(raw.channels[x]) for x in (q.CURRENT, q.VOLTAGE, q.POWER) if x in raw.channels]
    in_turn = len(held) > 1 and bool(np.sum(held, axis=0).max() == 1)
    current, voltage, power = (raw.channels.get(x) for x in (q.CURRENT, q.VOLTAGE, q.POWER))
    over = raw.overload.get(q.CURRENT, np.zeros(len(raw.rows), dtype=np.bool_))
    notes = list(said)
    if current is None and power is not None and voltage is not None:
        if in_turn:
            power, voltage = filled(power, time_s), filled(voltage, time_s)
        with np.errstate(divide="ignore", invalid="ignore"):
            current = np.where(np.abs(voltage) > 0.5, power / voltage, np.nan)
        told = next(c for c in raw.layout.measured if c.quantity in (q.POWER, q.VALUE))
        if (
            told.quantity == q.POWER
            and told.unit is None
            and float(np.nanmax(np.abs(current), initial=0)) < 0.1
        ):
            mend = ("say its unit, such as ", Give.column("power", f"{told.title}[kW]"), " or [W]")
            raise InputError(f"{told.title!r} has no unit and would be next to nothing in watts", mend=mend)
        over = raw.overload.get(q.POWER, over)
        notes.append("Only watts and volts were logged: amps are watts over volts.")
    recording = Recording(
        name=name,
        time_s=time_s,
        current_a=current,
        voltage_v=voltage,
        temperature_c=raw.channels.get(q.TEMPERATURE),
        over=over,
        rows=raw.rows,
        started=times.started,
        step_s=times.step_s,
        day_first_seen=times.day_first_seen,
        clock_s=times.clock_s,
        notes=tuple(n for n in notes if n),
        signature=raw.layout.signature,
        meter=meter,
    )
    return _untangled(recording) if in_turn else recording


def _untangled(r: Recording) -> Recording:
    """Interpolate volts at the readings of amps, where one meter was switched between amps and volts."""
    if r.current_a is None or r.voltage_v is None:
        return r
    amps = np.isfinite(r.current_a) | r.over
    volts = np.isfinite(r.voltage_v)
    if int(amps.sum()) < 2 or int(volts.sum()) < 1 or bool(np.any(amps & volts)):
        return r
    at, time_s = r.time_s[volts], r.time_s[amps]
    voltage = np.interp(time_s, at, r.voltage_v[volts])
    k = np.searchsorted(at, time_s).clip(0, at.size - 1)
    nearest = np.minimum(np.abs(time_s - at[np.maximum(k - 1, 0)]), np.abs(at[k] - time_s))
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


def borne_out(r: Recording, settled: Settled) -> Recording:
    """The readings with what other columns say applied: which way charge flows, volts as a sum of cells."""
    if not settled.rows.size or r.current_a is None:
        return r
    k = np.minimum(np.searchsorted(settled.rows, r.rows), settled.rows.size - 1)
    way = settled.flow.factor[k] if settled.flow is not None else 1.0
    return replace(
        r,
        current_a=r.current_a * way if settled.amps is None else settled.amps[k],
        voltage_v=r.voltage_v if settled.volts is None else settled.volts[k],
        flow_told=settled.flow is not None or settled.amps is not None,
    )
