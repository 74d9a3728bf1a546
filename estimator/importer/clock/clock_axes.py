"""Stamps of one style turned into seconds: plain numbers, clocks without a date, dates in either order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats, Ints
from estimator.importer.clock.stamps import Stamps, may_be_year
from estimator.importer.table.quantities import TIME, Unit, unit_name
from estimator.mends import Give, Note

DAY_S = 86400.0
"""Seconds in a day."""
_SPREADSHEET_EPOCH = datetime(1899, 12, 30)  # day 0 of ISO/IEC 29500-1, 18.17.4 (from memory)
_JULIAN_DAY_OF_SPREADSHEETS = 2415018.5
"""Julian date of midnight on 1899-12-30 (J2000.0 is 2451545.0 at noon on 2000-01-01)."""


@dataclass(frozen=True)
class Axis:
    """The time of each reading.

    seconds : (n,) [s] from `base`, the instant of second zero; base is None where no date is known
    notes : what was decided; kind : elapsed, clock, dated or zoned
    day_first : how dates such as 03/04 were read, None where it did not matter
    day_first_seen : the same where the dates themselves show it, else None
    """

    seconds: Floats
    base: datetime | None
    notes: tuple[str, ...]
    kind: str
    day_first: bool | None = None
    day_first_seen: bool | None = None


def days_from_civil(year: Ints, month: Ints, day: Ints) -> Ints:
    """Days since 1970-01-01 of Gregorian dates (each array of shape (n,)).

    >>> int(days_from_civil(np.array([2000]), np.array([3]), np.array([1]))[0])
    11017
    """
    months = (12 * (year - 1970) + month - 1).astype("datetime64[M]")
    days: Ints = months.astype("datetime64[D]").astype(np.int64) + day - 1
    return days


def numbers(values: Floats, unit: Unit | None) -> Axis:
    """Times that are plain numbers (n,): elapsed time in some unit, time since 1970, a spreadsheet's days."""

    def elapsed(seconds: Floats, *said: str) -> Axis:
        return Axis(seconds, None, said, "elapsed")

    lowest, highest = float(values.min()), float(values.max())
    steps = np.abs(np.diff(values))
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    for low, scale, name in ((1e18, 1e-9, "ns"), (1e15, 1e-6, "µs"), (1e12, 1e-3, "ms"), (1e9, 1.0, "s")):
        if low <= lowest and highest <= 5 * low and (unit is None or unit.scale in (scale, 1.0, 1e-3)):
            base = float(values[0]) * scale
            started = datetime.fromtimestamp(int(base), tz=UTC).replace(tzinfo=None)
            seconds = (values - values[0]) * scale
            return Axis(seconds, started, (f"Time is in {name} since 1970 (UTC).",), "zoned")
    julian = lowest >= 2.4e6 and highest <= 2.5e6
    if unit is None and (julian or (lowest >= 20_000 and highest <= 80_000)) and step < 0.02:
        day = float(values[0]) - _JULIAN_DAY_OF_SPREADSHEETS * julian
        started = _SPREADSHEET_EPOCH + timedelta(seconds=round(day * DAY_S))
        said = "Time is a Julian date." if julian else "Time is a spreadsheet's day number."
        return Axis(np.round((values - values[0]) * DAY_S, 3), started, (said,), "dated")
    if unit is None and values.min() >= 0 and values.max() < 1.0 and step < 0.005 and len(values) > 2:
        _check_step(values, DAY_S)
        return elapsed(np.round(values * DAY_S, 3), "Time is a fraction of a day, as spreadsheets keep it.")
    if unit is not None:
        said = f"Time is elapsed time in {unit_name(TIME, unit.scale)}."
        return elapsed(values * unit.scale, *[said] * (unit.scale != 1))
    if (clock := _as_clock(values)) is not None:
        return Axis(clock, None, ("Time is a clock in digits, as 143005 is 14:30:05.",), "clock")
    _check_step(values, 1.0)
    span = float(values.max() - values.min())
    if step >= 100 and span > 12 * 3600 and span / 1000 >= 1:
        return elapsed(values * 1e-3, "Time has no unit and steps of 100 or more: taken as ms.")
    return elapsed(values, "Time has no unit: taken as seconds.")


def _as_clock(values: Floats) -> Floats | None:
    """Seconds of the day for clocks such as 143005, which leap at full minutes; None for other numbers."""
    whole = np.floor(values)
    h, m, s = whole // 10_000, whole // 100 % 100, whole % 100
    seconds = 3600 * h + 60 * m + s + (values - whole)
    leaps = np.diff(whole // 100) > 0
    if len(values) < 60 or np.count_nonzero(leaps) < 2 or max(s.max(), m.max()) >= 60 or h.max() >= 24:
        return None
    steps = np.diff(seconds)
    even = np.median(np.diff(values)[leaps]) >= 41 > np.median(steps[leaps]) and s.max() > 50
    return seconds if even and min(values) >= 0 else None


_SHORT_S, _REACH = 300.0, 60
"""Logs are checked that are shorter than this [s] if taken as seconds; rows over which the step is a mean."""


def _check_step(values: Floats, taken_s: float) -> None:
    """InputError where a short log has round steps in minutes or hours (0.08333 min is 5 s), not as taken."""
    lag = min(_REACH, len(values) // 2)
    if len(values) < 2 * _REACH or float(np.ptp(values)) > _SHORT_S:
        return
    step = float(np.median(values[lag:] - values[:-lag])) / lag
    even = []
    for scale in (taken_s, 60.0, 3600.0) if step > 0 else ():
        digits = step * scale / 10.0 ** np.floor(np.log10(step * scale) + 1e-9)
        # people set round steps: 1, 1.5, 2 ... times a power of ten
        if min(abs(float(digits) / x - 1) for x in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)) < 0.002:
            even.append(scale)
    if even and even[0] != taken_s:
        named = "min" if even[0] == 60 else "h"
        raise InputError(
            f"the time has no unit: it ticks by {step * even[0]:.3g} s if it counts in {named}",
            mend=("say which, such as ", Give.column("time", f"TITLE[{named}]"), " or [s]"),
        )


_LONGEST_H = 5
"""No mow lasts more hours than this, and most logs last more minutes: beyond it, first fields are minutes."""


def clock_only(stamps: Stamps, elapsed: bool, last_s: float | None = None, title: str = "") -> Axis:
    """Times without a date: a clock, or elapsed time where the title or the values say so.

    last_s : what the last of two fields counts [s], None where nothing says so

    Raises InputError where two fields may be hours and minutes or minutes and seconds.
    """
    seconds = stamps.seconds
    notes: tuple[str, ...] = ()
    minutes_first = stamps.short and (elapsed or float(seconds[0]) < 120 or float(seconds.max()) >= DAY_S)
    if minutes_first and last_s is None and float(seconds.max()) < _LONGEST_H * 3600:
        mend = ("say what its last field counts, such as ", Give.column("time", f"{title}[min]"), " or [s]")
        raise InputError(f"{title!r} may be hours:minutes or minutes:seconds", mend=mend)
    if minutes_first:
        seconds, said = (seconds, "hours:minutes") if last_s == 60 else (seconds / 60, "minutes:seconds")
        notes = (f"Time is taken as {said}.",)
    first = float(seconds[0])
    is_elapsed = elapsed or minutes_first or first < 60 or float(seconds.max()) >= DAY_S
    return Axis(seconds, None, notes, "elapsed" if is_elapsed else "clock")


def _day_first_seen(stamps: Stamps) -> bool | None:
    """Whether the day comes first, where the dates can be read in one way only; else None."""
    a, b = stamps.date[:, 0], stamps.date[:, 1]
    if np.any(a > 12) or np.any(b > 12):
        return bool(np.any(a > 12))
    both = []
    for first in (True, False):
        d, m = (a, b) if first else (b, a)
        days = days_from_civil(np.where(stamps.date[:, 2] > 0, stamps.date[:, 2], 2001), m, d)
        both.append((int(days.max() - days.min()), first))
    both.sort(key=lambda x: x[0])
    return both[0][1] if both[0][0] < both[1][0] else None


def _read_both_ways(stamps: Stamps, taken: str, turned: bool) -> Note:
    """The note on dates that can be read both ways."""
    said = f"Dates such as {stamps.date_written} can be read both ways: taken as {taken}"
    return Note(f"{said} (this moves only the date of the log)", (Give("day_first", turned), " overrules it"))


def dated(stamps: Stamps, rows: Ints, day_first: bool | None, usual: bool | None = None) -> Axis:
    """Times with a date.

    day_first : whether the day comes before the month; None finds it from the dates
    usual : the order in the meter's other files, for dates that can be read both ways
    Raises InputError for a date that does not exist.
    """
    a, b, c = stamps.date[:, 0], stamps.date[:, 1], stamps.date[:, 2]
    notes: list[str] = []
    first = seen = None
    yearless = stamps.style == "no year"
    if stamps.style in ("year last", "no year"):
        first = day_first
        if first is None:
            first = seen = _day_first_seen(stamps)
        if first is None:
            dotted = "." in stamps.example.split(":")[0]
            first = (stamps.day_likely_first or dotted) if usual is None else usual
            if np.any(a != b):
                taken = f"{'day' if first else 'month'} first"
                taken += " as in other files of this meter" if usual is not None else ""
                notes.append(_read_both_ways(stamps, taken, not first))
        day, month = (a, b) if first else (b, a)
        year = c
    else:
        year, month, day = a, b, c
        if stamps.style == "short year first" and may_be_year(2000 + int(c[0])):
            later = stamps.day_likely_first or int(c[0]) + 2000 > int(a[0])
            first = later if day_first is None else day_first
            year, day = (2000 + c, a - 2000) if first else (a, c)
            if day_first is None:
                notes.append(_read_both_ways(stamps, f"{'day' if first else 'year'} first", not first))
        yearless = not np.any(year)  # a named month may stand without one
    if yearless:
        today = datetime.now()
        year = np.full_like(a, today.year if month[0] <= today.month else today.year - 1)
        notes.append(f"Dates have no year: taken as {int(year[0])}.")
    # Work each day out once, since a log holds few of them.
    begins = np.flatnonzero(np.concatenate(([True], (np.diff(a) | np.diff(b) | np.diff(c)) != 0)))
    lasting = np.diff(begins, append=len(a))
    year, month, day = year[begins], month[begins], day[begins]
    bad = np.flatnonzero((month < 1) | (month > 12) | (day < 1) | (day > 31) | (year < 1900) | (year > 2200))
    if bad.size:
        k = int(bad[0])
        raise InputError(
            f"date has day {int(day[k])}, month {int(month[k])} and year {int(year[k])}",
            row=int(rows[begins[k]]),
            mend="correct the date",
        )
    seconds = np.repeat(days_from_civil(year, month, day) * DAY_S, lasting) + stamps.seconds
    local = float(seconds[0])
    zoned = ~np.isnan(stamps.zone_s)
    if bool(np.any(zoned)):
        seconds = seconds - np.where(zoned, stamps.zone_s, stamps.zone_s[zoned][0])
    base = datetime(1970, 1, 1) + timedelta(seconds=local)
    kind = "zoned" if bool(np.any(zoned)) else "dated"
    return Axis(seconds - seconds[0], base, tuple(notes), kind, first, seen)
