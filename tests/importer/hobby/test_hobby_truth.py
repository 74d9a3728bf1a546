"""The files hold what their truths say: here each is read by hand, with what a careful reader knows.

No importer is used: for each file a few lines of pandas take the columns and units that a person would take.
So what the files hold and what they are said to hold are compared in two ways that share only the code of
sums.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hobby_contradictions import Contradiction, contradictions
from hobby_mow import Figures, HobbyFile, figures

Columns = tuple[Any, Any, Any]  # time [s], current [A], voltage [V]


def _rows(path: Path, sep: str = ",", head: int | None = 0, **more: Any) -> pd.DataFrame:
    table = pd.read_csv(path, sep=sep, header=head, **more)
    return table.set_axis(range(table.shape[1]), axis=1)


def _found(path: Path, pattern: str) -> np.ndarray:
    """The numbers that the pattern finds in each line that it fits."""
    hits = (re.search(pattern, line) for line in path.read_text("utf-8").splitlines())
    return np.array([[float(x) for x in hit.groups()] for hit in hits if hit]).T


def _seconds(of_day: pd.Series, period_s: float = 86400.0) -> np.ndarray:
    """Seconds from h:mm:ss or mm:ss, going on where the clock starts again."""
    parts = of_day.astype(str).str.split(":")
    told = np.array([sum(float(x) * 60**k for k, x in enumerate(reversed(p))) for p in parts])
    return told + period_s * np.concatenate([[0], np.cumsum(np.diff(told) < -period_s / 2)])


def _terminal(path: Path) -> Columns:
    hour, minute, second, v, i = _found(path, r"^(\d+):(\d+):([\d.]+) -> ([\d.]+) V ([\d.]+) A")
    return 3600 * hour + 60 * minute + second, i, v


def _json(path: Path) -> Columns:
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    return (
        np.array([row["at"] / 1000 for row in rows]),
        np.array([row["pack"]["amps"] for row in rows]),
        np.array([row["pack"]["volts"] for row in rows]),
    )


def _glitches(path: Path) -> Columns:
    t = _rows(path, "\t")
    amps = t[2].where(t[2] < 1000).interpolate()
    return t[0], amps, t[1].where(t[1] > 0).interpolate()


def _steps_back(path: Path) -> Columns:
    t = _rows(path)
    told = _seconds(t[0].str.split(" ").str[1])
    step = np.diff(told)
    return np.concatenate([[0], np.cumsum(np.where(step < 1, 1, step))]), t[2], t[1]


def _ticks(path: Path) -> Columns:
    t = _rows(path)
    turns = np.concatenate([[0], np.cumsum(np.diff(t[0]) < 0)])
    return (t[0] + 65536 * turns) / 100, t[2] / 1000, t[1]


def _states(path: Path) -> Columns:
    t = _rows(path)
    return t[0], t[3] * t[1].map({"Discharge": 1, "Charge": -1, "Rest": 0}), t[2]


def _gauge(path: Path) -> Columns:
    t = _rows(path)
    way = np.where(np.arange(len(t)) > t[3].idxmax() - 5, 1, -1)
    return _seconds(t[0]), t[2] * way, t[1]


def _zero(path: Path) -> Columns:
    t = _rows(path, ";")
    volts = pd.to_numeric(t[2], errors="coerce").replace([np.inf], np.nan).interpolate()
    return t[0], t[1] - t[1].iloc[:70].median(), volts


def _history(path: Path) -> Columns:
    t = _rows(path)
    t[2], t[1] = pd.to_datetime(t[2]), pd.to_numeric(t[1], errors="coerce")
    zero = t[2].iloc[0]
    amps, volts = (t[t[0].eq(name)].dropna() for name in ("shed/mower amps", "shed/mower volts"))
    at, at_volts = ((x[2] - zero).dt.total_seconds() for x in (amps, volts))
    return at, amps[1], np.interp(at, at_volts, volts[1])


def _cells(path: Path) -> Columns:
    t = _rows(path)
    return t[0], t[11], t.loc[:, 1:10].sum(axis=1)


def _sheet(path: Path) -> Columns:
    t = pd.read_excel(path, sheet_name="Sunday")
    return t["Seconds"], t["Amps"], t["Volts"]


def _ragged(path: Path) -> Columns:
    t, v, i = _found(path, r"^(\d+),([\d.]+),([\d.]+)")
    return t, i, v


def _phone(path: Path) -> Columns:
    t = _rows(path)
    return _seconds(t[0].str.split(" ").str[1]), -t[2], t[1]


def _plain(
    t: int, i: int, v: int, *, sep: str = ",", unit: tuple[float, float, float] = (1, 1, 1), **more: Any
) -> Callable[[Path], Columns]:
    """Columns by number, each multiplied by its unit; times of day become seconds."""

    def read(path: Path) -> Columns:
        table = _rows(path, sep, **more)
        time = table[t] if pd.api.types.is_numeric_dtype(table[t]) else _seconds(table[t])
        return time * unit[0], table[i] * unit[1], table[v] * unit[2]

    return read


BY_HAND: dict[str, Callable[[Path], Columns]] = {
    "terminal_arrow.txt": _terminal,
    "key_value.log": lambda path: tuple(_found(path, r"t=(.*?)s u=(.*?)V i=(.*?)A")[[0, 2, 1]]),  # type: ignore[return-value]
    "json_lines.jsonl": _json,
    "interval_comment.csv": lambda path: (lambda t: (60.0 * t.index, t[1], t[0]))(
        _rows(path, ";", skiprows=1)
    ),
    "no_titles.txt": _plain(0, 2, 4, sep=" ", head=None, unit=(0.5, 1, 1)),
    "no_time.csv": lambda path: (lambda t: (2.0 * t.index, t[1], t[0]))(_rows(path)),
    "ragged_events.csv": _ragged,
    "glitches.tsv": _glitches,
    "two_sheets.xlsx": _sheet,
    "midnight.csv": _plain(0, 2, 1),
    "minutes_wrap.txt": lambda path: (lambda t: (_seconds(t[0], 3600.0), t[2], t[1]))(_rows(path, ";")),
    "steps_back.csv": _steps_back,
    "minutes_by_counter.csv": _plain(0, 2, 1, sep=";", unit=(60, 1, 1)),
    "step_and_total.csv": _plain(2, 4, 3, unit=(1, -1, 1)),
    "tick_wrap.csv": _ticks,
    "meter_preamble.txt": _plain(0, 2, 1, sep="\t", skiprows=6, encoding="utf-16", unit=(2, 1, 1)),
    "tester_states.csv": _states,
    "radio_link.csv": _plain(0, 5, 4),
    "counter_unit.csv": _plain(0, 2, 1, unit=(1, 1e-3, 1e-3)),
    "solar_box.csv": _plain(0, 4, 3, sep=";"),
    "phone_cells.csv": _phone,
    "cells_only.csv": _cells,
    "raw_and_calibrated.csv": _plain(0, 3, 4),
    "scope_trace.csv": _plain(0, 2, 1, skiprows=[1]),
    "gauge_unsigned.csv": _gauge,
    "zero_error.csv": _zero,
    "two_currents.csv": _plain(0, 3, 1),
    "motor_and_battery.csv": _plain(0, 4, 3, unit=(1e-3, 1, 1)),
    "set_and_measured.csv": _plain(0, 4, 3),
    "home_history.csv": _history,
    "mixed_rate.csv": _plain(0, 2, 1, skiprows=1),
}


@pytest.fixture(scope="module")
def contradicting(tmp_path_factory: pytest.TempPathFactory) -> list[Contradiction]:
    return contradictions(tmp_path_factory.mktemp("contradictions"))


@pytest.mark.parametrize("name", BY_HAND)
def test_the_file_says_what_its_truth_says(name: str, written: dict[str, HobbyFile]) -> None:
    columns = (np.asarray(x, float) for x in BY_HAND[name](written[name].path))
    got, truth = figures(*columns), written[name].truth
    assert truth is not None
    for figure in Figures.__dataclass_fields__:
        assert getattr(got, figure) == pytest.approx(getattr(truth, figure), rel=0.01), figure


def test_sizes_are_those_of_hobby_logs(written: dict[str, HobbyFile]) -> None:
    for file in written.values():
        if file.path.suffix in (".gz", ".xlsx"):
            continue
        lines = file.path.read_bytes().replace(b"\0", b"").splitlines()
        lying = max(line.count(b",") for line in lines)  # one quantity per line, or a document of one line
        assert 20 <= (len(lines) if len(lines) >= 20 else lying) <= 3000, file.name


def test_every_contradiction_says_what_should_come_of_it(contradicting: list[Contradiction]) -> None:
    assert len({each.name for each in contradicting}) == len(contradicting) == 20
    for each in contradicting:
        assert all(path.is_file() for path in each.paths), each.name
        assert (each.truth is not None) == (each.expected == "settled"), each.name
        assert bool(each.words) == (each.expected != "settled"), each.name
