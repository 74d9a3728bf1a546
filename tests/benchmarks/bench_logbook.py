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
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
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
    """A filled logbook, the time [s] of every upload, and the size [bytes] of all uploads packed two ways."""

    path: Path
    upload_s: tuple[float, ...]
    gzip_bytes: int
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
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Filled]:
    path = tmp_path_factory.mktemp("bench") / "logbook.sqlite"
    took, zipped, squeezed = [], 0, 0
    with open_logbook(path) as book:
        describe(book)
        for number in range(MOWS):
            data = invented_upload(number)
            took.append(add(book, number, data))
            zipped += len(gzip.compress(data, 9))
            squeezed += len(bz2.compress(data, 9))
    yield Filled(path, tuple(took), zipped, squeezed)


def test_the_last_upload_takes_as_long_as_an_early_one(filled: Filled) -> None:
    early, late = statistics.median(filled.upload_s[5:25]), statistics.median(filled.upload_s[-20:])
    print(f"\nupload 10: {early * 1e3:.1f} ms, upload {MOWS}: {late * 1e3:.1f} ms, ratio {late / early:.2f}")
    assert late <= 1.3 * early


def test_the_file_is_hardly_larger_than_its_packed_uploads(filled: Filled) -> None:
    size = filled.path.stat().st_size
    print(
        f"\n{size / 1e6:.1f} MB, {size / filled.gzip_bytes:.3f} x the uploads with gzip -9 "
        f"({filled.gzip_bytes / 1e6:.1f} MB), {size / filled.bz2_bytes:.3f} x with bzip2 "
        f"({filled.bz2_bytes / 1e6:.1f} MB)"
    )
    assert size <= 1.2 * filled.gzip_bytes


def test_listing_is_quick(filled: Filled) -> None:
    program = (
        "import sys, time; began = time.perf_counter()\n"
        "from estimator.logbook import mows, open_logbook\n"
        "imported = time.perf_counter()\n"
        "with open_logbook(sys.argv[1]) as book:\n"
        "    opened = time.perf_counter()\n"
        "    listed = mows(book)\n"
        "print(len(listed), imported - began, opened - imported, time.perf_counter() - opened)\n"
    )
    walls, parts = [], []
    for _ in range(5):
        began = time.perf_counter()
        ended = subprocess.run(
            [sys.executable, "-c", program, str(filled.path)], capture_output=True, text=True, check=True
        )
        walls.append(time.perf_counter() - began)
        parts.append(ended.stdout.split())
    best = min(walls)
    count, imports, opening, listing = parts[walls.index(best)]
    print(
        f"\nlisting {count} mows: {best:.3f} s whole process "
        f"(imports {float(imports):.3f}, opening {float(opening):.3f}, listing {float(listing):.3f})"
    )
    assert int(count) == MOWS
    assert best < 0.5


def test_all_kept_figures_are_read_quickly(filled: Filled) -> None:
    with open_logbook(filled.path) as book:
        began = time.perf_counter()
        figures = derived_of_mows(book, "features", 1)
        took = time.perf_counter() - began
    print(f"\nfigures of {len(figures)} mows ({len(json.dumps(figures[1]))} characters each): {took:.3f} s")
    assert len(figures) == MOWS
    assert took < 0.5


if __name__ == "__main__":  # a client that adds, for several at once: bench_logbook.py PLACE CLIENT COUNT
    place, client, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    with open_logbook(place) as opened:
        describe(opened)
        times = [
            add(opened, n, invented_upload(n)) for n in range(client * 100_000, client * 100_000 + count)
        ]
    print(json.dumps(times))
