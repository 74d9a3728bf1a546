"""Logs without dates in their rows are dated by the lines above them or by the file's name, and say so."""

from __future__ import annotations

from datetime import datetime

import pytest

from estimator.importer.read import read_bytes

ELAPSED = "s;A;V\n0;9;52\n5;9;51.9\n10;9;51.9\n"
CLOCK = "Uhrzeit;A;V\n09:58:50;9;52\n09:58:55;9;51.9\n09:59:00;9;51.9\n"


def started(text: str, name: str = "log.csv") -> datetime | None:
    return read_bytes([(name, text.encode())]).started


@pytest.mark.parametrize(
    ("above", "rows", "at"),
    [
        ("Aufzeichnung vom;03.05.2025\n", CLOCK, datetime(2025, 5, 3, 9, 58, 50)),
        ("", CLOCK.replace("09:58:", "09.05.").replace("09:59:00", "09.06.10"), None),  # no day in May
        ("# opgenomen 2025-05-03\n", CLOCK, datetime(2025, 5, 3, 9, 58, 50)),
        ("# start 1776768720\n", ELAPSED, datetime(2026, 4, 21, 10, 52)),
        ("boot;1776768720123\n", ELAPSED, datetime(2026, 4, 21, 10, 52)),
        ("Start,2025-07-12 10:15:00\nEnd,2025-07-12 10:55:00\n", ELAPSED, datetime(2025, 7, 12, 10, 15)),
        ("Date: 12 Jul 2025\nTime: 2:15 PM\nInterval: 00:00:05\n", ELAPSED, datetime(2025, 7, 12, 14, 15)),
        ("Exported 14.7.2025\nRecorded 12.7.2025\n", ELAPSED, datetime(2025, 7, 12)),
        ("Recorded 12.7.2025\nChecked 13.7.2025\n", ELAPSED, None),
        ("Calibrated 12.7.2024, firmware 1.2.19\nS/N 1446768720\n", ELAPSED, None),
        ("Recorded 12.7.1999\nto 99.99.2025, day 2026-13-40, server 10.1.1.20\n", ELAPSED, None),
    ],
)
def test_a_date_above_the_rows_dates_them(above: str, rows: str, at: datetime | None) -> None:
    assert started(above + rows) == at


def test_a_date_in_the_rows_that_does_not_join_its_clock_still_dates_them() -> None:
    rows = "".join(f"12/07/2025;7h05m{s:02d};9;52\n" for s in range(9))
    assert started("Date;Heure;I (A);U (V)\n" + rows.replace("12/07", "22/07")) == datetime(2025, 7, 22, 7, 5)


@pytest.mark.parametrize(
    ("name", "at"),
    [
        ("20250420_verge.txt", datetime(2025, 4, 20)),
        ("log-2026-05-04.csv", datetime(2026, 5, 4)),
        ("mow 4.5.2026.csv", datetime(2026, 5, 4)),
        ("LOG_20250420_101530.TXT", datetime(2025, 4, 20, 10, 15, 30)),
        ("2025-04-20_to_2025-04-22.csv", None),
        ("serial 120250420.csv", None),
        ("20251399.csv", None),
        ("20250231.csv", None),
        ("29991231.csv", None),
        ("20991231.csv", None),  # a log cannot be of a day in the future
    ],
)
def test_a_date_in_the_name_dates_a_log_that_has_none(name: str, at: datetime | None) -> None:
    assert started(ELAPSED, name) == at


def test_rows_overrule_lines_and_lines_overrule_the_name_and_each_is_said() -> None:
    dated = "t;A;V\n2025-03-01 10:00:00;9;52\n2025-03-01 10:00:05;9;52\n"
    assert started("on 2.3.2025\n" + dated, "20250303.csv") == datetime(2025, 3, 1, 10)
    assert started("on 2.3.2025\n" + ELAPSED, "20250303.csv") == datetime(2025, 3, 2)
    notes = read_bytes([("20250303.csv", ELAPSED.encode())]).notes
    assert "Dated 2025-03-03 by the file's name; started overrules it." in notes
