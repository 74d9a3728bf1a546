"""Logbooks of the orchard's sample mows, repeated; filled once a run and shared by the benchmarks."""

from __future__ import annotations

import csv
import tempfile
from dataclasses import replace
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.answers.keeping.samples import describe_samples, said_in, samples_folder
from estimator.logbook import Logbook, backup, open_logbook

SIZES = (10, 100, 200, 1000, 2000)
PACK = "green crate"


@lru_cache
def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="orchard-books-")


@lru_cache
def _diary() -> tuple[tuple[Circumstances, str, bytes], ...]:
    folder = samples_folder()
    with (folder / "mows.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if ";" not in row["files"] and row["pack"] == PACK]
    return tuple((said_in(row), row["files"], (folder / row["files"]).read_bytes()) for row in rows)


def upload(number: int) -> tuple[list[tuple[str, bytes]], Circumstances]:
    """The files of a mow and what is said of it; all differ, and there are 200 to a year."""
    again, row = divmod(number, len(_diary()))
    said, name, data = _diary()[row]
    later = datetime(2012, 1, 1, 9) + timedelta(hours=43.8 * number)
    return [(f"{number}-{name}", data + b"\n" * again)], replace(said, started=later)


def add(book: Logbook, number: int) -> None:
    """Add a mow as the command does: read and keep it, work out its figures and the pack's next fit."""
    add_mow(book, *upload(number))


@lru_cache
def book_of(mows: int) -> Path:
    """A logbook of one pack with `mows` mows (one of SIZES), as adding them one by one leaves it."""
    path = Path(_folder().name) / f"{mows}.sqlite"
    smaller = max((size for size in SIZES if size < mows), default=0)
    if smaller:
        with open_logbook(copy_of(smaller, f"to {mows}")) as book:
            for number in range(smaller, mows):
                add(book, number)
            backup(book, path)
    else:
        with open_logbook(path) as book:
            describe_samples(book, samples_folder())
            for number in range(mows):
                add(book, number)
    return path


def copy_of(mows: int, name: str) -> Path:
    """A copy of such a logbook, to be used in any way."""
    path = Path(_folder().name) / f"{name}.sqlite"
    with open_logbook(book_of(mows)) as book:
        return backup(book, path)
