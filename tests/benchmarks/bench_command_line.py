"""How quickly the command line answers, as ratios to references taken in the same run.

    python tests/benchmarks/bench_command_line.py

It takes the processor time (user and system) of whole processes: the median of several runs after one that
does not count, ours and the reference in turn, so that whatever else the machine does slows both alike.
"""

from __future__ import annotations

import os
import statistics
import sys
from pathlib import Path

from orchard_books import book_of
from ratio import Ratio, beside, child_seconds

RUNS = 9
MOWS = 200
COMMAND = (sys.executable, "-c", "from estimator.cli import main; main()")
TYPER = (sys.executable, "-c", "import typer")
LIBRARIES = (sys.executable, "-c", "import pandas, numpy, scipy")
CRATE = ("--pack", "green crate")
LOG = str(Path(__file__).parents[2] / "sample_logs" / "2025-05-17a.csv")
QUESTIONS = (
    (("plan", "apple rows", "chapel strip", *CRATE), 2.0),
    (("minutes", LOG, *CRATE, "--start-charge", "100"), 2.0),
    (("mows",), 2.0),
    (("capacity", "apple rows", "chapel strip", *CRATE), 3.0),
    (("seasons", *CRATE), 3.0),
    (("compare", "--tag", "rear roller off"), 3.0),
    (("pack-life", "apple rows", *CRATE), 3.0),
    (("track-record",), 3.0),
    (("grass",), 3.0),
    (("cable", "--size", "6 mm2", "--length", "4", *CRATE), 3.0),
    (("limits", *CRATE), 3.0),
    (("motor",), 3.0),
    (("charging", "--charger-a", "5", *CRATE), 3.0),
    (("cost", "--price-per-kwh", "0.3", *CRATE), 3.0),
    (("care",), 3.0),
    (("show", "150"), 3.0),
    (("list",), 3.0),
)
"""Every question with its target: those asked in the shed may take twice a bare start of the libraries."""


def ratio_of(what: str, words: tuple[str, ...], reference: tuple[str, ...], at_most: float | None) -> Ratio:
    """A command's whole process compared with another process, in turn."""
    child_seconds(words)
    child_seconds(reference)
    pairs = [(child_seconds(words), child_seconds(reference)) for _ in range(RUNS)]
    ours, theirs = (statistics.median(each) for each in zip(*pairs, strict=True))
    name = "`python -c " + f'"{reference[-1]}"`'
    how = f"whole processes, warm, medians of {RUNS} by turns"
    return Ratio(what, name, ours / theirs, at_most, how, beside(ours, theirs))


def ratios() -> list[Ratio]:
    """Help and every question on a warm logbook."""
    os.environ["MOWCHARGE_LOGBOOK"] = str(book_of(MOWS))
    asked = [
        ratio_of(f"`mowcharge {words[0]}`, {MOWS} mows", (*COMMAND, *words), LIBRARIES, at_most)
        for words, at_most in QUESTIONS
    ]
    return [ratio_of("`mowcharge --help`", (*COMMAND, "--help"), TYPER, 2.5), *asked]


if __name__ == "__main__":
    from table import show

    show(ratios())
