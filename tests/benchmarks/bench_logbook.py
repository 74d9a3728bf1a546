"""A logbook of 2,000 mows with 3,600 readings each: size, listing and adding, compared within one run.

    python tests/benchmarks/bench_logbook.py

All readings are invented. The figures kept with a mow are as large as those that the answers keep.
"""

from __future__ import annotations

import bz2
import gzip
import json
import os
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from ratio import Ratio, beside, child_seconds

from estimator.descriptions import Grass, Lawn, Pack
from estimator.logbook import (
    Logbook,
    add_mow,
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


def filled(folder: Path) -> Filled:
    """A logbook of invented mows."""
    path = folder / "logbook.sqlite"
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


def storing(large: Path, folder: Path) -> Ratio:
    """Storing in a large and a small logbook, in turn, so that the machine's other work slows both alike."""
    few_s, many_s = [], []
    with open_logbook(folder / "few.sqlite") as few, open_logbook(large) as many:
        describe(few)
        for number in range(9):
            add(few, number, invented_upload(number))
        for number in range(MOWS, MOWS + 40):
            few_s.append(add(few, number, invented_upload(number)))
            many_s.append(add(many, number, invented_upload(number)))
    few_ms, many_ms = statistics.median(few_s) * 1e3, statistics.median(many_s) * 1e3
    return Ratio(
        f"storing the {MOWS:,}th mow of {READINGS:,} readings", "storing the 10th", many_ms / few_ms, 1.3,
        "by the clock, medians of 40 by turns", beside(many_ms, few_ms, "ms"),
    )  # fmt: skip


def listing(large: Path) -> Ratio:
    """Listing: processor time of a whole process."""
    program = (
        "import sys\n"
        "from estimator.logbook import mows, open_logbook\n"
        "with open_logbook(sys.argv[1]) as book:\n"
        "    print(len(mows(book)))\n"
    )
    busy_s = statistics.median(child_seconds([sys.executable, "-c", program, str(large)]) for _ in range(5))
    return Ratio(
        f"listing {MOWS:,} mows", "half a second", busy_s / 0.5, 1.0, "whole process, median of 5, warm",
        beside(busy_s, 0.5),
    )  # fmt: skip


def ratios() -> list[Ratio]:
    """File, storing, listing."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        large = filled(folder)
        size = large.path.stat().st_size
        return [
            Ratio(
                f"file of {MOWS:,} mows of {READINGS:,} readings", "the uploads, each by gzip -9",
                size / large.gzip_bytes, 1.2, "bytes", beside(size / 1e6, large.gzip_bytes / 1e6, "MB"),
            ),
            Ratio(
                "the same", "the uploads, each by bzip2 -9", size / large.bz2_bytes, None, "bytes",
                beside(size / 1e6, large.bz2_bytes / 1e6, "MB"),
            ),
            storing(large.path, folder),
            listing(large.path),
        ]  # fmt: skip


if __name__ == "__main__" and len(sys.argv) > 1:  # one of several: PLACE CLIENT COUNT
    place, client, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    with open_logbook(place) as opened:
        describe(opened)
        times = [
            add(opened, n, invented_upload(n)) for n in range(client * 100_000, client * 100_000 + count)
        ]
    print(json.dumps(times))
elif __name__ == "__main__":
    from table import show

    show(ratios())
