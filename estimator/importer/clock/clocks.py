"""What the stamps of a whole file mean: one time axis in seconds from the first reading.

Midnight, noon on a 12-hour clock without am and pm, summer time, restarts of the meter and several readings
within one second are decided here, each with a note.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats, Ints
from estimator.importer.clock.clock_axes import DAY_S, Axis, clock_only, dated, numbers
from estimator.importer.clock.stamps import CLOCKS, FIRST_YEAR, Stamps
from estimator.importer.clock.turns import in_order, spread_repeats
from estimator.importer.table.quantities import Unit
from estimator.mends import Give

_LONGEST_CATCH_UP = 6 * 3600.0
"""A log goes on past midnight for some hours at most (common practice)."""
_SET_BACK_S = 3.5
"""A clock that is kept right from outside is set back by a few seconds at most (common practice)."""
_MOST_ALIKE = 150
"""Where this many rows share each time, a spreadsheet has cut off digits."""
_WILD_S = 5e10  # some 1,600 years: no clock means it
_LONGEST_LOG_S = 366 * DAY_S  # a year: nobody mows for longer


@dataclass(frozen=True)
class Clock:
    """The time axis of a file.

    time_s : (n,) seconds from the first reading, never going back; order : (n,) the row of each reading
    started : when the log began, if the stamps say so
    restarts : index of the first reading after each restart; step_s : usual time between readings [s]
    clock_s : time of day [s] of the first reading, where the stamps are a clock without a date
    """

    time_s: Floats
    order: Ints
    started: datetime | None
    notes: tuple[str, ...]
    restarts: tuple[int, ...]
    step_s: float
    day_first: bool | None = None
    day_first_seen: bool | None = None
    clock_s: float | None = None


def clock(
    stamps: Stamps,
    rows: Ints,
    *,
    unit: Unit | None = None,
    day_first: bool | None = None,
    usual: bool | None = None,
    elapsed: bool = False,
    last_s: float | None = None,
    title: str = "",
) -> Clock:
    """The time axis of the stamps of one file.

    unit : unit of plain numbers, as the title gives it; day_first, usual : as for `dated`
    elapsed : whether the title speaks of elapsed time; last_s : as for `clock_only`
    Raises InputError where time goes back without an explanation.
    """
    if stamps.style == "number":
        axis = numbers(stamps.seconds, unit)
    elif stamps.style in CLOCKS:
        axis = clock_only(stamps, elapsed, last_s, title)
    else:
        axis = dated(stamps, rows, day_first, usual)
    return _unroll(axis, rows, numbered=stamps.style == "number")


def _unroll(axis: Axis, rows: Ints, *, numbered: bool) -> Clock:
    t = axis.seconds
    if not (float(t.min()) >= -_WILD_S and float(t.max()) <= _WILD_S):
        row = int(rows[np.flatnonzero(~(np.abs(t) <= _WILD_S))[0]])
        raise InputError("the time lies thousands of years away", row=row, mend="correct the stamp")
    n = len(t)
    notes = list(axis.notes)
    order = np.arange(n)
    steps = np.diff(t)
    base = axis.base
    if np.count_nonzero(steps < 0) > max(1, 0.9 * np.count_nonzero(steps)):
        t, order = t[::-1], order[::-1]
        notes.append("The newest reading comes first in the file: order reversed.")
        base = base + timedelta(seconds=float(t[0])) if base is not None else None
        steps = np.diff(t)
    swapped = in_order(t, steps)
    if swapped is not None:
        t, order = t[swapped], order[swapped]
        steps = np.diff(t)
        moved = np.flatnonzero(swapped != np.arange(n))
        notes.append(f"{len(moved)} rows out of turn put in order by their time (row {rows[moved[0]]}).")
    rows = rows[order]
    forward = steps[steps > 0]
    step = float(np.median(forward)) if forward.size else 1.0
    restarts: list[int] = []
    set_back, row_back = 0, []
    near = max(3 * step, 2.0)
    catch_up = _LONGEST_CATCH_UP if axis.kind == "clock" else near
    back_at = np.flatnonzero(steps < 0)
    shift = np.zeros(n if back_at.size else 0)
    over_s = _runs_over(t, back_at, step) if axis.kind == "elapsed" else None
    if over_s is not None:
        t = t + over_s * np.concatenate(([0], np.cumsum(steps < 0)))
        notes.append(f"The clock begins anew every {over_s:.10g} s (row {rows[back_at[0] + 1]}): counted on.")
    of_day = t if base is None else t + (base - datetime(1970, 1, 1)).total_seconds()
    twelve = axis.kind in ("clock", "dated") and float((of_day % DAY_S).max()) < 13 * 3600  # hours up to 12
    for k in back_at if over_s is None else ():
        back = -float(steps[k])
        if axis.kind in ("clock", "dated") and 0 <= DAY_S - back <= catch_up:  # the date may not advance
            shift[k + 1 :] += DAY_S
            notes.append(f"Midnight passes at row {rows[k + 1]}.")
        elif twelve and 0 <= 43200 - back <= catch_up:
            shift[k + 1 :] += 43200
            notes.append(f"The 12-hour clock passes 12 at row {rows[k + 1]}.")
        elif 0 < 3600 - back <= max(10 * step, 120) and _summer_may_end(axis, float(t[k + 1])):
            shift[k + 1 :] += 3600
            notes.append(
                f"The clock goes back by an hour at row {rows[k + 1]} (end of summer time): corrected."
            )
        elif k >= 2 and _is_restart(axis, t, int(k), near):
            pause = 2 * max(30.0, 3 * step)
            shift[k + 1 :] += back + pause
            restarts.append(int(k) + 1)
            notes.append(
                f"The meter restarted at row {rows[k + 1]}: a pause of unknown length, counted as "
                f"{pause:g} s unmeasured."
            )
        elif axis.kind != "elapsed" and back <= _SET_BACK_S and n >= 50 and set_back < max(3, 0.01 * n):
            set_back += 1
            shift[k + 1 :] += back + step
            row_back.append(int(rows[k + 1]))
        else:
            raise InputError(
                f"time goes back from {_said(axis, t[k])} to {_said(axis, t[k + 1])}",
                row=int(rows[k + 1]),
                mend="sort the file or split it in two",
            )
        if len(notes) > 40:
            row = int(rows[k + 1])
            raise InputError("time goes back again and again", row=row, mend="sort the file or split it")
    if row_back:
        shown = ", ".join(map(str, row_back[:3])) + (", ..." if set_back > 3 else "")
        notes.append(
            f"The clock was set back by up to {_SET_BACK_S:g} s {set_back} time{'s' if set_back > 1 else ''} "
            f"(row {shown}): counted on from the reading before, one usual step later."
        )
    t = t + shift if back_at.size else t
    if axis.kind == "dated" and base is not None:
        for k in np.flatnonzero(np.abs(steps - 3600 - step) <= max(1.5 * step, 2.0)):
            lands = base + timedelta(seconds=float(t[k + 1]))
            if step < 600 and lands.hour in (1, 2, 3) and lands.minute * 60 + lands.second <= max(step, 60):
                t = t.copy()
                t[k + 1 :] -= 3600
                notes.append(
                    f"The clock leaps an hour at row {rows[k + 1]} (start of summer time): corrected."
                )
    if float(t[-1] - t[0]) > _LONGEST_LOG_S:
        widest = int(np.argmax(np.diff(t))) + 1
        days = float(t[-1] - t[0]) / DAY_S
        raise InputError(
            f"the log would last {days:.0f} days", row=int(rows[widest]), mend="correct the stamp"
        )
    first_s = float(t[0])
    told = 1 + int(np.count_nonzero(steps))
    if n >= 10 and (told == 1 or (numbered and n > _MOST_ALIKE * told)):
        raise InputError(
            f"the time stands still: {n} rows have {told} time{'s' * (told > 1)} between them",
            row=int(rows[0]),
            mend=(
                "export it with all its digits, or say the time between rows with ",
                Give("interval_s", "SECONDS"),
            ),
        )
    spread = spread_repeats(t - first_s if first_s else t)
    t = spread.time_s - spread.time_s[0] if spread.notes else spread.time_s
    notes.extend(spread.notes)
    if spread.notes or back_at.size:
        forward = np.diff(t)
        forward = forward[forward > 0]
    step = float(np.median(forward)) if forward.size else 0.0
    clock_s = first_s if axis.kind == "clock" else None
    return Clock(
        t, order, base, tuple(notes), tuple(restarts), step, axis.day_first, axis.day_first_seen, clock_s
    )


_RUN_OVER_S = (60.0, 3600.0, 86400.0, 2**16 * 1e-3, 2**32 * 1e-6, 2**32 * 1e-3)
"""Spans after which a clock is back at zero: minute, hour and day; counters of ms and µs of 16 or 32 bits."""


def _runs_over(t: Floats, back_at: Ints, step: float) -> float | None:
    """After how many seconds a clock that runs evenly starts again at zero, None where it does not.

    >>> t = np.arange(100, 250.0) % 60
    >>> _runs_over(t, np.flatnonzero(np.diff(t) < 0), 1.0)
    60.0
    """
    for over_s in _RUN_OVER_S if back_at.size else ():
        evenly = np.abs(t[back_at + 1] + over_s - t[back_at] - step) <= 2 * step
        if t.max() <= over_s and bool(evenly.all()) and (back_at.size > 1 or over_s >= 3600):
            return over_s
    return None


def _summer_may_end(axis: Axis, seconds: float) -> bool:
    """Whether clocks may be put back to this time: at night and, if a date is known, in spring or autumn."""
    if axis.kind == "clock":
        return seconds % DAY_S < 4 * 3600
    if axis.kind != "dated" or axis.base is None:
        return False
    lands = axis.base + timedelta(seconds=seconds)
    return lands.hour < 4 and lands.month in (3, 4, 9, 10, 11)


def _is_restart(axis: Axis, t: Floats, k: int, near: float) -> bool:
    if axis.kind == "elapsed":
        return float(t[k + 1]) <= max(float(t[0]), 0.0) + near and float(t[k] - t[k + 1]) > near
    if axis.kind == "dated" and axis.base is not None:
        lands = axis.base + timedelta(seconds=float(t[k + 1]))
        unset = lands.year < FIRST_YEAR or float(t[k] - t[k + 1]) > 30 * DAY_S
        return unset and lands.month == 1 and lands.day == 1
    return False


def _said(axis: Axis, seconds: float) -> str:
    if axis.kind == "elapsed":
        return f"{seconds:g} s"
    stamp = (axis.base or datetime(2000, 1, 1)) + timedelta(seconds=float(seconds))
    return stamp.strftime("%H:%M:%S") + (f".{stamp.microsecond // 1000:03d}" if stamp.microsecond else "")
