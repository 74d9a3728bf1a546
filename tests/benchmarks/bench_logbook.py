"""A logbook of 2,000 mows with 3,600 readings each: size, listing and adding, compared within one run.

    pytest tests/benchmarks/bench_logbook.py -s

All readings are invented. The figures that a mow brings along are as large as those that the answers keep.
"""

from __future__ import annotations

import bz2
import gzip
import json
import os
import random
import resource
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from estimator.descriptions import Grass, Lawn, Pack
from estimator.logbook import (
    Logbook,
    add_mow,
    derived_of_mows,
    keep_lawn,
    keep_pack,
    open_logbook,
)

MOWS = int(os.environ.get("MOWCHARGE_BENCH_MOWS", "2000"))
READINGS = 3600


@dataclass(frozen=True)
class Filled:
    """A filled logbook, and the size [bytes] of all its uploads packed two ways."""

    path: Path
    gzip_bytes: float
    bz2_bytes: int


def invented_upload(number: int) -> bytes:
    """An invented hour of mowing at a reading a second: wandering load, sag, noise, a clock."""
    rng = np.random.default_rng(number)
    load = 8 + np.convolve(rng.normal(0, 4, READINGS + 8), np.ones(9) / 9, "valid")
    current = np.clip(load + rng.normal(0, 0.3, READINGS), 0.4, 40)
    voltage = 53 - 0.0018 * np.arange(READINGS) - 0.12 * current + rng.normal(0, 0.02, READINGS)
    start = datetime(2020, 4, 1, 9) + timedelta(days=number * 0.9)
    clocks = [(start + timedelta(seconds=s)).strftime("%Y-%m-%d %H:%M:%S") for s in range(READINGS)]
    rows = [f"{clock},{a:.2f},{v:.2f}\n" for clock, a, v in zip(clocks, current, voltage, strict=True)]
    return ("time,current_a,voltage_v\n" + "".join(rows)).encode()


def invented_figures(number: int) -> dict[str, tuple[int, object]]:
    """Figures of about the packed size that a mow's features and discharge curve have."""
    rng = random.Random(number)
    return {
        "features": (
            1,
            {"power_w": [round(400 + rng.gauss(0, 90)) for _ in range(1100)], "energy_wh": rng.random()},
        ),
        "discharge curve": (1, {"v": [round(45 + rng.random(), 3) for _ in range(70)]}),
    }


def describe(book: Logbook) -> None:
    keep_lawn(book, Lawn("orchard", area_m2=420))
    keep_pack(book, Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="new one"))


def add(book: Logbook, number: int, data: bytes) -> float:
    """Add an invented mow; returns the time it took [s]."""
    began = time.perf_counter()
    add_mow(
        book,
        [(f"mow {number}.csv", data)],
        lawn="orchard",
        pack="new one",
        grass=Grass("damp", 25),
        started=datetime(2020, 4, 1, 9) + timedelta(days=number * 0.9),
        derived=invented_figures(number),
    )
    return time.perf_counter() - began


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Filled:
    path = tmp_path_factory.mktemp("bench") / "logbook.sqlite"
    zipped = squeezed = 0
    with open_logbook(path) as book:
        describe(book)
        for number in range(MOWS):
            data = invented_upload(number)
            add(book, number, data)
            squeezed += len(bz2.compress(data, 9))
            if number % 10 == 0:
                zipped += len(gzip.compress(data, 9))
    return Filled(path, zipped * 10, squeezed)


def test_an_upload_takes_as_long_with_many_mows_as_with_ten(filled: Filled, tmp_path: Path) -> None:
    """By turns into both, so that whatever else the machine does slows both alike."""
    few_s, many_s = [], []
    with open_logbook(tmp_path / "few.sqlite") as few, open_logbook(filled.path) as many:
        describe(few)
        for number in range(9):
            add(few, number, invented_upload(number))
        for number in range(MOWS, MOWS + 40):
            few_s.append(add(few, number, invented_upload(number)))
            many_s.append(add(many, number, invented_upload(number)))
    few_ms, many_ms = statistics.median(few_s) * 1e3, statistics.median(many_s) * 1e3
    print(f"\nupload 10: {few_ms:.1f} ms, upload {MOWS}: {many_ms:.1f} ms, ratio {many_ms / few_ms:.2f}")
    assert many_ms <= 1.3 * few_ms


def test_the_file_is_hardly_larger_than_its_packed_uploads(filled: Filled) -> None:
    size = filled.path.stat().st_size
    print(
        f"\n{size / 1e6:.1f} MB, {size / filled.gzip_bytes:.3f} x the uploads with gzip -9 "
        f"({filled.gzip_bytes / 1e6:.1f} MB), {size / filled.bz2_bytes:.3f} x with bzip2 "
        f"({filled.bz2_bytes / 1e6:.1f} MB)"
    )
    assert size <= 1.2 * filled.gzip_bytes


def test_listing_is_quick(filled: Filled) -> None:
    """The processor's seconds of a whole process; the clock's, printed too, depend on its neighbours."""
    program = (
        "import sys\n"
        "from estimator.logbook import mows, open_logbook\n"
        "with open_logbook(sys.argv[1]) as book:\n"
        "    print(len(mows(book)))\n"
    )
    walls, busy = [], []
    for _ in range(5):
        began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        ended = subprocess.run(
            [sys.executable, "-c", program, str(filled.path)], capture_output=True, text=True, check=True
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        walls.append(time.perf_counter() - began)
        busy.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        assert int(ended.stdout) >= MOWS
    print(f"\nlisting {MOWS} mows, whole process: {min(busy):.3f} s processor, {min(walls):.3f} s clock")
    assert min(busy) < 0.5


def test_all_kept_figures_are_read_quickly(filled: Filled) -> None:
    with open_logbook(filled.path) as book:
        began = time.process_time()
        figures = derived_of_mows(book, "features", 1)
        took = time.process_time() - began
    print(f"\nfigures of {len(figures)} mows ({len(json.dumps(figures[1]))} characters each): {took:.3f} s")
    assert len(figures) >= MOWS
    assert took < 0.5


if __name__ == "__main__":  # a client that adds, for several at once: bench_logbook.py PLACE CLIENT COUNT
    place, client, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    with open_logbook(place) as opened:
        describe(opened)
        times = [
            add(opened, n, invented_upload(n)) for n in range(client * 100_000, client * 100_000 + count)
        ]
    print(json.dumps(times))
