"""All benchmarks in one run, as one table of ratios with their targets.

    python tests/benchmarks/table.py [--markdown FILE] [importer simulation profile ...]

Both sides of a ratio are measured in the same run on the same machine; "how" says which runs, and which
figure of them. Processor time is used where possible, because other work of the machine disturbs it least.
All of it takes about 15 minutes. Exits with 1 when a target is missed.
"""

from __future__ import annotations

import argparse
import importlib
import os
import platform
import sys
import time
from collections.abc import Iterable, Iterator
from importlib.metadata import version
from pathlib import Path

from ratio import Ratio, said

BENCHMARKS = ("command_line", "importer", "simulation", "profile", "seasons", "logbook", "growth", "page")
LIBRARIES = ("numpy", "pandas", "scipy", "statsmodels", "typer", "sqlalchemy", "starlette")
HEADS = ("what", "beside", "ratio", "target", "how", "costs")


def machine() -> str:
    """The machine and the versions, in one line."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="utf-8").splitlines() if info.is_file() else []
    model = next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    load = ", ".join(f"{each:.1f}" for each in os.getloadavg())
    return (
        f"{os.cpu_count()} cores of {model or platform.machine()}, {platform.system()}, "
        f"Python {platform.python_version()}, {versions}; load before the run {load}"
    )


def cells(row: Ratio) -> tuple[str, ...]:
    """A row in words; a target that was missed is marked."""
    target = "" if row.at_most is None else f"{said(row.at_most)}{' MISSED' if row.missed else ''}"
    return row.what, row.beside, said(row.ratio), target, row.how, row.costs


def as_markdown(rows: Iterable[Ratio]) -> Iterator[str]:
    """The table as Markdown."""
    yield "| " + " | ".join(HEADS) + " |"
    yield "|---|---|---|---|---|---|"
    for row in rows:
        yield "| " + " | ".join(cells(row)) + " |"


def show(rows: Iterable[Ratio]) -> None:
    """Print the rows, ratio and target first, so that a narrow terminal shows them."""
    for row in rows:
        what, beside, ratio, target, how, costs = cells(row)
        print(f"{ratio:>7}  {target or '-':<12} {what} / {beside}  ({costs}; {how})", flush=True)


def main() -> int:
    """Run the benchmarks that are named, print the table, write it."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("names", nargs="*", choices=(*BENCHMARKS, []), default=[])
    asked.add_argument("--markdown", type=Path, help="also write the table to this file")
    wanted = asked.parse_args()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed command is compiled once
    about, found = machine(), []
    print(f"{about}\n\n{'ratio':>7}  {'at most':<12} what / beside  (costs; how)")
    for name in wanted.names or BENCHMARKS:
        began = time.perf_counter()
        rows = importlib.import_module(f"bench_{name}").ratios()
        show(rows)
        print(f"{'':>7}  {name} took {time.perf_counter() - began:.0f} s", file=sys.stderr)
        found += rows
    if wanted.markdown:
        text = "\n".join([f"{about[0].upper()}{about[1:]}.", "", *as_markdown(found), ""])
        wanted.markdown.write_text(text, encoding="utf-8")
    return int(any(row.missed for row in found))


if __name__ == "__main__":
    sys.exit(main())
