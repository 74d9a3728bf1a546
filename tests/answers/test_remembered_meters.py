"""What the user overruled for a meter's file holds for its next files; nothing else is carried over."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from estimator.answers.keeping.read_files import read_with_meters, remember_meters
from estimator.errors import InputError
from estimator.importer.log import Log
from estimator.importer.read import read_bytes
from estimator.logbook import Logbook, keep_meter, meter, open_logbook

Rows = list[list[Any]]
NAME = "shed clamp"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        keep_meter(book, NAME, {})
        yield book


def invented(seed: int) -> tuple[list[float], list[float]]:
    """Ten minutes of amps and volts, a reading every two seconds: at rest first, then mowing."""
    amps = np.where(np.arange(300) < 30, 0.0, np.random.default_rng(seed).uniform(6, 14, 300))
    return amps.round(2).tolist(), (53.5 - 0.05 * amps - 0.003 * np.arange(300)).round(2).tolist()


def text(rows: Rows) -> bytes:
    return "".join(",".join(map(str, row)) + "\n" for row in rows).encode()


def without_clock(seed: int) -> bytes:
    return text([["amps", "volts"], *map(list, zip(*invented(seed), strict=True))])


def with_pauses(seed: int) -> bytes:
    amps, volts = invented(seed)
    times = [2 * k + (45 if k > 150 else 0) for k in range(300)]
    return text([["time_s", "amps", "volts"], *map(list, zip(times, amps, volts, strict=True))])


def in_thousandths(seed: int) -> bytes:
    amps, volts = invented(seed)
    rows = [[2 * k, round(1000 * i), v] for k, (i, v) in enumerate(zip(amps, volts, strict=True))]
    return text([["time_s", "clamp", "volts"], *rows])


def with_two_states(seed: int) -> bytes:
    amps, volts = invented(seed)
    volts = [*reversed(volts[:150]), *volts[150:]]  # as while charging, which one of them says
    rows: Rows = [
        [2 * k, i, v, "charging" if k < 150 else "discharging", "discharging"]
        for k, (i, v) in enumerate(zip(amps, volts, strict=True))
    ]
    return text([["time_s", "amps", "volts", "cell", "pack"], *rows])


def of_two_sheets(seed: int) -> bytes:
    made = openpyxl.Workbook()
    for title, k in (("front", seed), ("back", seed + 100)):
        sheet = made.create_sheet(title)
        sheet.append(["time_s", "amps", "volts"])
        for row, (i, v) in enumerate(zip(*invented(k), strict=True)):
            sheet.append([2 * row, i, v])
    del made[made.sheetnames[0]]
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


def same(one: Log, other: Log) -> bool:
    return bool(
        one.readings.shape == other.readings.shape
        and np.allclose(one.readings, other.readings, equal_nan=True)
        and one.longest_step_s == other.longest_step_s
    )


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (without_clock, {"interval_s": 2.0}),
        (with_pauses, {"gap_s": 60.0}),
        (in_thousandths, {"columns": {"current": "clamp[mA]", "voltage": 3}}),
        (with_two_states, {"state": "pack"}),
        (of_two_sheets, {"sheet": "back"}),
    ],
)
def test_the_next_file_of_a_meter_is_read_as_was_said_for_the_last(
    form: Any, said: dict[str, Any], book: Logbook
) -> None:
    name = "mow.xlsx" if "sheet" in said else "mow.csv"
    first, second = [(name, form(1))], [(name, form(2))]
    as_said = read_bytes(second, **said)
    try:
        unaided: Log | None = read_with_meters(book, second).log
    except InputError:
        unaided = None
    assert unaided is None or not same(unaided, as_said)
    read = read_with_meters(book, first, said, (NAME,))
    remember_meters(book, read.learned)
    assert {key: meter(book, NAME)[key] for key in said} == said
    again = read_with_meters(book, second)
    assert same(again.log, as_said)
    assert json.loads(json.dumps(again.decisions))["meters"][0]["name"] == NAME


def test_what_is_said_now_goes_before_what_was_said_once(book: Logbook) -> None:
    first, second = [("mow.csv", with_pauses(1))], [("mow.csv", with_pauses(2))]
    remember_meters(book, read_with_meters(book, first, {"gap_s": 60.0}, (NAME,)).learned)
    read = read_with_meters(book, second, {"gap_s": 20.0})
    assert read.log.longest_step_s == 20.0
    remember_meters(book, read.learned)
    assert meter(book, NAME)["gap_s"] == 20.0


def test_what_belongs_to_one_mow_is_not_remembered(book: Logbook) -> None:
    said = {"zero_a": 0.25, "reverse": False}
    read = read_with_meters(book, [("mow.csv", with_pauses(1))], said, (NAME,))
    remember_meters(book, read.learned)
    assert meter(book, NAME).keys() == {"signature"}


def test_other_titles_are_read_without_what_was_said(book: Logbook) -> None:
    first = [("mow.csv", in_thousandths(1))]
    said = {"columns": {"current": "clamp[mA]", "voltage": 3}}
    remember_meters(book, read_with_meters(book, first, said, (NAME,)).learned)
    other = [("mow.csv", with_pauses(2))]
    assert same(read_with_meters(book, other).log, read_bytes(other))


def dated(day: str) -> list[tuple[str, bytes]]:
    amps, volts = invented(3)
    rows = [
        [f"{day} 10:{k // 30:02d}:{2 * k % 60:02d}", i, v]
        for k, (i, v) in enumerate(zip(amps, volts, strict=True))
    ]
    return [("mow.csv", text([["time", "amps", "volts"], *rows]))]


def test_the_order_of_dates_that_a_meter_showed_last_holds_for_those_that_read_both_ways(
    book: Logbook,
) -> None:
    def started(day: str, meters: tuple[str, ...] = ()) -> str:
        read = read_with_meters(book, dated(day), meters=meters)
        remember_meters(book, read.learned)
        return f"{read.log.started:%Y-%m-%d}"

    assert started("05/07/2025", (NAME,)) == "2025-05-07"  # a guess, from which nothing is learned
    assert "day_first_seen" not in meter(book, NAME)
    assert started("06/06/2025") == "2025-06-06"
    assert "day_first_seen" not in meter(book, NAME)
    assert started("14/06/2025") == "2025-06-14"
    assert started("05/07/2025") == "2025-07-05"
    assert started("06/22/2025") == "2025-06-22"  # a file that shows its order overrules any habit
    assert started("05/07/2025") == "2025-05-07"
    assert f"{read_with_meters(book, dated('05/07/2025'), {'day_first': True}).log.started:%m-%d}" == "07-05"
