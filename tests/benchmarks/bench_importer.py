"""Time and memory of importing a file of 1,000,000 rows, compared with bare pandas on the same file.

    python tests/benchmarks/bench_importer.py

Limits: at most 1.6 times the time of `pandas.read_csv` plus date parsing, and a peak of less than 4 times the
memory of the three float columns plus the file. A file of 150,000 irregular rows (with units after the
values), which is read row by row, must not cost more than 10 times its size. Exits with 1 when a limit is
broken. The readings are invented.
"""

from __future__ import annotations

import multiprocessing
import statistics
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from ratio import Ratio, beside, seconds

TIME_LIMIT, MEMORY_LIMIT, ODD_MEMORY_LIMIT = 1.6, 4.0, 10.0


def write_file(path: Path, rows: int) -> None:
    """An invented log with one reading a second."""
    rng = np.random.default_rng(0)
    stamps = pd.Timestamp("2026-05-01 08:00:00") + pd.to_timedelta(np.arange(rows), unit="s")
    current = np.abs(rng.normal(12, 3, rows))
    voltage = 54 - 0.1 * current - 8 * np.arange(rows) / rows
    frame = pd.DataFrame(
        {"time": stamps.strftime("%Y-%m-%d %H:%M:%S"), "current_a": current, "voltage_v": voltage}
    )
    frame.round(2).to_csv(path, index=False)


def write_odd_file(path: Path, rows: int) -> None:
    """An invented log with decimal commas and a unit after each value."""
    lines = (f"{k};{8 + k % 7},{k % 10} A;{53 - k % 3},{k % 10} V\n" for k in range(rows))
    with path.open("w", encoding="utf-8") as held:
        held.write("Time (s);Amps;Volts\n")
        held.writelines(lines)


def bare(path: Path) -> None:
    """The import as anybody would write it."""
    frame = pd.read_csv(path)
    frame["time"] = pd.to_datetime(frame["time"])


def ours(path: Path) -> None:
    """The whole import, with decisions and mending."""
    from estimator.importer.read import read_log

    read_log(path)


def _high_water_mb() -> float:
    status = Path("/proc/self/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


def _peak(work, path: Path, small: Path, answer) -> None:
    work(small)
    before = _high_water_mb()
    work(path)
    answer.put(_high_water_mb() - before)


def peak_mb(work, path: Path, small: Path) -> float:
    """Growth of the peak memory [MB] over that of a small file, in a fresh process (Linux)."""
    context = multiprocessing.get_context("spawn")
    answer = context.Queue()
    process = context.Process(target=_peak, args=(work, path, small, answer))
    process.start()
    found = answer.get(timeout=300)
    process.join()
    return float(found)


def ratios(rows: int = 1_000_000) -> list[Ratio]:
    """Time compared with bare pandas, in turn; peak memory compared with columns and file."""
    with tempfile.TemporaryDirectory() as folder:
        path, small = Path(folder) / "long.csv", Path(folder) / "short.csv"
        write_file(path, rows)
        write_file(small, 1000)
        ours(small)
        bare(small)
        pairs = [(seconds(lambda: ours(path)), seconds(lambda: bare(path))) for _ in range(5)]
        held_mb = 3 * 8 * rows / 2**20 + path.stat().st_size / 2**20
        odd, odd_small = Path(folder) / "odd.csv", Path(folder) / "odd_small.csv"
        write_odd_file(odd, 150_000)
        write_odd_file(odd_small, 200)
        odd_mb, odd_held_mb = peak_mb(ours, odd, odd_small), odd.stat().st_size / 2**20
        memory_mb = peak_mb(ours, path, small)
    ratio = statistics.median(a / b for a, b in pairs)
    import_s, bare_s = (statistics.median(each) for each in zip(*pairs, strict=True))
    peak = "growth of the peak in a fresh process, once"
    return [
        Ratio(
            f"reading {rows:,} rows", "`pandas.read_csv` with the dates parsed", ratio, TIME_LIMIT,
            "processor time by turns, median ratio of 5, warm", beside(import_s, bare_s),
        ),
        Ratio(
            "memory of it", "file and three float columns", memory_mb / held_mb, MEMORY_LIMIT, peak,
            beside(memory_mb, held_mb, "MB"),
        ),
        Ratio(
            "memory for 150,000 rows read one by one", "the file", odd_mb / odd_held_mb, ODD_MEMORY_LIMIT,
            peak, beside(odd_mb, odd_held_mb, "MB"),
        ),
    ]  # fmt: skip


if __name__ == "__main__":
    from table import show

    show(ratios())
