"""Clocks and counters that start again, and whatever else would silently count a log wrong."""

from __future__ import annotations

import bz2
import gzip
import io
import itertools
import json
import zipfile
from datetime import datetime, timedelta

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.log import Log
from estimator.importer.read import read_bytes

SECONDS = range(200)
AMPS = [9.0 + k % 3 for k in SECONDS]
VOLTS = [52.0 - k % 3 / 2 for k in SECONDS]
DRAWN_AH = sum((a + b) / 2 for a, b in itertools.pairwise(AMPS)) / 3600


def read(text: str | bytes, name: str = "log.csv", **choices) -> Log:
    return read_bytes([(name, text.encode() if isinstance(text, str) else text)], **choices)


def table(titles: str, row: str, **more: list[object]) -> str:
    """One line a second; {k} is the second, {a} amps, {v} volts."""
    return f"{titles}\n" + "".join(
        row.format(k=k, a=AMPS[k], v=VOLTS[k], **{name: x[k] for name, x in more.items()}) + "\n"
        for k in SECONDS
    )


def is_whole(log: Log) -> bool:
    charge = float(np.trapezoid(log.readings.current_a, log.readings.time_s)) / 3600
    return float(log.readings.time_s.iloc[-1]) == pytest.approx(199, abs=0.01) and charge == pytest.approx(
        DRAWN_AH
    )


@pytest.mark.parametrize(
    ("title", "begins", "count", "over"),
    [
        pytest.param("sec", 7, 1, 60, id="seconds of a minute"),
        pytest.param("ms", 5000, 1000, 2**16, id="milliseconds in 16 bits"),
        pytest.param("us", 4_200_000_000, 10**6, 2**32, id="microseconds in 32 bits"),
        pytest.param("t [ms]", 2**32 - 90_000, 1000, 2**32, id="milliseconds in 32 bits"),
    ],
)
def test_a_counter_that_runs_over_counts_on(title: str, begins: int, count: int, over: int) -> None:
    log = read(table(f"{title},A,V", "{t},{a},{v}", t=[(begins + count * k) % over for k in SECONDS]))
    assert is_whole(log) and any("begins anew every" in note for note in log.notes)


def test_minutes_and_seconds_run_over_at_the_hour() -> None:
    stamps = [f"{(3500 + k) // 60 % 60:02d}:{(3500 + k) % 60:02d}" for k in SECONDS]
    assert is_whole(read(table("min:sec,A,V", "{t},{a},{v}", t=stamps)))


def test_a_meter_that_restarts_once_is_no_clock_that_runs_over() -> None:
    log = read(table("sec,A,V", "{t},{a},{v}", t=[k if k < 60 else k - 60 for k in SECONDS]))
    assert any("restarted at row 62" in note for note in log.notes)


def test_a_clock_that_was_lost_twice_begins_twice_on_new_years_day() -> None:
    days = ("2026-05-03 10:0", "2000-01-01 00:0", "2000-01-01 00:0")
    rows = [
        f"{d}{k // 60}:{k % 60:02d};{10 + k % 7}.{n};52.1" for n, d in enumerate(days) for k in range(120)
    ]
    log = read_bytes([("log.csv", "\n".join(["time;A;V", *rows]).encode())])
    assert len(log.readings) == 360 and log.started is not None and log.started.year == 2026
    assert sum("The meter restarted at row" in note for note in log.notes) == 2


def test_a_clock_of_twelve_hours_passes_one_with_and_without_a_date() -> None:
    noon = datetime(2026, 7, 5, 12, 58, 20)
    of_day = [f"{noon + timedelta(seconds=k):%I:%M:%S}" for k in SECONDS]
    log = read(table("date,time,A,V", "2026-07-05,{t},{a},{v}", t=of_day))
    assert is_whole(log) and log.started == noon
    assert is_whole(read(table("time,A,V", "{t},{a},{v}", t=of_day)))


def test_rows_that_were_lost_leave_a_gap_where_the_rows_are_numbered() -> None:
    lines = table("No,A,V", "{k},{a},{v}").splitlines()
    log = read("\n".join(["# interval 1 s", *lines[:80], *lines[120:]]))
    assert float(log.readings.time_s.iloc[-1]) == 199 and any("1 gap" in note for note in log.notes)


def test_what_is_left_in_the_pack_says_which_way_amps_flow() -> None:
    ways = [-1] * 100 + [1] * 100
    left = list(itertools.accumulate((-a * way / 3600 for a, way in zip(AMPS, ways, strict=True)), initial=9))
    volts = [52.0 - way * (k % 3) / 2 for k, way in enumerate(ways)]  # charging lifts them
    log = read(table("t (s),A,V,remaining (Ah)", "{k},{a},{u},{r:.4f}", r=left, u=volts))
    assert any("'remaining (Ah)' says which way" in note for note in log.notes)
    assert (log.readings.current_a[:99] < 0).all() and (log.readings.current_a[101:] > 0).all()


def test_the_highest_cell_is_no_pack() -> None:
    titles = "t (s),A,max cell V,min cell V"
    rows = table(titles, "{k},{a},{c:.3f},{c:.3f}", c=[v / 13 for v in VOLTS])
    with pytest.raises(InputError, match="'max cell V' is not the voltage of the whole pack; say which"):
        read(rows)
    assert len(read(rows, columns={"voltage": "max cell V"}).readings) == 200


def test_other_titles_amid_a_file_are_refused() -> None:
    rows = table("time_s,A,V", "{k},{a},{v}")
    with pytest.raises(InputError, match="row 202: other titles begin here; split the file before them"):
        read(rows + "time_s,V,A\n200,50,9\n")


def test_means_that_stand_above_the_readings_are_none_of_them() -> None:
    lines = table("time_s,A,V", "{k},{a},{v}").splitlines()
    assert is_whole(read("\n".join([lines[0], "average,10,51", "maximum,11,52", *lines[1:]])))


def test_two_devices_that_share_the_work_are_one_log() -> None:
    rows = table("time_s,device,A,V", "{k},clamp,{a},\n{k},meter,,{v}")
    assert is_whole(read(rows))


BARE = table("time_s,A,V", "{k},{a},{v}")
CLOCK = [f"{k // 60:02d}:{k % 60:02d}" for k in SECONDS]
ARABIC = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(BARE.translate(ARABIC), id="digits of another script"),
        pytest.param(b"".join(f"{x}\r\n".encode().ljust(40, b"\0") for x in BARE.split()),
                     id="records filled up"),
        pytest.param(BARE.replace("time_s", "\ufefftime_s").replace("\n99,", "\n\ufefftime_s,A,V\n99,"),
                     id="marks of byte order amid the file"),
        pytest.param(table("Time,Battery,,Motor,\n,V,A,V,A", "10:{m},{v},{a},40,20",
                           m=CLOCK), id="one title above two units"),
        pytest.param(json.dumps({"series": [
            {"name": n, "unit": u, "points": [[1000 * k, x[k]] for k in SECONDS]}
            for n, u, x in (("current", "A", AMPS), ("voltage", "V", VOLTS))]}), id="series in JSON"),
        pytest.param(table("", 'ts="2026-07-05T10:{m}" msg="all well" amps={a} volts={v}',
                           m=CLOCK), id="stamps in quotes"),
        pytest.param(table("", "battery,host=shed current={a},voltage={v} {t}",
                           t=[(1_780_000_000 + k) * 10**9 for k in SECONDS]), id="stamps behind the numbers"),
    ],
)  # fmt: skip
def test_it_is_read_whole(data: str | bytes) -> None:
    assert is_whole(read(data))


def test_an_archive_within_an_archive_and_other_packings() -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("log.csv.gz", gzip.compress(BARE.encode()))
    assert is_whole(read(held.getvalue()))
    assert is_whole(read(bz2.compress(BARE.encode())))
    with pytest.raises(InputError, match="bzip2 file is cut short; copy it from the meter again"):
        read(bz2.compress(BARE.encode())[:-30])
    sheet = io.BytesIO()
    with zipfile.ZipFile(sheet, "w") as archive:
        archive.writestr("content.xml", "<x/>")
    for data, said in (
        (sheet.getvalue(), r"is a spreadsheet \(.ods\); save it as .xlsx"),
        (b"\xfd7zXZ\0\0", r"is an archive \(.xz\)"),
        (b'{"i": [1.0, 2.0], "u": 3}\n' * 9, "is JSON without a list of readings"),
    ):
        with pytest.raises(InputError, match=said):
            read(data)


@pytest.mark.parametrize(
    ("date", "choices", "started", "said"),
    [
        ("26-07-16", {}, datetime(2026, 7, 16), "26-07-16 can be read both ways: taken as year first"),
        ("26-07-16", {"day_first": True}, datetime(2016, 7, 26), ""),
        ("17-05-19", {}, datetime(2019, 5, 17), "17-05-19 can be read both ways: taken as day first"),
        ("12.09.2026", {}, datetime(2026, 9, 12), "12.09.2026 can be read both ways: taken as day first"),
        ("26-07-05", {}, datetime(2026, 7, 5), ""),
    ],
)
def test_dates_that_can_be_read_both_ways_are_told_as_they_are_written(date, choices, started, said) -> None:
    rows = table("time,A,V", date + " 00:{m},{a},{v}", m=CLOCK)
    log = read(rows, **choices)
    assert log.started == started
    assert any(said in note for note in log.notes) if said else not any("both ways" in n for n in log.notes)


def test_a_clock_of_minutes_begins_and_ends_amid_one() -> None:
    stamps = [f"10:{(40 + k) // 60:02d}" for k in SECONDS]  # 20 readings in the first minute, 60, 60, 60
    log = read(table("time,A,V", "{t},{a},{v}", t=stamps))
    assert is_whole(log) and np.allclose(np.diff(log.readings.time_s), 1)
    log = read(table("unix,A,V", "{t},{a},{v}", t=[1_780_000_000 // 64 * 64 + k // 64 * 64 for k in SECONDS]))
    assert is_whole(log) and any("clock of 64 s" in note for note in log.notes)


def test_leads_of_a_voltmeter_the_wrong_way_round_are_turned() -> None:
    log = read(table("time_s,A,V", "{k},{a},-{v}"))
    assert is_whole(log) and log.readings.voltage_v.tolist() == VOLTS
    assert any("leads of the voltmeter sat the wrong way round" in note for note in log.notes)


def test_an_hour_without_a_reading_amid_work_is_no_rest() -> None:
    leapt = [k + 3600 * (k > 99) for k in SECONDS]
    notes = read(table("time_s,A,V", "{t},{a},{v}", t=leapt)).notes
    assert any(
        "No reading for 60 min before row 102, with the motor at work on both sides" in n for n in notes
    )
    assert not any("hour or more of rest" in note for note in notes)


def test_titles_that_come_again_once_are_said_to() -> None:
    rows = BARE + "time_s,A,V\n" + "".join(f"{k},9,52\n" for k in range(200, 260))
    assert any("Titles are repeated once: left out" in note for note in read(rows).notes)
