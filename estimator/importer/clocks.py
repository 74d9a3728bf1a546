"""What the stamps of a whole file mean: one time axis in seconds from the first reading.

Day or month first, midnight, noon of a 12-hour clock without am and pm, summer time, restarts of the meter
and several readings within one second are decided here, each with a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.quantities import Unit
from estimator.importer.stamps import Floats, Ints, Stamps

_DAY = 86400.0
_SPREADSHEET_EPOCH = datetime(1899, 12, 30)
_LONGEST_CATCH_UP = 6 * 3600.0
_WILD_S = 5e10
_LONGEST_LOG_S = 366 * _DAY


@dataclass(frozen=True)
class Clock:
    """The time axis of a file.

    time_s : (n,) seconds from the first reading, never going back; `order` : (n,) which row each reading was
    started : when the log began, if the stamps say so; restarts : indices of the first readings after a
        restart
    """

    time_s: Floats
    order: Ints
    started: datetime | None
    notes: tuple[str, ...]
    restarts: tuple[int, ...]
    step_s: float
    day_first: bool | None = None


@dataclass(frozen=True)
class _Axis:
    seconds: Floats
    base: datetime | None
    notes: tuple[str, ...]
    kind: str  # elapsed, clock, dated or zoned
    day_first: bool | None = None


def days_from_civil(year: Ints, month: Ints, day: Ints) -> Ints:
    """Days since 1970-01-01 of Gregorian dates (each array of shape (n,)).

    Source: the usual era arithmetic with years that begin in March (Fliegel and Van Flandern 1968 give the
    like).

    >>> int(days_from_civil(np.array([2000]), np.array([3]), np.array([1]))[0])
    11017
    """
    y = year - (month <= 2)
    era = y // 400
    yoe = y - era * 400
    doy = (153 * (month + np.where(month > 2, -3, 9)) + 2) // 5 + day - 1
    days: Ints = era * 146097 + yoe * 365 + yoe // 4 - yoe // 100 + doy - 719468
    return days


def _civil(days: float) -> datetime:
    return datetime(1970, 1, 1) + timedelta(seconds=days)


def clock(
    stamps: Stamps,
    rows: Ints,
    *,
    file: str | None = None,
    unit: Unit | None = None,
    day_first: bool | None = None,
    elapsed: bool = False,
) -> Clock:
    """The time axis of the stamps of one file.

    unit : unit of plain numbers as the title gives it; elapsed : whether the title speaks of elapsed time.
    Raises InputError where time goes back without an explanation.
    """
    if stamps.style == "number":
        axis = _numbers(stamps.seconds, unit)
    elif stamps.style == "clock":
        axis = _clock_only(stamps, elapsed)
    else:
        axis = _dated(stamps, rows, file, day_first)
    return _unroll(axis, rows, file)


def _numbers(values: Floats, unit: Unit | None) -> _Axis:
    lowest, highest = float(values.min()), float(values.max())
    steps = np.abs(np.diff(values))
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    for low, scale, name in ((1e18, 1e-9, "ns"), (1e15, 1e-6, "µs"), (1e12, 1e-3, "ms"), (1e9, 1.0, "s")):
        if low <= lowest and highest <= 5 * low and (unit is None or unit.scale in (scale, 1.0, 1e-3)):
            base = float(values[0]) * scale
            started = datetime.fromtimestamp(int(base), tz=UTC).replace(tzinfo=None)
            seconds = (values - values[0]) * scale
            return _Axis(seconds, started, (f"Time is in {name} since 1970 (UTC).",), "zoned")
    if unit is None and lowest >= 20_000 and highest <= 80_000 and step < 0.02:
        started = _SPREADSHEET_EPOCH + timedelta(seconds=round(float(values[0]) * _DAY))
        return _Axis(
            np.round((values - values[0]) * _DAY, 3),
            started,
            ("Time is a spreadsheet's day number.",),
            "dated",
        )
    if unit is None and values.min() >= 0 and values.max() < 1.0 and step < 0.005 and len(values) > 2:
        return _Axis(
            np.round(values * _DAY, 3),
            None,
            ("Time is a fraction of a day, as spreadsheets keep it.",),
            "elapsed",
        )
    if unit is not None:
        said = {1.0: "s", 1e-3: "ms", 60.0: "min", 3600.0: "h", 1e-6: "µs"}.get(unit.scale, "s")
        return _Axis(
            values * unit.scale, None, (f"Time is elapsed time in {said}.",) if said != "s" else (), "elapsed"
        )
    span = float(values.max() - values.min())
    if step >= 100 and span > 12 * 3600 and span / 1000 >= 1:
        return _Axis(
            values * 1e-3, None, ("Time has no unit and steps of 100 or more: taken as ms.",), "elapsed"
        )
    return _Axis(values, None, ("Time has no unit: taken as seconds.",), "elapsed")


def _half_days(stamps: Stamps) -> Floats:
    seconds = stamps.seconds
    if not np.any(stamps.half[:1]) and not np.any(stamps.half):
        return seconds
    twelve = (seconds >= 43200) & (seconds < 46800)
    seconds = np.where(twelve & (stamps.half > 0), seconds - 43200, seconds)
    return np.asarray(np.where((stamps.half == 2), seconds + 43200, seconds), dtype=np.float64)


def _clock_only(stamps: Stamps, elapsed: bool) -> _Axis:
    seconds = _half_days(stamps)
    notes: tuple[str, ...] = ()
    minutes_first = stamps.short and (elapsed or float(seconds[0]) < 120 or float(seconds.max()) >= _DAY)
    if minutes_first:
        seconds = seconds / 60
        notes = ("Time is taken as minutes:seconds.",)
    first = float(seconds[0])
    is_elapsed = elapsed or minutes_first or first < 60 or float(seconds.max()) >= _DAY
    return _Axis(seconds, None, notes, "elapsed" if is_elapsed else "clock")


def _day_is_first(stamps: Stamps, rows: Ints, file: str | None) -> tuple[bool, str]:
    a, b = stamps.date[:, 0], stamps.date[:, 1]
    high_a, high_b = np.flatnonzero(a > 12), np.flatnonzero(b > 12)
    if high_a.size and high_b.size:
        row = int(rows[max(high_a[0], high_b[0])])
        raise InputError(
            "dates have day and month in both orders",
            file=file,
            row=row,
            mend="split the file where the order changes",
        )
    if high_a.size:
        return True, ""
    if high_b.size:
        return False, ""
    both = []
    for first in (True, False):
        d, m = (a, b) if first else (b, a)
        days = days_from_civil(np.where(stamps.date[:, 2] > 0, stamps.date[:, 2], 2001), m, d)
        both.append((int(days.max() - days.min()), first))
    both.sort(key=lambda x: x[0])
    if both[0][0] < both[1][0]:
        return both[0][1], ""
    first = bool(stamps.point_dates)
    if int(a[0]) == int(b[0]) and not np.any(a != b):
        return first, ""
    told = "day first" if first else "month first"
    return first, (
        f"Dates such as {a[0]:02d}/{b[0]:02d} can be read both ways: taken as {told}, which moves only "
        f"the date of the "
        f"log; day_first={not first} turns it."
    )


def _dated(stamps: Stamps, rows: Ints, file: str | None, day_first: bool | None) -> _Axis:
    a, b, c = stamps.date[:, 0], stamps.date[:, 1], stamps.date[:, 2]
    notes: list[str] = []
    first: bool | None = None
    if stamps.style in ("year last", "no year"):
        first, said = (day_first, "") if day_first is not None else _day_is_first(stamps, rows, file)
        if said:
            notes.append(said)
        day, month = (a, b) if first else (b, a)
        year = c if stamps.style == "year last" else np.full_like(a, _recent_year(int(month[0])))
        if stamps.style == "no year":
            notes.append(f"Dates have no year: taken as {int(year[0])}.")
    else:
        year, month, day = a, b, c
    bad = np.flatnonzero((month < 1) | (month > 12) | (day < 1) | (day > 31) | (year < 1900) | (year > 2200))
    if bad.size:
        k = int(bad[0])
        raise InputError(
            f"date has day {int(day[k])}, month {int(month[k])} and year {int(year[k])}",
            file=file,
            row=int(rows[k]),
            mend="correct the date",
        )
    seconds = days_from_civil(year, month, day) * _DAY + _half_days(stamps)
    if stamps.style == "no year":
        seconds = seconds + 365 * _DAY * np.cumsum(np.concatenate(([False], np.diff(seconds) < -300 * _DAY)))
    local = float(seconds[0])
    zoned = ~np.isnan(stamps.zone_s)
    if bool(np.any(zoned)):
        seconds = seconds - np.where(zoned, stamps.zone_s, stamps.zone_s[zoned][0])
    base = _civil(local)
    kind = "zoned" if bool(np.any(zoned)) else "dated"
    return _Axis(seconds - seconds[0], base, tuple(notes), kind, first)


def _recent_year(month: int) -> int:
    today = datetime.now()
    return today.year if month <= today.month else today.year - 1


def _unroll(axis: _Axis, rows: Ints, file: str | None) -> Clock:
    t = axis.seconds
    wild = np.flatnonzero(~(np.abs(t) <= _WILD_S))
    if wild.size:
        raise InputError(
            "the time lies thousands of years away",
            file=file,
            row=int(rows[wild[0]]),
            mend="correct the stamp",
        )
    n = len(t)
    notes = list(axis.notes)
    order = np.arange(n)
    steps = np.diff(t)
    base = axis.base
    if n > 2 and np.count_nonzero(steps < 0) > 0.9 * np.count_nonzero(steps) and np.count_nonzero(steps) > 1:
        t, order = t[::-1], order[::-1]
        notes.append("Newest reading comes first in the file: turned round.")
        base = base + timedelta(seconds=float(t[0])) if base is not None else None
        steps = np.diff(t)
    rows = rows[order]
    forward = steps[steps > 0]
    step = float(np.median(forward)) if forward.size else 1.0
    restarts: list[int] = []
    shift = np.zeros(n)
    near = max(3 * step, 2.0)
    for k in np.flatnonzero(steps < 0):
        back = -float(steps[k])
        if axis.kind == "clock" and 0 <= _DAY - back <= _LONGEST_CATCH_UP:
            shift[k + 1 :] += _DAY
            notes.append(f"Midnight passes at row {rows[k + 1]}.")
        elif axis.kind == "clock" and float(t.max()) < 13 * 3600 and 0 <= 43200 - back <= _LONGEST_CATCH_UP:
            shift[k + 1 :] += 43200
            notes.append(f"The 12-hour clock passes 12 at row {rows[k + 1]}.")
        elif axis.kind in ("clock", "dated") and 0 < 3600 - back <= max(10 * step, 120):
            shift[k + 1 :] += 3600
            notes.append(
                f"The clock goes back by an hour at row {rows[k + 1]} (end of summer time): put right."
            )
        elif k >= 2 and _is_restart(axis, t, int(k), near):
            pause = 2 * max(30.0, 3 * step)
            shift[k + 1 :] += back + pause
            restarts.append(int(k) + 1)
            notes.append(
                f"The meter restarted at row {rows[k + 1]}: a pause of unknown length, counted as "
                f"{pause:g} s unmeasured."
            )
        else:
            raise InputError(
                f"time goes back from {_said(axis, t[k])} to {_said(axis, t[k + 1])}",
                file=file,
                row=int(rows[k + 1]),
                mend="sort the file or split it in two",
            )
        if len(notes) > 40:
            raise InputError(
                "time goes back again and again",
                file=file,
                row=int(rows[k + 1]),
                mend="sort the file or split it",
            )
    t = t + shift
    if axis.kind == "dated" and base is not None:
        for k in np.flatnonzero(np.abs(steps - 3600 - step) <= max(1.5 * step, 2.0)):
            lands = base + timedelta(seconds=float(t[k + 1]))
            if step < 600 and lands.hour in (1, 2, 3) and lands.minute * 60 + lands.second <= max(step, 60):
                t = t.copy()
                t[k + 1 :] -= 3600
                notes.append(
                    f"The clock leaps an hour at row {rows[k + 1]} (start of summer time): put right."
                )
    if float(t[-1] - t[0]) > _LONGEST_LOG_S:
        widest = int(np.argmax(np.diff(t))) + 1
        raise InputError(
            f"the log would last {float(t[-1] - t[0]) / _DAY:.0f} days",
            file=file,
            row=int(rows[widest]),
            mend="correct the stamp",
        )
    spread = spread_repeats(t - t[0])
    t = spread.time_s
    notes.extend(spread.notes)
    positive = np.diff(t)
    positive = positive[positive > 0]
    return Clock(
        t,
        order,
        base if n else None,
        tuple(notes),
        tuple(restarts),
        float(np.median(positive)) if positive.size else 0.0,
        axis.day_first,
    )


def _is_restart(axis: _Axis, t: Floats, k: int, near: float) -> bool:
    if axis.kind == "elapsed":
        return float(t[k + 1]) <= max(float(t[0]), 0.0) + near and float(t[k] - t[k + 1]) > near
    if axis.kind == "dated" and axis.base is not None:
        lands = axis.base + timedelta(seconds=float(t[k + 1]))
        return float(t[k] - t[k + 1]) > 30 * _DAY and lands.month == 1 and lands.day == 1
    return False


def _said(axis: _Axis, seconds: float) -> str:
    if axis.kind == "elapsed":
        return f"{seconds:g} s"
    if axis.base is not None:
        stamp = axis.base + timedelta(seconds=float(seconds))
    else:
        stamp = datetime(2000, 1, 1) + timedelta(seconds=float(seconds))
    return stamp.strftime("%H:%M:%S") + (f".{stamp.microsecond // 1000:03d}" if stamp.microsecond else "")


@dataclass(frozen=True)
class Spread:
    """Times [s] after spreading, and what was said about it."""

    time_s: Floats
    notes: tuple[str, ...]


def spread_repeats(t: Floats) -> Spread:
    """Readings with the same stamp spread evenly until the next stamp (t: (n,) seconds, never going back).

    >>> spread_repeats(np.array([0.0, 0.0, 1.0, 1.0, 2.0])).time_s.tolist()
    [0.0, 0.5, 1.0, 1.5, 2.0]
    """
    if len(t) < 2:
        return Spread(t, ())
    fresh = np.concatenate(([True], np.diff(t) > 0))
    if bool(fresh.all()):
        return Spread(t, ())
    starts = np.flatnonzero(fresh)
    counts = np.diff(np.concatenate((starts, [len(t)])))
    stamps = t[starts]
    gaps = np.diff(stamps)
    whole = bool(np.all(stamps == np.round(stamps)))
    minutes = whole and len(stamps) > 1 and bool(np.all(gaps % 60 == 0))
    resolution = 60.0 if minutes else (1.0 if whole else float(gaps.min()) if gaps.size else 1.0)
    usual = float(np.median(counts))
    stalled = counts > max(20 * usual, 30)
    room = np.minimum(np.concatenate((gaps, [resolution])), resolution)
    room[:-1][stalled[:-1]] = gaps[stalled[:-1]]
    within = np.arange(len(t)) - np.repeat(starts, counts)
    out = t + within * np.repeat(room / counts, counts)
    repeated = int(np.count_nonzero(counts > 1))
    notes = [
        f"{repeated} stamps are shared by several readings (clock of {resolution:g} s): spread evenly "
        f"within each."
    ]
    if np.any(stalled):
        notes.append(
            f"The clock stood still for {int(counts[stalled].max())} readings: spread until its next stamp."
        )
    return Spread(out, tuple(notes))
