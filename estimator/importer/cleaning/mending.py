"""Turn one recording into a log, mending it step by step, with everything that was decided."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from estimator.errors import InputError, TooFewReadings
from estimator.importer.arrays import Floats, filled, thinned
from estimator.importer.choices import Choices, Decision
from estimator.importer.cleaning import masks as clean
from estimator.importer.cleaning import plausible
from estimator.importer.cleaning.asleep import fill_holes
from estimator.importer.cleaning.charger import leave_out_charging
from estimator.importer.cleaning.clamp_sense import turn
from estimator.importer.cleaning.readings_in_work import (
    Drawn,
    Mark,
    Series,
    drawn,
    high_level,
    longest_joined_s,
)
from estimator.importer.cleaning.several import leaps, said_of_several
from estimator.importer.cleaning.zero import Quiet, take_zero_off
from estimator.importer.log import Columns, Log
from estimator.importer.meter import Meter, assumed_error, current_step, resolution_of
from estimator.importer.one_file import Recording
from estimator.importer.two_meters.aligning import Alignment
from estimator.results import shown
from estimator.written_days import day_and_time


@shown
@dataclass(frozen=True)
class AsRead:
    """The readings before anything was mended; all arrays (n,), nan where no number was read."""

    time_s: Floats
    current_a: Floats
    voltage_v: Floats


@shown
@dataclass(frozen=True)
class Examined:
    """An import with all its steps.

    log : the log as it would be kept; as_read : the readings before mending; marks : the mended stretches
    quiet : quiet stretches that gave the zero error; decisions : what was decided
    before, after : charge and energy as read and as mended; meters : by which the next files are recognised
    """

    log: Log
    as_read: AsRead | None
    marks: tuple[Mark, ...]
    quiet: tuple[Quiet, ...]
    decisions: tuple[Decision, ...]
    before: Drawn
    after: Drawn
    meters: tuple[Meter, ...]
    alignment: Alignment | None = None


def mended(
    r: Recording, parts: Sequence[Recording], alignment: Alignment | None, choices: Choices
) -> Examined:
    """Mend a recording of current and voltage step by step, with a note for every step.

    r : the readings; parts : the recordings that it was joined from; alignment : how their clocks were
    matched. Raises InputError where too little is left.
    """
    _complete(r)
    if r.voltage_v is not None and float(np.nanmedian(r.voltage_v)) < 0:
        turned = "Volts are below zero: the leads of the voltmeter sat the wrong way round, signs turned."
        r = replace(r, voltage_v=-r.voltage_v, notes=(*r.notes, turned))
    assert r.current_a is not None and r.voltage_v is not None
    high_a, step_v = high_level(r.current_a[np.isfinite(r.current_a)]), resolution_of(r.voltage_v)
    step_a = current_step(r.current_a, min(1.0, 0.05 * high_a))
    told_gap_s = choices.get("gap_s") or next((m.gap_s for x in parts if (m := x.meter) and m.gap_s), None)
    joined = r.time_s, r.current_a, r.voltage_v, r.step_s, step_a, step_v
    longest = told_gap_s or longest_joined_s(*joined, still_joins=choices.get("gaps") is None)
    longest = told_gap_s or max(longest, 1.25 * r.told_step_s)
    s = Series(r.time_s, r.current_a, r.voltage_v, r.temperature_c, r.over, longest, r.rows)
    as_read = AsRead(r.time_s, r.current_a, r.voltage_v)
    before = drawn(r.time_s, r.current_a, r.voltage_v, longest)
    decisions = [d for part in parts for d in part.decisions]
    if alignment is not None:
        moved = f"moved by {alignment.offset_s:+.2f} s"
        decisions.append(Decision("clock of the voltmeter", moved, "offset_s"))
    said = [f"{r.name}: {_overview(r)}", *r.notes]
    clean.mend_missing(s)
    if len(s.time_s) < 2:
        raise TooFewReadings("fewer than two readings with amps and volts", mend="log for longer")
    clean.mend_lost_signs(s)
    clean.mend_spikes(s, step_a, step_v)
    clean.mark_saturation(s, step_a)
    clean.mend_stuck(s)
    if choices.get("columns") is None and not any(x.meter and x.meter.columns for x in parts):
        plausible.check_sides(s)
    plausible.check_levels(s)
    plausible.check_no_counter(s)
    plausible.check_flow(s)
    said += turn(s, step_v, parts, choices, decisions)
    doubts = leave_out_charging(s, step_a, told=choices.get("reverse") is not None)
    doubts += [*plausible.said_of_levels(s), *plausible.said_of_hung_clamp(s)]
    said[1:1] = [*plausible.said_of_clock(r.started), *doubts]
    leapt = leaps(s)
    said += said_of_several(s, leapt)
    # A meter that changes its range counts in finer steps at rest than at work.
    some = thinned(r.current_a)
    work = some[np.abs(some) > 0.5 * high_level(s.current_a)]
    assumed = assumed_error(max(resolution_of(work), step_a), step_v)
    error = assumed
    for part in parts:
        if part.meter is not None:
            error = part.meter.error(error)
    error, quiet, more = take_zero_off(s, step_a, step_v, error, choices, decisions)
    error, undecided = fill_holes(s, error, choices)
    more += undecided
    clean.mark_gaps(s)
    start = float(s.time_s[0])
    time_s = s.time_s - start if start else s.time_s
    if start:
        as_read = replace(as_read, time_s=as_read.time_s - start)
        s.marks = [replace(m, spans_s=m.spans_s - start) for m in s.marks]
        quiet = tuple(replace(q, start_s=q.start_s - start, end_s=q.end_s - start) for q in quiet)
    columns = Columns(time_s=time_s, current_a=s.current_a, voltage_v=s.voltage_v)
    if s.temperature_c is not None and bool(np.isfinite(s.temperature_c).any()):
        columns["temperature_c"] = filled(s.temperature_c, s.time_s)
    if bool(s.volts_drawn.any()):
        columns["volts_drawn"] = s.volts_drawn
    after = drawn(s.time_s, s.current_a, s.voltage_v, longest)
    said += [m.said for m in s.marks] + more
    if abs(after.ah - before.ah) >= 0.0005:
        said.append(f"Corrected, the log draws {after.ah:.3f} Ah instead of {before.ah:.3f} Ah as read.")
    log = Log(
        readings=columns,  # type: ignore[arg-type]  # a table when somebody looks at it
        notes=tuple(said),
        doubts=tuple(doubts),
        error=error,
        started=r.started + timedelta(seconds=round(start)) if r.started else None,
        clock_s=None if r.clock_s is None else r.clock_s + round(start),
        longest_step_s=longest,
        name=r.name,
        leaps_s=tuple(time_s[leapt].tolist()),
    )
    known = ((part, part.meter or Meter(name="")) for part in parts)
    meters = tuple(
        replace(
            meter,
            signature=part.signature,
            day_first_seen=meter.day_first_seen if part.day_first_seen is None else part.day_first_seen,
        )
        for part, meter in known
        if part.meter is not None or part.signature
    )
    return Examined(log, as_read, tuple(s.marks), quiet, tuple(decisions), before, after, meters, alignment)


def _complete(r: Recording) -> None:
    which = "or say which column it is"
    if r.current_a is None:
        raise InputError("has volts but no amps", mend=f"give the ammeter's file too, {which}")
    if r.voltage_v is None:
        raise InputError(
            "has amps but no volts", mend=f"give the voltmeter's file too, {which}, or note amps by hand"
        )
    row, amps = int(r.rows[0]), int(np.isfinite(r.current_a).sum())
    if amps < 2 and bool(r.over.any()):
        raise InputError("the meter shows overload throughout", row=row, mend="choose a larger range")
    if amps < 2:
        raise TooFewReadings(f"only {amps} reading(s) of amps", row=row, mend="log for longer")
    if not bool(np.isfinite(r.voltage_v).any()):
        raise InputError("no readings of volts", row=row, mend="check the voltmeter's leads")
    for values, unit, what in ((r.current_a, "A", "current"), (r.voltage_v, "V", "voltage")):
        k = int(np.nanargmax(np.abs(values)))
        if abs(values[k]) > 1e5:
            said = f"{what} is {values[k]:.3g} {unit}"
            raise InputError(said, row=int(r.rows[k]), mend="correct it or its unit")


def _overview(r: Recording) -> str:
    minutes = float(r.time_s[-1] - r.time_s[0]) / 60
    started = f" from {day_and_time(r.started)}" if r.started else ""
    return f"{len(r.time_s)} readings over {minutes:.1f} min{started}, usually one every {r.step_s:.3g} s."
