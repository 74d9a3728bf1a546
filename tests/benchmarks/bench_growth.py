"""What a logbook costs as it grows to 10, 100, 1,000 and 2,000 mows of one pack.

    python tests/benchmarks/bench_growth.py

The orchard's sample mows are added over and over, each file made different, by the function that command and
page use. Then, on copies of the logbooks, mows are added in turn to the one of 10 and to the large one. The
result is the median of the ratios of processor time, pair by pair.
"""

from __future__ import annotations

import gzip
import os
import statistics
from collections.abc import Callable
from functools import partial

from bench_command_line import COMMAND, QUESTIONS
from orchard_books import PACK, SIZES, add, book_of, copy_of, upload
from ratio import Ratio, beside, child_seconds, seconds

from estimator.answers.figures.mow_figures import FEATURES, FEATURES_VERSION
from estimator.importer.read import read_bytes
from estimator.logbook import Logbook, add_mow, derived_of, open_logbook

ADDED, RUNS = 16, 5
LARGE = tuple(size for size in SIZES if size not in (10, 200))


def store(book: Logbook, number: int) -> None:
    """Keep a mow's bytes with figures that are known already: what the logbook itself costs."""
    files, said = upload(number)
    figures = {FEATURES: (FEATURES_VERSION, derived_of(book, 1, FEATURES, FEATURES_VERSION))}
    add_mow(book, files, lawn=said.lawn, pack=PACK, started=said.started, derived=figures)


def by_turns(
    what: str, size: int, work: Callable[[Logbook, int], None], at_most: float | None, flip: int = 0
) -> Ratio:
    """Add the next mows to a copy of a large logbook and to one of 10, the same files in turn.

    flip : bits of a mow's number that are inverted; with 3, every four mows come in reverse order, as when
        four people each add theirs of the week
    """
    with (
        open_logbook(copy_of(size, f"{what} {size}")) as many,
        open_logbook(copy_of(10, f"{what} 10 for {size}")) as few,
    ):
        pairs = []
        for number in (each ^ flip for each in range(size, size + ADDED)):
            read_bytes(upload(number)[0])  # what the importer remembers of a file helps both alike
            pairs.append((seconds(partial(work, many, number)), seconds(partial(work, few, number))))
    ratio = statistics.median(ours / theirs for ours, theirs in pairs[2:])
    ours, theirs = (1000 * statistics.median(each) for each in zip(*pairs[2:], strict=True))
    how = f"processor time by turns, median ratio of {ADDED - 2} after 2"
    return Ratio(
        f"{what} the {size:,}th mow", f"{what} the 10th", ratio, at_most, how, beside(ours, theirs, "ms")
    )


def asking(what: str, size: int, words: tuple[str, ...], at_most: float | None) -> Ratio:
    """A command's whole process on a large logbook and on one of 10, in turn."""

    def run(mows: int) -> float:
        os.environ["MOWCHARGE_LOGBOOK"] = str(book_of(mows))
        return child_seconds((*COMMAND, *words))

    run(size), run(10)
    pairs = [(run(size), run(10)) for _ in range(RUNS)]
    ours, theirs = (statistics.median(each) for each in zip(*pairs, strict=True))
    how = f"whole processes by turns, medians of {RUNS}, warm"
    return Ratio(
        f"`mowcharge {what}` on {size:,} mows", f"`{what}` on 10", ours / theirs, at_most, how,
        beside(ours, theirs),
    )  # fmt: skip


def size_of(size: int) -> Ratio:
    """The size of the logbook's file compared with its uploads, each packed by itself."""
    zipped = sum(len(gzip.compress(upload(number)[0][0][1], 9)) for number in range(size)) / 1e6
    held = book_of(size).stat().st_size / 1e6
    return Ratio(
        f"file of {size:,} sample mows", "the uploads, each by gzip -9", held / zipped, None,
        "bytes", beside(held, zipped, "MB"),
    )  # fmt: skip


def ratios() -> list[Ratio]:
    """Storing, adding, listing, asking and the file, at each size."""
    found = [by_turns("storing", size, store, 1.3) for size in LARGE]
    found += [by_turns("adding", size, add, 1.3) for size in LARGE]
    found += [by_turns("adding out of order", size, add, 1.3, flip=3) for size in LARGE]
    found += [asking("mows", size, ("mows",), None) for size in LARGE]
    found += [asking("plan", size, QUESTIONS[0][0], None) for size in LARGE]
    return found + [size_of(size) for size in (10, *LARGE)]


if __name__ == "__main__":
    from table import show

    show(ratios())
