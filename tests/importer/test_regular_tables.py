"""The fast reader of big regular tables: what it takes, and what it leaves to the careful reader."""

from __future__ import annotations

import json
import time
import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.clock.alike import fixed_width
from estimator.importer.layout.layout import Layout
from estimator.importer.layout.search import find_layout
from estimator.importer.read import read_bytes, read_log
from estimator.importer.table import fast_rows
from estimator.importer.table.fast_rows import read_fast


def table(title: str, rows: list[str]) -> tuple[bytes, Layout]:
    lines = [title, *rows]
    return "\n".join(lines).encode() + b"\n", find_layout(lines, {})


SECONDS = table("time_s,current_a,voltage_v", [f"{k},{6 + k % 3},{52 - k % 2}" for k in range(40)])
CLOCK = table("current_a,voltage_v,time", [f"{6 + k % 3},{52 - k % 2},09:14:{k:02d}" for k in range(40)])


def test_a_regular_table_is_taken_whole() -> None:
    for data, layout in (SECONDS, CLOCK):
        raw = read_fast(data, layout)
        assert raw is not None
        assert raw.channels["current"].tolist() == [6 + k % 3 for k in range(40)]
        assert raw.rows.tolist() == list(range(2, 42))


@pytest.mark.parametrize(
    ("known", "data"),
    [
        pytest.param(SECONDS, b"time_s,current_a,voltage_v", id="titles alone"),
        pytest.param(SECONDS, b"time_s,current_a,voltage_v\n\n \n", id="nothing under the titles"),
        pytest.param(
            CLOCK, b"current_a,voltage_v,time\n6,52\n7,51,09:14:01\n", id="first row without a time"
        ),
        pytest.param(CLOCK, b"current_a,voltage_v,time\n6,52,\n7,51,09:14:01\n", id="first time left empty"),
        pytest.param(
            CLOCK, b"current_a,voltage_v,time\n6,52,09:14:00\n7,51,9:14:01\n", id="times of two lengths"
        ),
        pytest.param(SECONDS, b"time_s,current_a,voltage_v\n0,6,52\n,7,51\n2,7,51\n", id="a time left empty"),
    ],
)
def test_anything_else_is_left_to_the_careful_way(known: tuple[bytes, Layout], data: bytes) -> None:
    assert read_fast(data, known[1]) is None


def test_a_table_that_begins_beyond_its_data_is_left_too() -> None:
    data, layout = SECONDS
    assert read_fast(data, replace(layout, first_row=100)) is None


@pytest.mark.parametrize("mark", [".", ","])
def test_small_tables_are_read_as_large_ones_are(mark: str, monkeypatch: pytest.MonkeyPatch) -> None:
    amps = [f"{k / 7:.4f}".replace(".", mark) for k in range(40)]
    rows = [f"04.05.2026 09:14:{k:02d};{amp};-{k}e-1" for k, amp in enumerate(amps)]
    data, layout = table("time;current_a;voltage_v", rows)
    small = read_fast(data, layout)
    monkeypatch.setattr(fast_rows, "SMALL", 0)
    large = read_fast(data, layout)
    assert small is not None and large is not None
    for quantity, values in large.channels.items():
        assert np.allclose(small.channels[quantity], values, rtol=1e-15, atol=0)
    assert np.array_equal(small.stamps.seconds, large.stamps.seconds)
    assert np.array_equal(small.stamps.date, large.stamps.date)


@pytest.mark.parametrize("cell", ["OL", "1_0", '"6"', " ", "6 7", "0x6", "1,5"])
def test_a_cell_of_no_plain_digits_is_read_alike_in_small_and_large(
    cell: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [f"{k},{6 + k % 3},{cell if k == 9 else 52}" for k in range(40)]
    data, layout = table("time_s,current_a,voltage_v", rows)
    small = read_fast(data, layout)
    monkeypatch.setattr(fast_rows, "SMALL", 0)
    large = read_fast(data, layout)
    assert (small is None) == (large is None)
    if small is not None and large is not None:
        assert np.array_equal(small.channels["voltage"], large.channels["voltage"], equal_nan=True)
        assert np.array_equal(small.overload["voltage"], large.overload["voltage"])


def test_columns_become_a_table_when_it_is_looked_at_and_are_what_it_then_holds() -> None:
    log = read_bytes([("mow.csv", SECONDS[0])])
    amps = log.arrays["current_a"].tolist()
    log.readings.loc[3, "current_a"] = 77.0
    assert amps[3] == 6.0 and log.arrays["current_a"].tolist() == [*amps[:3], 77.0, *amps[4:]]
    assert log.arrays.keys() == set(log.readings.columns)


def test_an_infinite_reading_is_one_over_the_range() -> None:
    """Some loggers write inf, others OL."""
    texts = [
        "time_s,current_a,voltage_v\n"
        + "\n".join(f"{k},{marker if k == 7 else 6 + k % 3},52" for k in range(40))
        for marker in ("inf", "OL")
    ]
    infinite, over = (read_bytes([("mow.csv", text.encode())]) for text in texts)
    assert "1 reading over the meter's range" in " ".join(infinite.notes)
    assert infinite.notes == over.notes
    assert np.array_equal(infinite.readings["current_a"], over.readings["current_a"])


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_more_columns_than_any_logger_has_are_refused_at_once(mark: str) -> None:
    titles = mark.join(["time_s", "current_a", "voltage_v", *(f"x{k}" for k in range(100_000 - 3))])
    rows = [mark.join([str(k), "9.1", "52.3", *["1.5"] * (100_000 - 3)]) for k in range(4)]
    began = time.process_time()
    with pytest.raises(InputError) as caught:
        read_bytes([("mow.csv", "\n".join([titles, *rows]).encode())])
    assert "mow.csv, row 1: holds over 5000 columns" in str(caught.value)
    assert caught.value.mend == "export the time, the current and the voltage alone"
    assert time.process_time() - began < 4  # it took 9 s when each cell was asked what it means


def test_stamps_of_a_long_table_take_little_memory() -> None:
    n = 200_000
    cells = np.array(
        [f"2026-05-04 {k // 36000:02d}:{k // 600 % 60:02d}:{k // 10 % 60:02d}.{k % 10}" for k in range(n)],
        dtype="S",
    )
    tracemalloc.start()
    stamps = fixed_width(cells, "year first")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert stamps is not None
    assert np.allclose(stamps.seconds, np.arange(n) / 10)
    # 24 bytes of date, 8 of seconds, 28 of fields in 32 bits, 8 of work; it was 88 in 64 bits
    assert peak < 75 * n


ROWS = [{"t": k, "a": 5 + k % 3, "v": 50 - k / 100} for k in range(60)]
COLUMNS = {name: [row[name] for row in ROWS] for name in ("t", "a", "v")}


@pytest.mark.parametrize(
    "document",
    [
        pytest.param(ROWS, id="a list of readings"),
        pytest.param({"device": {"kind": "logger"}, "log": {"readings": ROWS}}, id="readings deep inside"),
        pytest.param(COLUMNS, id="columns"),
        pytest.param(
            {"columns": ["t", "a", "v"], "data": [list(row.values()) for row in ROWS]}, id="titles and rows"
        ),
        pytest.param(
            [{"t": row["t"], "pack": {"a": row["a"], "v": row["v"]}} for row in ROWS], id="readings that nest"
        ),
    ],
)
def test_a_whole_json_document_is_a_table(document: object, tmp_path: Path) -> None:
    (tmp_path / "may.json").write_text(json.dumps(document, indent=1), encoding="utf-8")
    readings = read_log(tmp_path / "may.json").readings
    assert readings["time_s"].tolist() == list(range(60))
    assert readings["current_a"].tolist() == [5 + k % 3 for k in range(60)]
    assert readings["voltage_v"].iloc[59] == pytest.approx(49.41)


@pytest.mark.parametrize("text", ["{", '{"a": 1}', '["x", "y"]', "[" * 5000, '{"t": [0, 1], "u": [1]}'])
def test_json_without_a_table_is_refused_in_one_line(text: str, tmp_path: Path) -> None:
    (tmp_path / "may.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_log(tmp_path / "may.json")
    assert str(refused.value).startswith("may.json") and "\n" not in str(refused.value)
