"""Dry runs, spreadsheets, limits, following, and the picture of a log."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import datetime, timedelta

import numpy as np
import openpyxl
import pytest

from estimator.errors import InputError
from estimator.importer.follow import follow_log, whole_lines
from estimator.importer.read import examine, examine_bytes, read_bytes, read_log
from estimator.report.pictures.log_picture import log_picture


def table(n: int = 120, start: float = 0.0, step: float = 1.0) -> str:
    rows = [f"{start + step * k:g},{10 + k % 7}.{k % 10},{53 - k % 3}.{k % 10}" for k in range(n)]
    return "time_s,current_a,voltage_v\n" + "\n".join(rows) + "\n"


def workbook(rows, first_sheet_empty: bool = False) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    if first_sheet_empty:
        sheet["A1"] = "about this meter"
        sheet = book.create_sheet("readings")
    for row in rows:
        sheet.append(row)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


@pytest.mark.parametrize("first_sheet_empty", [False, True])
def test_spreadsheet_with_real_dates(first_sheet_empty: bool) -> None:
    start = datetime(2026, 5, 23, 9, 14, 7)
    rows = [["made by hand"], ["Time", "Current (A)", "Voltage (V)"]]
    rows += [[start + timedelta(seconds=2 * k), 8 + k % 5 + 0.25, 53.5 - k / 100] for k in range(60)]
    log = read_bytes([("mow.xlsx", workbook(rows, first_sheet_empty))])
    assert log.started == start
    assert np.allclose(log.readings.time_s, 2.0 * np.arange(60), atol=1e-3)
    assert np.allclose(log.readings.current_a, [8 + k % 5 + 0.25 for k in range(60)])
    assert any("spreadsheet" in n for n in log.notes)


def test_spreadsheet_faults_name_the_row() -> None:
    rows = [["time_s", "current_a", "voltage_v"], *[[k, 9.5, 53.0] for k in range(30)]]
    rows[12][1] = "four and a bit"
    with pytest.raises(InputError, match=r"mow.xlsx, row 13: current_a is 'four and a bit'"):
        read_bytes([("mow.xlsx", workbook(rows))])


def test_zip_that_is_no_spreadsheet_and_zip_bomb() -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("big.txt", b"0" * 40_000_000)
    with pytest.raises(InputError, match="more than 10 MB"):
        read_bytes([("x.xlsx", held.getvalue())], max_bytes=10_000_000)
    with zipfile.ZipFile(held, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("small.txt", b"0")
    with pytest.raises(InputError, match="zip archive of 2 files"):
        read_bytes([("x.xlsx", held.getvalue())])


def test_several_gzip_members_are_one_file() -> None:
    text = table().encode()
    log = read_bytes([("x.csv.gz", gzip.compress(text[:400]) + gzip.compress(text[400:]))])
    assert len(log.readings) == 120


def test_missing_file_and_wrong_number_of_files(tmp_path) -> None:
    with pytest.raises(InputError, match=r"nowhere.csv: cannot be opened"):
        read_log(tmp_path / "nowhere.csv")
    with pytest.raises(InputError, match="cannot be opened"):
        read_log(tmp_path)
    with pytest.raises(InputError, match="3 files given"):
        read_bytes([("a.csv", b"time_s,current_a\n0,1\n1,2\n2,4\n")] * 3)


def test_examined_lays_everything_open(tmp_path) -> None:
    lines = table(300).split("\n")
    lines[150] = "149,OL,52.0"
    path = tmp_path / "mow.csv"
    path.write_text("\n".join(lines[:200] + lines[260:]))
    found = examine(path)
    assert {m.kind for m in found.marks} == {"overload", "gap"}
    assert found.as_read is not None
    assert len(found.as_read.time_s) == 240
    assert found.before.ah == pytest.approx(found.after.ah, abs=0.01)
    assert found.meters[0].signature == "time s|current a|voltage v"
    said = " ".join(found.log.notes)
    assert all(m.said in said for m in found.marks)


def test_marks_follow_the_log_when_its_first_readings_go() -> None:
    lines = table(100).split("\n")
    lines[1] = "0,OL,53"
    lines[2] = "1,OL,53"
    found = examine_bytes([("x.csv", "\n".join(lines).encode())])
    assert found.log.readings.time_s.iloc[0] == 0
    assert found.as_read is not None and found.as_read.time_s[0] == -2
    assert found.marks[0].spans_s.tolist() == [[-2.0, -1.0]]


def test_picture_marks_what_was_mended() -> None:
    lines = table(300).split("\n")
    lines[150] = "149,OL,52.0"
    found = examine_bytes([("x.csv", "\n".join(lines[:200] + lines[260:]).encode())])
    figure = log_picture(found.log, found)
    legend = figure.axes[0].get_legend()
    assert legend is not None
    labels = {t.get_text() for t in legend.get_texts()}
    assert {"as read", "as kept", "overload, left out", "gap, not counted"} <= labels
    assert log_picture(found.log).axes[0].get_legend() is None


def test_a_file_that_grows_is_followed(tmp_path) -> None:
    path = tmp_path / "live.csv"
    lines = table(200).split("\n")

    def looks():
        yield "not there yet"
        for end in (1, 2, 51, 51, 120, 201):
            path.write_text("\n".join(lines[:end]) + ("\n" + lines[end][:4] if end < 200 else "\n"))
            yield end

    assert [len(log.readings) for log in follow_log(path, looks())] == [50, 119, 200]


def test_following_tells_of_real_faults(tmp_path) -> None:
    path = tmp_path / "live.csv"
    path.write_text(table(50).replace("\n30,", "\n29.5,x").replace("x", "soon,"))
    with pytest.raises(InputError, match="soon"):
        list(follow_log(path, [1]))


def test_whole_lines_of_utf16() -> None:
    data = "a\nb\nc".encode("utf-16")
    assert whole_lines(data).decode("utf-16") == "a\nb\n"


def test_fast_and_careful_ways_agree() -> None:
    text = table(400)
    fast = read_bytes([("x.csv", text.encode())])
    careful = read_bytes([("x.csv", text.replace("\n17,", "\n\n17,").encode())])
    assert np.array_equal(fast.readings, careful.readings)
    assert fast.error == careful.error


def test_late_irregularity_far_down_a_long_file() -> None:
    text = table(30_000)
    odd = text.replace("\n25000,", "\n25000,OL,")
    log = read_bytes([("x.csv", odd.replace("OL,10", "OL,1").encode())])
    assert any("over the meter's range" in n for n in log.notes)
    with pytest.raises(InputError, match=r"row 25002"):
        read_bytes([("x.csv", text.replace("\n25000,", "\n25000,words").encode())])


def test_limits_for_strangers() -> None:
    with pytest.raises(InputError, match=r"more than 0\.001 MB"):
        read_bytes([("x.csv", table(200).encode())], max_bytes=1000)
    with pytest.raises(InputError, match="more than 150 readings"):
        read_bytes([("x.csv", table(200).encode())], max_rows=150)


def test_each_decision_names_the_choice_that_overrules_it() -> None:
    rows = [f"03/04/2026 10:00:{k:02d};{8 + k % 5},5;53,1" for k in range(50)]
    found = examine_bytes([("x.csv", ("Date;Amps;Volts\n" + "\n".join(rows)).encode())])
    decided = {d.overrule: d.taken for d in found.decisions}
    assert decided["decimal"] == "comma"
    assert decided["day_first"] == "day first"  # people who write a decimal comma do
    assert "current from 'Amps'" in decided["columns"]


def test_columns_named_for_two_files() -> None:
    rng = np.random.default_rng(1)
    load = np.repeat(rng.uniform(5, 25, 180), 5).round(2)
    amps = "a;b\n" + "\n".join(f"{k};{x}" for k, x in enumerate(load))
    volts = "c;d\n" + "\n".join(f"{k};{54 - 0.1 * x:.2f}" for k, x in enumerate(load))
    log = read_bytes(
        [("amps.csv", amps.encode()), ("volts.csv", volts.replace("c;d", "a;d").encode())],
        columns={"time": "a", "current": "b", "voltage": "d"},
    )
    assert np.allclose(log.readings.voltage_v, 54 - 0.1 * load, atol=0.2)


HEAD = "time_s,current_a,voltage_v,temperature_c\n"


@pytest.mark.parametrize(
    "text",
    [
        "time,current_a,voltage_v\n"
        + "99999999999999999999,9,53\n"
        + "".join(f"17{k:08d},9,53\n" for k in range(9)),
        "time,current_a,voltage_v\n9999 d 10:00:00,9,53\n9999 d 10:00:01,9,53\n",
        "time,current_a,voltage_v\n9998-12-31 10:00:00,9,53\n9998-12-31 10:00:01,9,53\n",
        HEAD + "".join(f"{k},9,53,\n" for k in range(5)),
        HEAD + "0,OL,53,20\n" + "".join(f"{k},9,53,----\n" for k in range(1, 9)),
        HEAD + "".join(f"{k},9,53\n" for k in range(5)),
        "time,power,voltage\n" + "".join(f"{k},OL,53\n" for k in range(5)),
    ],
    ids=[
        "wild epoch",
        "wild days",
        "far year",
        "no temperature",
        "temperature of lost rows",
        "narrow",
        "watts over",
    ],
)
def test_faults_once_found_by_fuzzing_stay_mended(text: str) -> None:
    try:
        log = read_bytes([("x.csv", text.encode())])
    except InputError as error:
        assert error.mend
    else:
        assert "temperature_c" not in log.readings
        assert len(log.readings) >= 2


def test_decimal_commas_that_come_late() -> None:
    rest = "".join(f"{k}\t0\t54\n" for k in range(100))
    work = "".join(f"{100 + k}\t{8 + k % 5},5\t52,{k % 9}\n" for k in range(100))
    log = read_bytes([("x.txt", ("Zeit (s)\tStrom\tSpannung\n" + rest + work).encode())])
    assert log.readings.current_a.iloc[-1] == pytest.approx(12.5)
    with pytest.raises(InputError, match=r"row 152: current_a is '8,5'"):
        read_bytes([("x.csv", table(200).replace("\n150,13.0,", '\n150,"8,5",').encode())])
