"""Clocks: what stamps mean, and what is refused."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.importer.clock.alike import fixed_width
from estimator.importer.clock.clock_axes import days_from_civil
from estimator.importer.clock.stamps import parts, style_of
from estimator.importer.read import read_bytes


def log_of(stamps: list[str], title: str = "time", **choices):
    rows = [f"{title};current_a;voltage_v"] + [f"{s};{10 + k % 5};{53 - k % 3}" for k, s in enumerate(stamps)]
    return read_bytes([("x.csv", "\n".join(rows).encode())], zero_a=0.0, **choices)


@given(st.dates(date(1, 1, 1), date(9998, 12, 31)))
def test_days_agree_with_the_standard_library(day: date) -> None:
    found = days_from_civil(np.array([day.year]), np.array([day.month]), np.array([day.day]))
    assert int(found[0]) == (day - date(1970, 1, 1)).days


@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)),
    st.sampled_from(
        [
            "%Y-%m-%d %H:%M:%S",
            "%Y-%m-%dT%H:%M:%S.%f",
            "%d.%m.%Y %H:%M:%S",
            "%d/%m/%Y %I:%M:%S %p",
            "%d %b %Y %H:%M:%S",
            "%Y/%m/%d %H:%M",
        ]
    ),
)
def test_written_stamps_come_back(moment: datetime, form: str) -> None:
    text = moment.strftime(form)
    style = style_of([text])
    assert style is not None
    got = parts(text, style)
    assert got is not None
    expected = datetime.strptime(text, form)
    seconds = expected.hour * 3600 + expected.minute * 60 + expected.second + expected.microsecond / 1e6
    assert got.seconds == pytest.approx(seconds, abs=1e-6)


@given(
    st.lists(st.datetimes(datetime(2000, 1, 1), datetime(2060, 1, 1)), min_size=1, max_size=20),
    st.sampled_from(
        [
            ("%Y-%m-%d %H:%M:%S", "year first"),
            ("%d.%m.%Y %H:%M:%S", "year last"),
            ("%H:%M:%S", "clock"),
            ("%m/%d/%Y %I:%M:%S %p", "year last"),
            ("%Y%m%d%H%M%S", "compact"),
        ]
    ),
)
def test_at_one_go_or_one_by_one_is_the_same(moments, form) -> None:
    texts = [m.strftime(form[0]) for m in moments]
    at_once = fixed_width(np.array([t.encode() for t in texts]), form[1])
    assert at_once is not None
    for k, text in enumerate(texts):
        one = parts(text, form[1])
        assert one is not None
        assert tuple(at_once.date[k]) == (one.a, one.b, one.c)
        assert at_once.seconds[k] == one.seconds


def test_whole_seconds_with_several_readings_are_spread() -> None:
    log = log_of(["10:00:00", "10:00:00", "10:00:01", "10:00:01", "10:00:02", "10:00:02"])
    assert np.allclose(log.readings.time_s, [0, 0.5, 1, 1.5, 2, 2.5])


def test_a_clock_that_is_set_back_by_seconds_goes_on() -> None:
    """A reading a second; after the 60th the clock is set back by three seconds, as a radio clock may be."""
    shown = [second if second < 60 else second - 3 for second in range(120)]
    log = log_of([f"2025-05-17 10:{second // 60:02d}:{second % 60:02d}" for second in shown])
    assert log.readings.time_s.tolist() == [float(second) for second in range(120)]
    assert any("was set back by up to" in note for note in log.notes)


def test_minutes_only_clock() -> None:
    log = log_of(["10:00", "10:00", "10:01", "10:01", "10:02", "10:02"])
    assert np.allclose(log.readings.time_s, [0, 30, 60, 90, 120, 150])


def test_zone_is_kept_out_of_the_seconds() -> None:
    log = log_of(["2026-10-25T02:59:59+02:00", "2026-10-25T02:00:00+01:00", "2026-10-25T02:00:01+01:00"])
    assert log.readings.time_s.tolist() == [0, 1, 2]
    assert log.started == datetime(2026, 10, 25, 2, 59, 59)


def test_epoch_agrees_with_the_standard_library() -> None:
    moment = datetime(2026, 5, 23, 9, 14, 7, tzinfo=UTC)
    log = log_of([f"{moment.timestamp() + k:.0f}" for k in range(4)])
    assert log.started == moment.replace(tzinfo=None)


@pytest.mark.parametrize(
    ("stamps", "said", "row"),
    [
        (["10:00:00", "10:00:05", "10:00:02", "10:00:09"], "time goes back from 10:00:05 to 10:00:02", 4),
        (["5", "6", "5.5", "7"], "time goes back from 6 s to 5.5 s", 4),
        (["2026-02-03 10:00:00", "2026-13-03 10:00:01", "2026-02-03 10:00:02"], "month 13", 3),
        (["10:00:00", "soon", "10:00:02", "10:00:03"], "time is 'soon'", 3),
        (["2026-02-03 10:00:00", "2029-02-03 10:00:01", "2029-02-03 10:00:02"], "would last 1096 days", 3),
    ],
)
def test_bad_clocks_name_row_and_mend(stamps, said, row) -> None:
    with pytest.raises(InputError) as caught:
        log_of(stamps)
    assert said in str(caught.value)
    assert caught.value.row == row
    assert caught.value.mend


def test_day_first_can_be_told() -> None:
    stamps = ["03/04/2026 10:00:00", "03/04/2026 10:00:01"]
    assert log_of(stamps, day_first=True).started == datetime(2026, 4, 3, 10)
    assert log_of(stamps, day_first=False).started == datetime(2026, 3, 4, 10)
    assert any("day_first=" in n for n in log_of(stamps).notes)


def test_unitless_milliseconds_are_said() -> None:
    log = log_of([str(1000 * k) for k in range(60)])
    assert log.readings.time_s.iloc[-1] == 59
    assert any("taken as ms" in n for n in log.notes)
