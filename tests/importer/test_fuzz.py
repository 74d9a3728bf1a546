"""Whatever bytes come in: they give a log or one line, quickly, and never a traceback."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.errors import InputError, MowchargeError
from estimator.importer.clock.turns import spread_repeats
from estimator.importer.log import Log
from estimator.importer.read import read_bytes, read_log
from estimator.importer.table.numbers import Cell, number

sys.path.insert(0, str(Path(__file__).parent / "corpus"))
from make_corpus import all_cases

SEEDS = [data[:3000] for case in all_cases() for _, data in case.files if len(data) > 20]
CELLS = st.one_of(
    st.sampled_from(
        [
            "",
            "OL",
            "-OL",
            "----",
            "nan",
            "inf",
            "1e309",
            "-0.0",
            "1,5",
            "1.234,5",
            "12:00:00",
            "24:00:00",
            "23/05/2026",
            "A",
            "mV",
            "9" * 40,
            "2026-05-23T09:14:07",
            "31.02.2026 10:00",
            "0:00:60",
            "1e-320",
            "\u2212" + "5",
            "12 A",
            "\u0663",
            "²",
        ]
    ),
    st.floats(allow_nan=False, width=32).map(repr),
    st.integers(-(10**6), 10**12).map(str),
    st.text(max_size=6),
)
TITLES = st.sampled_from(
    [
        "time",
        "Time (s)",
        "Zeit",
        "Date",
        "current_a",
        "Strom [mA]",
        "Amps",
        "voltage_v",
        "V",
        "Tensión (V)",
        "Power (W)",
        "Value",
        "Unit",
        "Function",
        "temp",
        "t",
        "I",
        "min",
        "typical amps",
        "minutes",
        "",
    ]
)


def check(data: bytes, name: str = "fuzz.csv") -> None:
    begin = time.thread_time()
    try:
        log = read_bytes([(name, data)], max_bytes=5_000_000)
    except InputError as error:
        assert "\n" not in str(error)
        assert error.mend
    else:
        sane(log)
    assert time.thread_time() - begin < 2.0


def sane(log: Log) -> None:
    r = log.readings
    assert len(r) >= 2
    assert np.isfinite(r.to_numpy()[:, :3]).all()
    assert r.time_s.iloc[0] == 0
    assert (np.diff(r.time_s) >= 0).all()
    assert log.longest_step_s > 0
    assert all("\n" not in n for n in log.notes)


@settings(max_examples=120, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    check(data)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(TITLES, min_size=2, max_size=6),
    st.lists(st.lists(CELLS, min_size=1, max_size=6), max_size=20),
    st.sampled_from(",;\t| "),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]),
)
def test_any_table(titles: list[str], rows: list[list[str]], sep: str, end: str, encoding: str) -> None:
    text = end.join(sep.join(r) for r in [titles, *rows])
    check(text.encode(encoding, "replace"))


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(SEEDS),
    st.lists(
        st.tuples(st.integers(0, 2999), st.integers(0, 6), st.binary(max_size=8)), min_size=1, max_size=8
    ),
)
def test_damaged_corpus(seed: bytes, damage: list[tuple[int, int, bytes]]) -> None:
    data = bytearray(seed)
    for at, width, patch in damage:
        at %= max(1, len(data))
        data[at : at + width] = patch
    check(bytes(data))


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=30), st.sampled_from([".", ","]))
def test_any_cell(text: str, decimal: str) -> None:
    cell = number(text, decimal)
    assert (cell.kind is Cell.NUMBER) == (cell.value == cell.value)


@given(st.floats(-1e6, 1e6).map(lambda x: round(x, 4)))
def test_written_numbers_come_back(x: float) -> None:
    assert number(f"{x:.4f}").value == x
    assert number(f"{x:.4f}".replace(".", ","), ",").value == x
    assert abs(number(f"{x:,.4f}").value - x) == 0
    german = f"{x:,.4f}".replace(",", "_").replace(".", ",").replace("_", ".")
    assert number(german, ",").value == x


@given(st.lists(st.integers(0, 50), min_size=2, max_size=60).map(sorted))
def test_spreading_keeps_order_and_stamps(stamps: list[int]) -> None:
    t = np.array(stamps, dtype=float)
    out = spread_repeats(t).time_s
    assert (np.diff(out) > 0).all()
    assert (out >= t).all()
    assert (out < t + 60).all()


READINGS = st.lists(
    st.tuples(st.floats(0.5, 40).map(lambda x: round(x, 2)), st.floats(40, 58).map(lambda x: round(x, 2))),
    min_size=3,
    max_size=40,
)


@settings(max_examples=80, deadline=None)
@given(
    READINGS,
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
    st.floats(0, 5000).map(lambda x: round(x, 1)),
    st.booleans(),
)
def test_a_sound_file_is_taken_as_it_is(readings, sep, comma, start, quoted) -> None:
    def show(x: float) -> str:
        text = f"{x:.2f}".replace(".", ",") if comma else f"{x:.2f}"
        return f'"{text}"' if quoted or (comma and sep == ",") else text

    lines = [sep.join(("time_s", "current_a", "voltage_v"))]
    lines += [sep.join((show(start + 2 * k), show(i), show(v))) for k, (i, v) in enumerate(readings)]
    log = read_bytes([("x.csv", "\n".join(lines).encode())], zero_a=0.0)
    assert np.allclose(log.readings.time_s, 2.0 * np.arange(len(readings)), atol=1e-6)
    kept = log.readings.current_a.to_numpy()
    assert len(kept) == len(readings)
    assert np.allclose(kept, [i for i, _ in readings], atol=1e-9)


ONE_WILD_VOLT = "time,current [A],voltage [V]\n" + "".join(
    f"2024-06-08T15:30:{second:02d},{amps:.2f},{volts}\n"
    for second, amps, volts in zip(
        (0, 1, 2, 3, 4, 8, 9, 10, 11),
        (0.0, -0.07, -0.04, -0.02, -0.06, 0.03, -0.01, 0.02, 0.01),
        (41.81, 41.83, 41.82, 41.81, 4141.81, 41.82, 41.81, 41.79, 41.81),
        strict=True,
    )
)
UNITS_AND_NO_TITLES = "45 V,0.09 A,38,2024-06-01 15:00:53,54.31 V,1.21 A,25,2024-06-01 15:00:24,54.46 V\n"


@pytest.mark.parametrize("text", [ONE_WILD_VOLT, UNITS_AND_NO_TITLES])
def test_files_that_once_ended_in_a_traceback(text: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(text)
    try:
        log = read_log(path)
    except MowchargeError as error:
        assert "\n" not in str(error) and "odd.csv" in str(error)
    else:
        assert np.isfinite(log.readings[["time_s", "current_a", "voltage_v"]].to_numpy()).all()
