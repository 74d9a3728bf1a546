"""Time and memory of importing a file of 1,000,000 rows, against a bare pandas reading of the same file in
the same run.

    python tests/benchmarks/bench_importer.py [ROWS]

Limits: at most 1.6 times the time of `pandas.read_csv` plus date parsing, and a peak of less than 4 times
the memory of the three float columns plus the file. A file of 150,000 irregular rows (units beside the
values), which is read row by row, must not cost more than 10 times its size. Exits with 1 when a limit is
broken. The readings are
invented.
"""

from __future__ import annotations

import multiprocessing
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

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
    """An invented log with decimal commas and a unit beside each value."""
    lines = (f"{k};{8 + k % 7},{k % 10} A;{53 - k % 3},{k % 10} V\n" for k in range(rows))
    with path.open("w", encoding="utf-8") as held:
        held.write("Time (s);Amps;Volts\n")
        held.writelines(lines)


def bare(path: Path) -> None:
    """What anybody would write."""
    frame = pd.read_csv(path)
    frame["time"] = pd.to_datetime(frame["time"])


def ours(path: Path) -> None:
    """The whole import, decisions, masks and all."""
    from estimator.importer.read import read_log

    read_log(path)


def seconds(work, path: Path) -> float:
    """Processor seconds: other work on the machine does not count."""
    begin = time.process_time()
    work(path)
    return time.process_time() - begin


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


def main() -> int:
    """Measure, print, judge."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        path, small = Path(folder) / "long.csv", Path(folder) / "short.csv"
        write_file(path, rows)
        write_file(small, 1000)
        ours(small)
        bare(small)
        pairs = [(seconds(bare, path), seconds(ours, path)) for _ in range(5)]
        ratio = statistics.median(b / a for a, b in pairs)
        size_mb = path.stat().st_size / 2**20
        allowed_mb = MEMORY_LIMIT * (3 * 8 * rows / 2**20 + size_mb)
        odd, odd_small = Path(folder) / "odd.csv", Path(folder) / "odd_small.csv"
        write_odd_file(odd, 150_000)
        write_odd_file(odd_small, 200)
        odd_times = peak_mb(ours, odd, odd_small) / (odd.stat().st_size / 2**20)
        memory_mb, bare_mb = peak_mb(ours, path, small), peak_mb(bare, path, small)
    print(f"{rows} rows, {size_mb:.1f} MB")
    print(
        f"bare {statistics.median(a for a, _ in pairs):.3f} s, import "
        f"{statistics.median(b for _, b in pairs):.3f} s"
    )
    print(f"ratio {ratio:.2f} (limit {TIME_LIMIT})")
    print(f"peak {memory_mb:.0f} MB (limit {allowed_mb:.0f} MB; bare {bare_mb:.0f} MB)")
    print(f"row by row: {odd_times:.1f} times the file (limit {ODD_MEMORY_LIMIT:g})")
    return int(ratio > TIME_LIMIT or memory_mb >= allowed_mb or odd_times > ODD_MEMORY_LIMIT)


if __name__ == "__main__":
    sys.exit(main())
