"""From files to a log."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from estimator.errors import InputError
from estimator.importer.log import Log, MeterError
from estimator.importer.spot_notes import log_from_spot, spot_from_pairs

_NAMES = (
    ("voltage_v", r"volt|spann|tension|spanning|^u\b|^v\b"),
    ("current_a", r"current|amp|strom|courant|corriente|stroom|^i\b|^a\b"),
    ("temperature_c", r"temp"),
    ("time_s", r"time|zeit|temps|tiempo|tijd|date|elapsed|^t\b"),
)
_UNITS = {"ma": 1e-3, "mv": 1e-3, "kv": 1e3, "ms": 1e-3, "min": 60.0, "h": 3600.0}


def read_log(*paths: str | Path) -> Log:
    """Read one recording from its file."""
    files = []
    for p in paths:
        try:
            files.append((Path(p).name, Path(p).read_bytes()))
        except OSError as e:
            raise InputError(f"cannot be opened ({e.strerror})", file=str(p), mend="check the name") from None
    return read_bytes(files)


def read_bytes(files: Sequence[tuple[str, bytes]]) -> Log:
    """Read one recording from (name, content) pairs."""
    if len(files) != 1:
        raise InputError(f"{len(files)} files given", mend="give one file")
    name, data = files[0]
    text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", errors="replace")
    lines = text.splitlines()
    if not any(line.strip() for line in lines):
        raise InputError("is empty", file=name, mend="export it again from the meter")
    delimiter = max(";\t,", key=lambda d: sum(line.count(d) for line in lines[:50]) * (2 if d != "," else 1))
    rows = [(k + 1, r) for k, r in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter)) if any(r)]
    spot = spot_from_pairs([(r[0], r[1], k) for k, r in rows if len(r) >= 2], name) or (
        spot_from_pairs(list(zip(rows[0][1], rows[1][1], [2] * 99, strict=False)), name)
        if len(rows) == 2
        else None
    )
    if spot is not None:
        return log_from_spot(spot, name)
    for at, (_, cells) in enumerate(rows[:100]):
        found = _columns(cells)
        if {"time_s", "current_a", "voltage_v"} <= set(found):
            return _log(name, found, rows[at + 1 :], cells, delimiter)
    raise InputError(
        "no columns for time, current and voltage",
        file=name,
        row=rows[0][0],
        mend="name them time_s, current_a, voltage_v",
    )


def _columns(cells: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for k, cell in enumerate(cells):
        plain = cell.strip().casefold().replace("_", " ")
        for name, pattern in _NAMES:
            if name not in found and re.search(pattern, plain):
                found[name] = k
                break
    return found


def _log(
    name: str,
    found: dict[str, int],
    rows: Sequence[tuple[int, list[str]]],
    header: Sequence[str],
    delimiter: str,
) -> Log:
    comma = delimiter != ","
    columns: dict[str, np.ndarray] = {}
    started = None
    for what, k in found.items():
        unit = re.search(r"[\[(/ _]\s*(mA|mV|kV|ms|min|h|MA|MV)\s*[\])]?$", header[k].strip())
        scale = _UNITS.get(unit.group(1).casefold(), 1.0) if unit else 1.0
        out = []
        for row, cells in rows:
            cell = cells[k].strip() if k < len(cells) else ""
            if comma:
                cell = cell.replace(",", ".")
            try:
                out.append(float(cell) * scale)
            except ValueError:
                if what != "time_s":
                    raise InputError(
                        f"{header[k]} is {cell!r}, not a number", file=name, row=row, mend="correct the cell"
                    ) from None
                try:
                    stamp = (
                        pd.Timestamp(cell).tz_localize(None)
                        if ":" not in cell[:3]
                        else pd.Timestamp("2000-01-01") + pd.Timedelta(cell)
                    )
                except ValueError:
                    raise InputError(
                        f"time is {cell!r}", file=name, row=row, mend="write it as 2026-05-04 09:14:07"
                    ) from None
                started = started or (stamp.to_pydatetime() if stamp.year != 2000 else None)
                out.append(stamp.timestamp())
        columns[what] = np.array(out, float)
    time = columns["time_s"]
    back = np.flatnonzero(np.diff(time) < 0)
    if back.size:
        k = int(back[0])
        raise InputError(
            f"time goes back from {time[k] - time[0]:g} s to {time[k + 1] - time[0]:g} s",
            file=name, row=rows[k + 1][0], mend="sort the file or split it in two",
        )  # fmt: skip
    if len(time) < 2:
        raise InputError(f"only {len(time)} readings", file=name, mend="log for longer")
    columns["time_s"] = time - time[0]
    order = [c for c in ("time_s", "current_a", "voltage_v", "temperature_c") if c in columns]
    step = float(np.median(np.diff(time)))
    fine = bool(np.any(np.abs(columns["current_a"] * 10 - np.round(columns["current_a"] * 10)) > 1e-6))
    error = (
        MeterError(0.005, 0.002, 0.02, 0.001, 0.005, 0.005)
        if fine
        else MeterError(0.15, 0.02, 0.1, 0.005, 0.05, 0.05)
    )
    return Log(
        readings=pd.DataFrame({c: columns[c] for c in order}),
        notes=[f"{name}: {len(time)} readings over {(time[-1] - time[0]) / 60:.1f} min, one every {step:g} s."],
        error=error, started=started, longest_step_s=max(30.0, 3 * step), name=name,
    )  # fmt: skip
