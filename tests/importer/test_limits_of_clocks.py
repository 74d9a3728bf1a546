"""Every limit of clocks and times on both of its sides."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.clock.clock_axes import clock_only, numbers
from estimator.importer.clock.clocks import Clock, clock
from estimator.importer.clock.stamps import Stamps
from estimator.importer.clock.turns import in_order, spread_repeats
from estimator.importer.table.quantities import TIME, Unit

HOUR, DAY = 3600.0, 86400.0


def stamps(style: str, seconds: object, days: object = (), *, short: bool = False) -> Stamps:
    told = np.asarray(seconds, dtype=float)
    date = np.zeros((len(told), 3), dtype=np.int64)
    if style == "year first":
        date[:] = (2026, 6, 14)
        date[:, 2] += np.asarray(days, dtype=np.int64) if len(np.atleast_1d(days)) else 0
    return Stamps(style, date, told, np.full(len(told), np.nan), short, "09:14:07")


def told(style: str, seconds: object, days: object = (), unit: Unit | None = None) -> Clock:
    s = stamps(style, seconds, days)
    return clock(s, np.arange(2, len(s.seconds) + 2), unit=unit)


def ends_s(style: str, seconds: object, days: object = ()) -> float | None:
    """When the last reading comes [s], None where time goes back without an explanation."""
    try:
        return float(told(style, seconds, days).time_s[-1])
    except InputError as fault:
        assert "time goes back" in str(fault)
        return None


@pytest.mark.parametrize(
    ("first", "last", "unit", "kind", "lasts_s"),
    [
        (1.0e9, 1.0e9 + 9, None, "zoned", 9), (0.999e9, 0.999e9 + 9, None, "elapsed", 9),
        (4.999e9, 5.0e9, None, "zoned", 1e6), (4.999e9, 5.001e9, None, "elapsed", 2000),
        (1.7e12, 1.7e12 + 9000, None, "zoned", 9), (1.7e15, 1.7e15 + 9e6, None, "zoned", 9),
        (1.7e18, 1.7e18 + 9e9, None, "zoned", 9),
        (1.7e12, 1.7e12 + 9000, 1e-3, "zoned", 9), (1.7e9, 1.7e9 + 9, 60.0, "elapsed", 540),
        (20_000, 20_000.01, None, "dated", 864), (19_999, 19_999.01, None, "elapsed", 0.01),
        (79_999.99, 80_000, None, "dated", 864), (80_000, 80_000.01, None, "elapsed", 0.01),
        (46_000, 46_000.019, None, "dated", 1641.6), (46_000, 46_000.21, None, "elapsed", 0.21),
        (46_000, 46_000.01, 1.0, "elapsed", 0.01),
        (2.4e6, 2.4e6 + 0.01, None, "dated", 864), (2.3999e6, 2.3999e6 + 0.01, None, "elapsed", 0.01),
        (2.5e6 - 0.01, 2.5e6, None, "dated", 864), (2.5e6, 2.5e6 + 0.01, None, "elapsed", 0.01),
        (0.0, 0.04, None, "elapsed", 3456), (0.0, 0.06, None, "elapsed", 0.06),  # steps of 7 min in a day
        (0.96, 0.99, None, "elapsed", 2592), (0.97, 1.0, None, "elapsed", 0.03),
        (-0.01, 0.01, None, "elapsed", 0.02),
        (0, 1000, None, "elapsed", 1000), (0, 43_300, None, "elapsed", 43.3),
        (0, 43_100, None, "elapsed", 43_100),
        (0, 2.0, 3600.0, "elapsed", 7200),
    ],
)  # fmt: skip
def test_what_plain_numbers_count(first, last, unit, kind, lasts_s) -> None:
    axis = numbers(np.linspace(first, last, 11), None if unit is None else Unit(TIME, unit))
    assert axis.kind == kind
    assert axis.seconds[-1] - axis.seconds[0] == pytest.approx(lasts_s, rel=1e-3)


def test_steps_of_less_than_a_hundred_are_never_ms() -> None:
    for step, lasts in ((100.0, 50.0), (99.0, 49_500.0)):
        assert numbers(np.arange(501) * step, None).seconds[-1] == pytest.approx(lasts)


@pytest.mark.parametrize(
    ("first", "started"),
    [
        (2451545.0, datetime(2000, 1, 1, 12)),  # J2000.0
        (45658.25, datetime(2025, 1, 1, 6)), (1_735_689_600, datetime(2025, 1, 1)),
        (1_735_689_600_000, datetime(2025, 1, 1)),
    ],
)  # fmt: skip
def test_when_numbers_begin(first, started) -> None:
    step = 1000 if first > 1e12 else 1 if first > 1e9 else 1 / 86400
    axis = numbers(first + step * np.arange(10.0), None)
    assert axis.base == started and axis.seconds.tolist() == pytest.approx(list(range(10)), abs=1e-3)


@pytest.mark.parametrize(
    ("count", "begin", "every", "clock_s"),
    [
        (130, 14_30_05, 1, 129.0), (130, 23_57_00, 1, 129.0), (60, 14_30_05, 3, 177.0),
        (59, 14_30_05, 3, None), (100, 14_30_05, 1, None),  # one leap only
    ],
)  # fmt: skip
def test_clocks_in_digits_leap_at_full_minutes(count, begin, every, clock_s) -> None:
    h, m, s = begin // 10_000, begin // 100 % 100, begin % 100
    of_day = 3600 * h + 60 * m + s + every * np.arange(count)
    axis = numbers(of_day // 3600 * 10_000.0 + of_day % 3600 // 60 * 100 + of_day % 60, None)
    assert (axis.kind == "clock") == (clock_s is not None)
    assert clock_s is None or axis.seconds[-1] - axis.seconds[0] == clock_s


@pytest.mark.parametrize(
    ("count", "step", "named"),
    [
        (120, 1 / 60, "min"), (119, 1 / 60, None), (3601, 1 / 12, "min"), (3603, 1 / 12, None),
        (200, 2 / 3600, "h"), (200, 1.0, None), (200, 0.7 / 60, None), (200, 0.5, None),
    ],
)  # fmt: skip
def test_a_short_log_that_ticks_evenly_in_minutes_is_asked(count, step, named) -> None:
    values = 5 + step * np.arange(count)
    if named is None:
        numbers(values, None)
    else:
        with pytest.raises(InputError, match=rf"column\w*=.*\[{named}\]"):
            numbers(values, None)


@pytest.mark.parametrize(
    ("first_s", "last_s", "elapsed", "counts", "kind", "lasts_s"),
    [
        (119, 19 * HOUR, False, None, "elapsed", 19 * 60 - 119 / 60),
        (120, 19 * HOUR, False, None, "clock", None),
        (HOUR, 5 * HOUR, True, None, "elapsed", 240), (HOUR, 4.9 * HOUR, True, None, "asked", None),
        (HOUR, 4.9 * HOUR, True, 60.0, "elapsed", 3.9 * HOUR),
        (HOUR, 4.9 * HOUR, True, 1.0, "elapsed", 3.9 * 60),
        (HOUR, DAY, False, None, "elapsed", 23 * 60), (HOUR, DAY - 60, False, None, "clock", None),
    ],
)  # fmt: skip
def test_two_fields_are_minutes_and_seconds_where_they_begin_low_or_go_high(
    first_s, last_s, elapsed, counts, kind, lasts_s
) -> None:
    s = stamps("clock", [first_s, (first_s + last_s) / 2, last_s], short=True)
    if kind == "asked":
        with pytest.raises(InputError, match="hours:minutes or minutes:seconds"):
            clock_only(s, elapsed, counts, "t")
        return
    axis = clock_only(s, elapsed, counts, "t")
    assert axis.kind == kind
    assert lasts_s is None or axis.seconds[-1] - axis.seconds[0] == pytest.approx(lasts_s)


@pytest.mark.parametrize(("first_s", "kind"), [(59, "elapsed"), (60, "clock")])
def test_three_fields_that_begin_in_the_first_minute_are_elapsed(first_s, kind) -> None:
    assert clock_only(stamps("clock", [first_s, 900]), False).kind == kind


@pytest.mark.parametrize(
    ("seconds", "days", "lasts_s"),
    [
        ([79_998, 79_999, 80_000, 15_199], None, 21_601), ([79_998, 79_999, 80_000, 15_201], None, None),
        ([86_398, 86_399, 0, 1], (0, 0, 0, 0), 3), ([86_390, 86_395, 0, 5], (0, 0, 0, 0), 15),
        ([86_394, 86_396, 2, 4], (0, 0, 0, 0), 10), ([86_394, 86_396, 3, 5], (0, 0, 0, 0), None),
        ([46_797, 46_798, 46_799, 3600], None, 3), ([46_800, 46_801, 46_802, 3601], None, None),
        ([40_000, 40_001, 40_002, 18_402], None, 21_602), ([40_000, 40_001, 40_002, 18_403], None, None),
    ],
)  # fmt: skip
def test_midnight_and_the_noon_of_twelve_hours(seconds, days, lasts_s) -> None:
    assert ends_s("year first" if days else "clock", seconds, days or ()) == lasts_s


@pytest.mark.parametrize(
    ("lands_s", "back_s", "step_s", "found"),
    [
        (9000, 3599, 1, True), (9000, 3480, 1, True), (9000, 3479, 1, False), (9000, 3400, 20, True),
        (9000, 3399, 20, False), (14_399, 3599, 1, True), (14_400, 3599, 1, False), (9000, 3600, 1, False),
    ],
)  # fmt: skip
def test_an_hour_back_by_night_is_the_end_of_summer_time(lands_s, back_s, step_s, found) -> None:
    before = lands_s + back_s + step_s * np.arange(-9, 1)
    t = np.r_[before, lands_s + step_s * np.arange(10)]
    expected = 18 * step_s + 3600 - back_s if found else None
    assert ends_s("clock", t) == expected


@pytest.mark.parametrize(
    ("back_s", "times", "count", "found"),
    [
        (3.5, 1, 60, True), (3.6, 1, 60, False), (3.0, 1, 50, True), (3.0, 1, 49, False),
        (3.0, 3, 100, True), (3.0, 4, 100, False), (3.0, 4, 400, True), (3.0, 5, 400, False),
    ],
)  # fmt: skip
def test_a_clock_is_set_back_by_seconds_and_seldom(back_s, times, count, found) -> None:
    steps = np.ones(count - 1)
    steps[10 + (count // 6) * np.arange(times)] = -back_s
    lasts = ends_s("clock", 40_000 + np.r_[0.0, np.cumsum(steps)])
    assert lasts == (count - 1 if found else None)


@pytest.mark.parametrize(
    ("first", "again", "count", "lasts_s"),
    [(0, 3, 20, 19 + 60 + 19), (0, 3.1, 20, None), (5, 8, 20, 19 + 60 + 19)],
)
def test_an_elapsed_time_that_begins_anew_is_a_restart(first, again, count, lasts_s) -> None:
    t = np.r_[first + np.arange(count), again + np.arange(count)]
    assert ends_s("number", t) == lasts_s


def test_two_readings_are_too_few_to_begin_anew() -> None:
    assert ends_s("number", [0, 1, 10, 0, 1, 2, 3]) == 10 + 60 + 3
    assert ends_s("number", [0, 10, 0, 1, 2, 3]) is None


@pytest.mark.parametrize(
    ("count", "back_rows", "found"), [(100, 10, True), (20, 2, True), (20, 1, True), (12, 1, True)]
)
def test_the_newest_reading_may_come_first(count, back_rows, found) -> None:
    t = np.arange(count, 0.0, -1)
    assert told("number", t).order.tolist() == list(range(count))[::-1]


@pytest.mark.parametrize(
    ("at", "leap_s", "step_s", "found"),
    [
        ((2, 0, 0), 3601, 1, True), ((3, 1, 0), 3601, 1, True), ((3, 1, 1), 3601, 1, False),
        ((4, 0, 0), 3601, 1, False), ((1, 0, 0), 3603, 1, True), ((1, 0, 0), 3604, 1, False),
        ((3, 0, 0), 3600 + 599, 599, True), ((3, 0, 0), 4200, 600, False), ((0, 0, 0), 3601, 1, False),
    ],
)  # fmt: skip
def test_an_hour_that_leaps_by_night_is_the_start_of_summer_time(at, leap_s, step_s, found) -> None:
    lands = DAY + at[0] * 3600 + at[1] * 60 + at[2]
    t = np.r_[lands - leap_s + step_s * np.arange(-9, 1), lands + step_s * np.arange(10)]
    lasts = ends_s("year first", t % DAY, t // DAY)
    assert lasts == 18 * step_s + leap_s - 3600 * found


def test_an_hour_that_leaps_under_a_zone_is_an_hour() -> None:
    zoned = stamps("year first", [3500.0, 3501, 3502, 7103, 7104])
    zoned = Stamps(zoned.style, zoned.date, zoned.seconds, np.full(5, 3600.0), False, zoned.example)
    assert clock(zoned, np.arange(5)).time_s[-1] == 3604


def test_a_log_that_begins_amid_a_minute_begins_at_nothing() -> None:
    minutes = np.repeat(np.arange(5) * 60.0, [2, 4, 4, 4, 2])
    assert told("clock", 36_000 + minutes).time_s.tolist() == list(range(0, 240, 15))


def test_no_log_is_longer_than_a_year() -> None:
    assert told("number", np.linspace(0, 366 * DAY, 12), unit=Unit(TIME)).time_s[-1] == 366 * DAY
    with pytest.raises(InputError, match="would last 366 days"):
        told("number", np.linspace(0, 366 * DAY + 1, 12), unit=Unit(TIME))


@pytest.mark.parametrize(("count", "times", "still"), [(9, 1, 0), (10, 1, 1), (301, 2, 1), (300, 2, 0)])
def test_a_clock_that_stands_still_is_refused(count, times, still) -> None:
    t = np.repeat(np.arange(times) * 10.0, [count - times + 1, *[1] * (times - 1)])
    if still:
        with pytest.raises(InputError, match=f"{count} rows have {times} time"):
            told("number", t, unit=Unit(TIME))
    else:
        told("number", t, unit=Unit(TIME))


@pytest.mark.parametrize(
    ("count", "moves", "found"),
    [
        (40, [(20, 21), (30, 31)], True), (39, [(20, 21), (30, 31)], False),  # one of twenty goes back
        (100, [(20, 25)], True), (100, [(20, 26)], False),  # how late a row may come
    ],
)  # fmt: skip
def test_rows_out_of_turn_are_few_and_near(count, moves, found) -> None:
    t = np.arange(float(count))
    for place, to in moves:
        t = np.insert(np.delete(t, place), to, place)
    order = in_order(t, np.diff(t))
    assert (order is not None) == found and (order is None or t[order].tolist() == list(range(count)))


@pytest.mark.parametrize(("late", "found"), [(0.61, True), (0.59, False), (-0.9, True)])
def test_a_row_out_of_turn_fills_the_hole_that_it_left(late, found) -> None:
    t = np.arange(100.0)
    t[50], t[51] = t[51], t[50] - 1 + late if late > 0 else t[50] + late + 1
    t[51] = 49 + late if late > 0 else 50.0
    assert (in_order(t, np.diff(t)) is not None) == found


def test_readings_of_one_stamp_are_spread_within_it() -> None:
    minutes = np.repeat([0.0, 60.0, 120.0, 180.0, 240.0], [2, 4, 4, 4, 2])  # begins and ends amid a minute
    assert spread_repeats(minutes).time_s.tolist() == list(range(30, 270, 15))
    tenths = np.repeat([0.0, 0.5, 0.7], 2)
    assert spread_repeats(tenths).time_s.tolist() == pytest.approx([0, 0.1, 0.5, 0.6, 0.7, 0.8])
    stalled = np.r_[0.0, 1.0, np.full(31, 2.0), 64.0]
    found = spread_repeats(stalled)
    assert found.time_s[3] == 4.0 and "stood still for 31 readings" in found.notes[1]
    assert len(spread_repeats(np.r_[0.0, 1.0, np.full(30, 2.0), 64.0]).notes) == 1
