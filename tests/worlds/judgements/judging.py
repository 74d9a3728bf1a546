"""What all judgements share: calls of the public library, scores, and tables."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from half_cells import Array
from owners import Owner

import estimator as est

HALF_90 = 1.6449
Row = dict[str, float | str | bool]


def as_file(columns: dict[str, Array]) -> bytes:
    """A log as the file that a meter would write."""
    text = io.StringIO()
    np.savetxt(text, np.stack(list(columns.values()), 1), "%.4f", ",", header=",".join(columns), comments="")
    return text.getvalue().encode()


def as_log(columns: dict[str, Array]) -> est.Log:
    """A log read from such a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mow.csv"
        path.write_bytes(as_file(columns))
        return est.read_log(path)


def as_pack(owner: Owner, chemistry: str | None = None) -> est.Pack:
    """The pack as its label and its owner describe it."""
    return est.Pack(
        chemistry=chemistry or owner.chemistry,
        series=owner.series,
        capacity_ah=owner.label_ah,
        cut_off_v=owner.cut_off_v,
        hold_s=owner.hold_s,
        first_year=owner.first_year,
    )


def interval_score(low: float, high: float, truth: float, level: float = 0.90) -> float:
    """Width of a band plus a penalty for missing (Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102, 359).

    >>> interval_score(1.0, 2.0, 1.5), interval_score(1.0, 2.0, 2.1)
    (1.0, 3.0)
    """
    return round(high - low + 2 / (1 - level) * max(low - truth, truth - high, 0.0), 12)


def share(rows: Sequence[Row], name: str) -> float:
    """The share of rows in which `name` is true."""
    return float(np.mean([bool(r[name]) for r in rows])) if rows else float("nan")


def figures(rows: Sequence[Row], name: str) -> Array:
    """The figures called `name`, as an array."""
    return np.array([float(r[name]) for r in rows])


def rms(values: Array) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def show(title: str, heads: Sequence[str], lines: Sequence[Sequence[object]]) -> None:
    """Print a table with a title, figures to three places."""
    said = [[f"{v:.3f}" if isinstance(v, float) else str(v) for v in line] for line in lines]
    widths = [max(map(len, column)) for column in zip(heads, *said, strict=True)]
    print(f"\n{title}")
    for line in [list(heads), *said]:
        print(
            "  ".join(
                v.ljust(w) if not k else v.rjust(w) for k, (v, w) in enumerate(zip(line, widths, strict=True))
            )
        )


def grouped(rows: Sequence[Row], groups: dict[str, Callable[[Row], bool]]) -> list[tuple[str, list[Row]]]:
    """The rows of each group that has some."""
    parts = [(name, [r for r in rows if test(r)]) for name, test in groups.items()]
    return [(name, part) for name, part in parts if part]
