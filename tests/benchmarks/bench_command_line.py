"""How quickly the command line answers, as ratios to references taken in the same run.

    python tests/benchmarks/bench_command_line.py

Processor time (user and system) of whole processes, the median of several runs after one that is not
counted; ours and the reference by turns, so that whatever else the machine does slows both alike.
"""

from __future__ import annotations

import os
import statistics
import sys

from orchard_books import book_of
from ratio import Ratio, beside, child_seconds

RUNS = 9
MOWS = 200
COMMAND = (sys.executable, "-c", "from estimator.cli import main; main()")
TYPER = (sys.executable, "-c", "import typer")
LIBRARIES = (sys.executable, "-c", "import pandas, numpy, scipy")
PLAN = ("plan", "apple rows", "chapel strip", "--pack", "green crate")


def ratio_of(what: str, words: tuple[str, ...], reference: tuple[str, ...], at_most: float | None) -> Ratio:
    """A command's whole process beside another process, by turns."""
    child_seconds(words)
    child_seconds(reference)
    pairs = [(child_seconds(words), child_seconds(reference)) for _ in range(RUNS)]
    ours, theirs = (statistics.median(each) for each in zip(*pairs, strict=True))
    name = "`python -c " + f'"{reference[-1]}"`'
    how = f"whole processes, warm, medians of {RUNS} by turns"
    return Ratio(what, name, ours / theirs, at_most, how, beside(ours, theirs))


def ratios() -> list[Ratio]:
    """Help and first answers on a warm logbook."""
    os.environ["MOWCHARGE_LOGBOOK"] = str(book_of(MOWS))
    return [
        ratio_of("`mowcharge --help`", (*COMMAND, "--help"), TYPER, 2.5),
        ratio_of(f"`mowcharge plan` of 2 lawns, {MOWS} mows", (*COMMAND, *PLAN), LIBRARIES, 2.0),
        ratio_of(f"`mowcharge mows`, {MOWS} mows", (*COMMAND, "mows"), LIBRARIES, None),
    ]


if __name__ == "__main__":
    from table import show

    show(ratios())
