"""How quickly the command line answers, as ratios to references taken in the same run.

    python tests/benchmarks/bench_command_line.py [--mows 200]

Processor time (user and system) of whole processes, the least of several runs: others on the machine disturb
it least. The logbook is filled with the orchard's sample logs, over and over, each file made different.
"""

from __future__ import annotations

import argparse
import csv
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from estimator.answers.keeping import add_mow
from estimator.answers.samples import describe_samples, said_in, samples_folder
from estimator.logbook import open_logbook

RUNS = 5


def processor_s(words: list[str], runs: int = RUNS) -> float:
    """Least processor time [s] of a child process over some runs."""
    found = []
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def fill(path: Path, mows: int) -> list[float]:
    """Fill a logbook; returns the processor time [s] that each mow took."""
    folder = samples_folder()
    with (folder / "mows.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if ";" not in row["files"]]
    took = []
    with open_logbook(path) as book:
        describe_samples(book, folder)
        for number in range(mows):
            years, row = divmod(number, len(rows))
            said = said_in(rows[row])
            assert said.started is not None
            said = replace(said, started=said.started + timedelta(days=731 * years))
            data = (folder / rows[row]["files"]).read_bytes() + b"\n" * years
            started = time.process_time()
            add_mow(book, [(f"{number}-{rows[row]['files']}", data)], said)
            took.append(time.process_time() - started)
    return took


def main() -> None:
    """Measure and print the table."""
    wanted = argparse.ArgumentParser()
    wanted.add_argument("--mows", type=int, default=200)
    mows = wanted.parse_args().mows
    run = [sys.executable, "-c", "from estimator.cli import main; main()"]
    with tempfile.TemporaryDirectory() as place:
        book = Path(place) / "bench.sqlite"
        took = fill(book, mows)
        os.environ["MOWCHARGE_LOGBOOK"] = str(book)
        typer = processor_s([sys.executable, "-c", "import typer"])
        libraries = processor_s([sys.executable, "-c", "import pandas, numpy, scipy"])
        help_s = processor_s([*run, "--help"])
        plan_s = processor_s([*run, "plan", "apple rows", "chapel strip", "--pack", "green crate"])
        mows_s = processor_s([*run, "mows"])
    tenth = sorted(took[5:25])[10]
    last = sorted(took[-20:])[10]
    print(f"{'what':<46}{'s':>8}{'reference':>28}{'ratio':>8}")
    for what, seconds, name, reference in (
        ("mowcharge --help", help_s, "import typer", typer),
        (f"mowcharge plan, {mows} mows", plan_s, "import pandas, numpy, scipy", libraries),
        (f"mowcharge mows, {mows} mows", mows_s, "import pandas, numpy, scipy", libraries),
        (f"adding mow {mows} (median of 20)", last, "adding mow 10", tenth),
    ):
        print(f"{what:<46}{seconds:>8.3f}{name:>28}{seconds / reference:>8.2f}")


if __name__ == "__main__":
    main()
