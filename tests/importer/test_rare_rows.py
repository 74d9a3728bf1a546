"""Rare rows, clocks and cells: read as they are meant, or refused in one line."""

from __future__ import annotations

import io
import zipfile
from datetime import time, timedelta
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from estimator.errors import InputError
from estimator.importer.arrays import spans
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.choices import check_choices
from estimator.importer.cleaning.readings_in_work import high_level
from estimator.importer.clock.stamps import parts
from estimator.importer.layout.faults import unrecognised
from estimator.importer.log import Log, SpotNotes
from estimator.importer.meter import resolution_of
from estimator.importer.read import examine, read_bytes
from estimator.importer.table.numbers import Cell, decimal_mark, number

TITLE = "time_s,current_a,voltage_v"


def read(lines: list[str], **told: object) -> Log:
    return read_bytes([("mow.csv", "\n".join(lines).encode())], **told)  # type: ignore[arg-type]


def refusal(lines: list[str]) -> str:
    with pytest.raises(InputError) as refused:
        read(lines)
    return str(refused.value)


def clock(second: int) -> str:
    return f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"


def seconds(*, odd: dict[int, str] | None = None, count: int = 40) -> list[str]:
    rows = [f"{k},{6 + k % 3},{52 - k % 2}" for k in range(count)]
    for place, row in (odd or {}).items():
        rows[place] = row
    return [TITLE, *rows]


def test_an_overload_among_cells_with_units_is_marked() -> None:
    log = read(seconds(odd={7: "7,OL A,52 V", 9: "9,6 A,52 V"}))
    assert "1 reading over the meter's range" in " ".join(log.notes)
    assert log.readings["current_a"].max() <= 8


def test_a_last_reading_without_a_time_is_not_taken_for_a_closing_line() -> None:
    assert refusal([*seconds(), "later,6,52"]) == (
        "mow.csv, row 42: time is 'later'; correct it or take the line out"
    )
    assert "1 closing line without readings left out." in read([*seconds(), "total,6,52"]).notes


def test_a_table_with_a_long_text_after_it_is_read_to_its_last_reading() -> None:
    log = read([*seconds(), *["as exported by the logger"] * 2500])
    assert len(log.readings) == 40


def values(rows: list[str]) -> list[str]:
    return ["time_s,value,unit", *rows]


def test_readings_of_another_quantity_between_are_passed_over() -> None:
    rows = [f"{2 * k},{6 + k % 3},A\n{2 * k + 1},52,V" for k in range(40)]
    plain_log = read(values(rows))
    rows[5] += "\n11.5,120,ohm"
    rows[6] += "\n13.5,,"
    log = read(values(rows))
    assert np.array_equal(log.readings["current_a"], plain_log.readings["current_a"])


def test_one_meter_switched_between_watts_and_volts() -> None:
    """300 W at 50 V are 6 A; both are drawn as straight lines between their readings."""
    log = read(values([f"{2 * k},300,W\n{2 * k + 1},50,V" for k in range(40)]))
    assert "Only watts and volts were logged: amps are watts over volts." in log.notes
    assert log.readings["current_a"].to_numpy() == pytest.approx(6.0)


def test_one_meter_that_only_read_amps_has_no_volts() -> None:
    assert "volt" in refusal(values([f"{k},{6 + k % 3},A" for k in range(40)]))


def test_a_clock_that_goes_back_by_minutes_is_refused() -> None:
    rows = [f"{clock(33247 + k - (600 if k > 20 else 0))},6,52" for k in range(40)]
    assert refusal(["time,current_a,voltage_v", *rows]) == (
        "mow.csv, row 23: time goes back from 09:14:27 to 09:04:28; sort the file or split it in two"
    )


def test_elapsed_time_knows_no_end_of_summer_time() -> None:
    rows = [f"{500 + 10 * k - (3600 if k > 370 else 0)},6,52" for k in range(400)]
    assert refusal([TITLE, *rows]) == (
        "mow.csv, row 373: time goes back from 4200 s to 610 s; sort the file or split it in two"
    )


def test_a_clock_put_back_at_night_is_put_right() -> None:
    rows = [f"{clock(7200 + 1000 + 60 * k - (3600 if k > 40 else 0))},{6 + k % 3},52" for k in range(80)]
    log = read(["time,current_a,voltage_v", *rows])
    assert any("end of summer time" in note for note in log.notes)
    assert log.readings["time_s"].iloc[-1] == 79 * 60


def test_a_meter_that_restarts_again_and_again_is_refused() -> None:
    rows = [f"{k % 10},6,52" for k in range(450)]
    assert refusal([TITLE, *rows]) == (
        "mow.csv, row 412: time goes back again and again; sort the file or split it"
    )


def test_time_as_a_fraction_of_a_day() -> None:
    rows = [f"{0.4 + k / 86400:.9f},{6 + k % 3},52" for k in range(40)]
    log = read(["time,current_a,voltage_v", *rows])
    assert "Time is a fraction of a day, as spreadsheets keep it." in log.notes
    assert log.readings["time_s"].to_numpy() == pytest.approx(np.arange(40.0), abs=0.01)


def test_a_date_with_its_day_and_month_alike_needs_no_decision() -> None:
    log = read(["time,current_a,voltage_v", *(f"05/05/2025 {clock(33247 + k)},6,52" for k in range(40))])
    assert str(log.started) == "2025-05-05 09:14:07"
    assert not any("day_first" in note for note in log.notes)


def workbook(rows: list[list[object]]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


@pytest.mark.parametrize("stamp", [lambda k: time(9, 14, k), lambda k: timedelta(minutes=14, seconds=k)])
def test_cells_of_a_spreadsheet_that_are_times_or_durations(stamp: object) -> None:
    """A tick box next to the readings is not a reading."""
    rows = [[stamp(k), 6 + k % 3, 52, k % 2 == 0] for k in range(40)]  # type: ignore[operator]
    log = read_bytes([("mow.xlsx", workbook([["time", "current_a", "voltage_v", "running"], *rows]))])
    assert log.readings["time_s"].to_numpy() == pytest.approx(np.arange(40.0))
    assert log.readings["current_a"].tolist() == [6 + k % 3 for k in range(40)]


def test_numbers_out_of_the_ordinary() -> None:
    assert number("OL V").kind is number("over range A").kind is Cell.OVERLOAD
    assert number("OL kg").kind is Cell.TEXT
    assert decimal_mark(["1.234.567"]) == ","
    assert decimal_mark(["1,234,567"], default=",") == "."


@pytest.mark.parametrize(
    ("lines", "line"),
    [
        (["", " "], "mow.csv, row 1: no columns for time, current and voltage"),
        (
            [TITLE, "", "seven,eight,nine"],
            "mow.csv, row 3: readings such as 'seven, eight, nine' are not understood",
        ),
        ([TITLE, ",,"], "mow.csv, row 1: has titles but no readings"),
    ],
)
def test_why_a_table_is_not_understood(lines: list[str], line: str) -> None:
    assert str(unrecognised(lines, None).in_file("mow.csv")).startswith(line)


def test_a_told_decimal_mark_is_kept_to() -> None:
    with pytest.raises(InputError) as refused:
        read(seconds(odd={7: "7,six,52"}), decimal=".")
    assert str(refused.value).startswith("mow.csv, row 9: current_a is 'six', not a number")


def test_titles_behind_a_long_preamble_are_found() -> None:
    preamble = [f"setting {k}: {'x' * 900}" for k in range(100)]
    log = read([*preamble, *seconds()])
    assert len(log.readings) == 40


def test_a_date_that_repeats_the_clock_is_taken_for_its_day_alone() -> None:
    """Spreadsheets export a date as midnight of that day."""
    rows = [f"2025-05-01 00:00:00,{clock(33247 + k)},{6 + k % 3},52" for k in range(40)]
    log = read(["date,time,current_a,voltage_v", *rows])
    assert str(log.started) == "2025-05-01 09:14:07"


def test_minutes_and_seconds_with_a_fraction() -> None:
    found = parts("14:07.5", "clock")
    assert found is not None and found.seconds == 14 * 60 + 7.5


def test_a_clock_that_stood_still_is_said() -> None:
    rows = [f"{k if k < 100 else max(100, k - 99)},{6 + k % 3},52" for k in range(300)]
    log = read([TITLE, *rows])
    assert "The clock stood still for 100 readings: spread until its next stamp." in " ".join(log.notes)


def test_choices_that_are_none_choose_nothing_and_unknown_columns_are_named() -> None:
    check_choices({"zero_a": None})  # type: ignore[typeddict-item]
    with pytest.raises(InputError) as refused:
        read(seconds(), columns={"watts": "current_a"})
    assert str(refused.value) == (
        "mow.csv: columns has 'watts'; use time, date, current, voltage, power, temperature"
    )


def test_a_file_over_the_limit_is_not_even_opened(tmp_path: Path) -> None:
    path = tmp_path / "mow.csv"
    path.write_text("\n".join(seconds(count=400)))
    with pytest.raises(InputError, match=r"mow\.csv: holds more than 0\.001 MB; log at a longer interval$"):
        examine(path, max_bytes=1000)


def test_nothing_read_has_no_level_no_spans_and_no_steps() -> None:
    none = np.zeros(0)
    assert high_level(none) == 0.0
    assert spans(np.arange(3.0), np.zeros(3, dtype=np.bool_)).shape == (0, 2)
    assert resolution_of(np.zeros(5)) == resolution_of(none) == 0.0


@pytest.mark.parametrize(
    ("label", "value"),
    [
        ("mowing time", "1.5 h"),
        ("time (h)", "1.5"),
        ("time", "5400 s"),
        ("duration (s)", "5400"),
        ("time", "90"),
    ],
)
def test_mowing_time_noted_in_hours_minutes_or_seconds(label: str, value: str) -> None:
    log = read_bytes([("notes.txt", f"{label}: {value}\ntypical amps: 9\nvolts before: 53\n".encode())])
    assert log.spot is not None and log.spot.minutes == 90.0


def test_idle_amps_alone_make_no_mean() -> None:
    with pytest.raises(InputError) as refused:
        mean_current(SpotNotes(idle_a=4.0))
    assert str(refused.value) == (
        "typical amps are missing; note them, or mean amps, or, with the minutes, volts at rest after or "
        "what the charger put back"
    )


def test_overloads_are_counted_at_volts_drawn_through_a_missing_one() -> None:
    log = read(seconds(odd={7: "7,OL,52", 20: "20,8,"}))
    said = " ".join(log.notes)
    assert "1 reading over the meter's range" in said
    assert "1 reading without volts: drawn straight across" in said


def test_a_log_without_any_current_is_read_and_doubted() -> None:
    log = read([TITLE, *(f"{k},0,52" for k in range(40))])
    assert "Amps reach only 0 A, too little for a mower at work: check their unit." in log.notes
    assert not any("mows with an hour" in note for note in log.notes)


def test_a_spreadsheet_ends_where_nothing_but_empty_rows_follow(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty cells after the readings and empty rows below them do not belong to the table."""
    monkeypatch.setattr("estimator.importer.table.decode._MOST_EMPTY", 5)
    readings = [[k, 6 + k % 3, 52, None] for k in range(40)]
    rows = [["time_s", "current_a", "voltage_v"], *readings, *([[""]] * 9), [900, 99, 99]]
    log = read_bytes([("mow.xlsx", workbook(rows))])  # type: ignore[arg-type]
    assert log.readings["current_a"].tolist() == [6 + k % 3 for k in range(40)]


def test_a_spreadsheet_damaged_within_is_refused_in_one_line() -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
    with pytest.raises(InputError) as refused:
        read_bytes([("mow.xlsx", held.getvalue())])
    assert str(refused.value).startswith("mow.xlsx: is a damaged spreadsheet")


def test_a_line_without_end_is_refused_with_its_row() -> None:
    with pytest.raises(InputError) as refused:
        read_bytes([("mow.csv", b"time_s,current_a,voltage_v\n0,6,52\n" + b"1" * 1_100_000)])
    assert (refused.value.row, refused.value.problem) == (3, "line is longer than 1 MB")


def test_an_unfinished_row_within_the_table_is_a_reading_less() -> None:
    """The rows around it hold units, so they are read one by one."""
    rows = [f"{k},{6 + k % 3} A,52 V" for k in range(40)]
    rows[20] = "20,"
    log = read([TITLE, *rows])
    assert len(log.readings) == 39 and "1 reading without amps left out." in log.notes
    rows[20] = ",about the next strip"
    assert len(read([TITLE, *rows]).readings) == 39


def test_a_row_of_words_alone_is_a_reading_that_failed() -> None:
    rows = [f"{k},{6 + k % 3} A,52 V" for k in range(40)]
    rows[20] = "20,no answer,no answer"
    log = read([TITLE, *rows])
    assert len(log.readings) == 39 and "1 reading without amps left out." in log.notes
    rows[20] = "20,no answer,52 V"
    assert "row 22: current_a is 'no answer', not a number" in refusal([TITLE, *rows])


def test_pages_of_rows_that_are_none_are_given_up() -> None:
    assert "row 42: time is 'x0'" in refusal([*seconds(), *(f"x{k},6 A,52 V" for k in range(2500))])
