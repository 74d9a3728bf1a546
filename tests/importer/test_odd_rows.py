"""Rows and stamps that differ within a file: read one by one, or refused in one line."""

from __future__ import annotations

import io

import numpy as np
import openpyxl
import pytest

from estimator.errors import InputError
from estimator.importer.clock.alike import fixed_width
from estimator.importer.clock.stamps import style_of
from estimator.importer.read import read_bytes
from estimator.importer.two_meters.aligning import align


def read(text: str, **told: object) -> object:
    return read_bytes([("mow.csv", text.encode())], **told)  # type: ignore[arg-type]


def rows(count: int = 40, title: str = "time_s,current_a,voltage_v", **odd: str) -> str:
    """A file of regular rows; `r7="..."` replaces the seventh row."""
    lines = [f"{k},{6 + k % 3},{52 - k % 2}" for k in range(count)]
    for name, row in odd.items():
        lines[int(name[1:])] = row
    return "\n".join([title, *lines]) + "\n"


@pytest.mark.parametrize(
    ("cells", "style"),
    [
        ([], "clock"),
        ([b"12"], "number"),
        ([b"\xff9:14:07"], "clock"),
        ([b"later on"], "clock"),
        ([b"09:14:07", b"09:1x:08"], "clock"),
        ([b"09:14:07", b"09-14-08"], "clock"),
        ([b"09:14:07", b"09:74:08"], "clock"),
        ([b"09:14:07 AM", b"09:14:08 XM"], "clock"),
        ([b"2025-05-01 09:14:07", b"2025-05-01 29:14:08"], "year first"),
    ],
)
def test_stamps_that_differ_are_left_to_be_taken_apart_one_by_one(cells: list[bytes], style: str) -> None:
    assert fixed_width(np.array(cells, dtype=f"S{max(map(len, cells), default=1)}"), style) is None


def test_seconds_since_an_epoch_are_numbers_even_where_they_look_like_dates() -> None:
    assert style_of(["20250501091407", "20250501091408"]) == "compact"
    assert style_of(["1746090847", "1746090848"]) == "number"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (rows(r7="7,volts,52"), "mow.csv, row 9: current_a is 'volts', not a number"),
        (rows(r7="7,6 V,52"), "mow.csv, row 9: current_a is '6 V'"),
        (rows(0), "mow.csv"),
        ("time_s,value,unit\n" + "\n".join(f"{k},{6 + k % 3},{'lux?' if k == 5 else 'A'}\n{k},52,V" for k in range(40)), "mow.csv, row 12: unit is 'lux?'; write A, V or W"),  # noqa: E501
    ],
)  # fmt: skip
def test_cells_that_say_something_else_are_named(text: str, line: str) -> None:
    with pytest.raises(InputError) as refused:
        read(text)
    assert str(refused.value).startswith(line)


def test_a_decimal_mark_is_a_point_or_a_comma() -> None:
    with pytest.raises(InputError) as refused:
        read(rows(), decimal=";")
    assert str(refused.value) == "decimal mark is ';'; use . or ,"


def test_overloads_beside_regular_rows_are_marked_not_read() -> None:
    log = read(rows(r7="7,OL,52"))
    assert any("1 reading over the meter's range" in note for note in log.notes)  # type: ignore[attr-defined]
    assert log.readings["current_a"].max() <= 8  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("count", "step", "line"),
    [
        (20, 1.0, "have too few readings to be lined up"),
        (40, 0.25, "are too short to be lined up"),
    ],
)
def test_too_little_to_lay_on_each_other(count: int, step: float, line: str) -> None:
    time_s = step * np.arange(count)
    amps = np.random.default_rng(3).uniform(2, 9, count)
    with pytest.raises(InputError, match=line):
        align(time_s, amps, time_s, 52 - 0.1 * amps)


def test_a_load_that_repeats_fits_at_two_offsets() -> None:
    time_s = np.arange(0.0, 900.0)
    amps = np.where(time_s % 45 < 30, 8.0, 2.0)
    with pytest.raises(InputError, match="agree nearly as well at two offsets"):
        align(time_s, amps, time_s, 52 - 0.1 * amps)


def spreadsheet(*sheets: list[list[object]]) -> bytes:
    """A workbook with these sheets."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for number, cells in enumerate(sheets):
        sheet = book.create_sheet(f"sheet {number}")
        for row in cells:
            sheet.append(row)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


TABLE: list[list[object]] = [["time_s", "current_a", "voltage_v"], *([k, 6 + k % 3, 52] for k in range(40))]


def test_the_sheet_with_the_readings_is_found_behind_empty_and_other_sheets() -> None:
    other: list[list[object]] = [["season", "notes"], ["2025", "wet"]]
    log = read_bytes([("mow.xlsx", spreadsheet([], other, TABLE))])
    assert len(log.readings) == 40


def test_a_workbook_without_readings_is_refused() -> None:
    for sheets, line in (([[]], "is empty"), ([[["season", "notes"], ["2025", "wet"]]], "mow.xlsx")):
        with pytest.raises(InputError, match=line):
            read_bytes([("mow.xlsx", spreadsheet(*sheets))])  # type: ignore[arg-type]


def test_more_rows_than_allowed_are_refused_before_they_are_read() -> None:
    for odd in ({}, {"r7": "7,6 A,52 V"}):
        with pytest.raises(InputError, match="holds more than 50 readings; log at a longer interval"):
            read(rows(2200, **odd), max_rows=50)


def test_time_that_goes_back_again_and_again_is_refused() -> None:
    lines = "\n".join(f"{100 + k - 30 * (k % 2)},6,52" for k in range(200))
    with pytest.raises(InputError, match="time goes back"):
        read("time_s,current_a,voltage_v\n" + lines)


def test_rows_without_a_time_are_counted_not_read() -> None:
    log = read(rows(r7=",6,52"))
    assert len(log.readings) == 39  # type: ignore[attr-defined]


def test_dates_in_a_column_of_their_own_may_change_their_length() -> None:
    lines = [f"{9 + k // 60}/5/2025,{k // 60 % 24:02d}:{k % 60:02d}:00,6,52" for k in range(120)]
    log = read("date,time,current_a,voltage_v\n" + "\n".join(lines), day_first=True)
    assert str(log.started) == "2025-05-09 00:00:00"  # type: ignore[attr-defined]


def test_titles_longer_than_a_screen_are_read() -> None:
    """Battery management of 400 columns: a title line of over 8,000 characters."""
    names = [f"Temperature sensor {k:03d} (deg)" for k in range(397)]
    titles = ["Time (s)", "Pack voltage (V)", *names, "Pack current (A)"]
    rows = [[str(k), f"{53 - k / 100:.2f}", *("21",) * 397, f"{8 + k % 3}.0"] for k in range(60)]
    text = "\n".join(",".join(row) for row in (titles, *rows))
    assert len(text.split("\n")[0]) > 8000
    log = read_bytes([("wide.csv", text.encode())])
    assert log.readings.current_a.tolist()[:4] == [8.0, 9.0, 10.0, 8.0]
    assert log.readings.voltage_v.iloc[-1] == pytest.approx(52.41)


def test_a_spreadsheet_with_more_cells_than_ten_seconds_read_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("estimator.importer.table.decode._MOST_CELLS", 3000)
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "log"
    for k in range(1200):
        sheet.append([k, 5.0 + k % 3, 50 - k / 1000])
    held = io.BytesIO()
    book.save(held)
    with pytest.raises(InputError, match=r"big.xlsx: sheet 'log' holds over 3000 cells; save only the col"):
        read_bytes([("big.xlsx", held.getvalue())])


def _stamped(stamp: object, count: int = 180) -> str:
    lines = (f"{stamp(k)},{6 + k % 3},{52 - k % 2}" for k in range(count))  # type: ignore[operator]
    return "\n".join(["when,A,V", *lines])


@pytest.mark.parametrize(
    "stamp",
    [
        lambda k: f"2026-06-14 {'23:58' if k < 60 else '23:59' if k < 120 else '00:00'}:{k % 60:02d}",
        lambda k: f"{58 + k // 60}:{k % 60:02d}" if k < 120 else f"1:{k // 60 - 2:02d}:{k % 60:02d}",
    ],
    ids=["a date that stands still at midnight", "a stopwatch that counts on after its first hour"],
)
def test_time_goes_on(stamp) -> None:
    log = read(_stamped(stamp))
    assert np.array_equal(log.readings.time_s, np.arange(180.0))


@pytest.mark.parametrize("title", ["einh.", "range", ""])
def test_a_column_of_units_under_any_title_goes_with_what_stands_left_of_it(title: str) -> None:
    lines = [f"{k},{800 + k if k % 3 else 6},{'mA' if k % 3 else 'A'},{52 - k % 2},V" for k in range(40)]
    log = read("\n".join([f"time_s,current,{title},volts,{title}", *lines]))
    assert log.readings.current_a[:3].tolist() == pytest.approx([6.0, 0.801, 0.802])


def test_a_column_of_units_goes_with_no_other_quantity() -> None:
    lines = [f"{k},{800 + k if k % 3 else 6},{'mA' if k % 3 else 'A'},{52 - k % 2}" for k in range(40)]
    log = read("\n".join(["time_s,current,unit,volts", *lines]))
    assert log.readings.current_a[:2].tolist() == pytest.approx([6.0, 0.801])
    assert log.readings.voltage_v[:2].tolist() == [52.0, 51.0]


def test_temps_in_degrees_are_no_time() -> None:
    lines = [f"{k},{20 + k / 10},{6 + k % 3},{52 - k % 2}" for k in range(40)]
    log = read("\n".join(["time_s,Temps (°C),A,V", *lines]))
    assert log.readings.temperature_c[10] == pytest.approx(21.0)


def test_what_holds_no_numbers_is_no_table_whose_columns_could_be_named() -> None:
    with pytest.raises(InputError, match=r"^mow.csv, row 1: hardly a line holds two numbers; check"):
        read("apples;3\nbread;1\nmilk;2 l\n")
    with pytest.raises(InputError, match="say columns="):
        read("apples;3;2.50\nbread;1;3.20\nmilk;2 l;1\nsalt\n")


@pytest.mark.parametrize(("rest_a", "said"), [(1.6, True), (0.3, False), (14.0, False)])
def test_amps_that_stand_while_volts_are_level_may_be_the_zero_of_the_clamp(
    rest_a: float, said: bool
) -> None:
    lines = [
        f"{k},{rest_a + k % 2 / 100 + (10 + k % 3) * (k >= 40):.2f},{52 - (k % 2 + 1) * (k >= 40)}"
        for k in range(200)
    ]
    log = read("\n".join(["time_s,A,V", *lines]))
    assert any(f"zero_a={rest_a} takes that off" in note for note in log.notes) == said
