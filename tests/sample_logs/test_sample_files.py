"""The sample logs agree with the truth of their own generator, and can be made again."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid

FOLDER = Path(__file__).parents[2] / "sample_logs"
MAKER = FOLDER / "generate.py"
DIARY = list(csv.DictReader((FOLDER / "mows.csv").read_text().splitlines()))
TRUTH = {t["mow"]: t for t in csv.DictReader((FOLDER / "truth" / "mows.csv").read_text().splitlines())}


def bare_rows(name: str) -> np.ndarray:
    """Time [s], amps and volts of a sample file, read without the estimator."""
    text = (FOLDER / name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line]
    if lines[0].startswith("Shed recorder"):
        lines = lines[2:]
    head, body = lines[0], lines[1:]
    split = ";" if ";" in head else "\t" if "\t" in head else ","
    rows = []
    for line in body:
        cells = line.split(split)
        if split == ";":
            when = datetime.strptime(cells[0], "%d.%m.%Y %H:%M:%S").timestamp()
            rows.append((when, float(cells[1].replace(",", ".")), float(cells[2].replace(",", "."))))
        elif split == "\t":
            when = datetime.fromisoformat(f"{cells[0]} {cells[1]}").timestamp()
            rows.append((when, float(cells[2]) / 1000, float(cells[3])))
        elif head.startswith("elapsed_s"):
            rows.append((float(cells[0]), float(cells[2]), float(cells[1])))
        elif head.startswith("Elapsed"):
            h, m, s = (int(x) for x in cells[0].split(":"))
            rows.append((h * 3600.0 + m * 60 + s, float(cells[1]), float(cells[2])))
        elif head.startswith("No,"):
            when = datetime.fromisoformat(cells[1]).timestamp()
            rows.append((when, float(cells[3].removesuffix(" A")), float(cells[2].removesuffix(" V"))))
        else:
            rows.append((datetime.fromisoformat(cells[0]).timestamp(), float(cells[1]), float(cells[2])))
    out = np.array(rows)
    out[:, 0] -= out[0, 0]
    return out


LOGGED = [d for d in DIARY if ";" not in d["files"] and "notes" not in d["files"]]


@pytest.mark.parametrize("mow", [d["mow"] for d in LOGGED])
def test_charge_by_trapezoid_agrees_with_the_truth(mow: str) -> None:
    line = next(d for d in DIARY if d["mow"] == mow)
    truth = TRUTH[mow]
    t, a, v = bare_rows(line["files"]).T
    sign = -1.0 if mow == "2025-06-14a" else 1.0
    seen_ah = float(trapezoid(sign * a, t)) / 3600
    zero_ah = float(truth["clamp_zero_a"]) * t[-1] / 3600
    expected_ah = float(truth["used_ah"]) * float(truth["clamp_gain"]) + zero_ah
    # What remains is noise, and that a bumpy load is sampled only every 1 or 2 s.
    assert seen_ah == pytest.approx(expected_ah, rel=0.006 if t[1] < 1.5 else 0.01, abs=0.002)
    # The raw figure is within what a clamp of ± 0.35 A and ± 2.5 % may be wrong by.
    assert abs(seen_ah - float(truth["used_ah"])) < 0.025 * seen_ah + 0.35 * t[-1] / 3600
    mean_v = float(trapezoid(sign * a * v, t) / trapezoid(sign * a, t))
    assert mean_v == pytest.approx(float(truth["used_wh"]) / float(truth["used_ah"]), rel=0.02)


@pytest.mark.parametrize("mow", [d["mow"] for d in DIARY])
def test_truth_curve_is_consistent(mow: str) -> None:
    table = np.genfromtxt(FOLDER / "truth" / f"{mow}.csv", delimiter=",", names=True)
    truth = TRUTH[mow]
    drawn = (table["charge"][0] - table["charge"]) * float(truth["capacity_ah"])
    assert np.allclose(drawn, table["used_ah"], atol=2e-3)
    assert np.all(np.diff(table["charge"]) <= 1e-9)
    assert table["charge"][-1] == pytest.approx(float(truth["end_charge"]), abs=1e-4)


def test_the_diary_covers_what_it_should() -> None:
    assert {d["started"][:4] for d in DIARY} == {"2024", "2025"}
    assert {d["moisture"] for d in DIARY} == {"dry", "damp", "wet"}
    assert {d["pack"] for d in DIARY} == {"green crate", "old box"}
    growth = [float(d["growth_mm"]) for d in DIARY]
    assert min(growth) <= 12 and max(growth) >= 38
    assert sum("rear roller off" in d["tags"] for d in DIARY) >= 4
    assert sum(t["stopped_s"] != "" for t in TRUTH.values()) >= 4
    named = {name for d in DIARY for name in d["files"].split(";")}
    on_disk = {p.name for p in FOLDER.iterdir() if re.match(r"20\d\d-", p.name)}
    assert named == on_disk


def test_the_packs_age_in_the_truth() -> None:
    for pack in ("green crate", "old box"):
        mows = [TRUTH[d["mow"]] for d in DIARY if d["pack"] == pack]
        capacity = [float(t["capacity_ah"]) for t in mows]
        ohms = [float(t["resistance_10s_ohm"]) for t in mows]
        assert capacity == sorted(capacity, reverse=True) and capacity[-1] < 0.95 * capacity[0]
        assert ohms == sorted(ohms) and ohms[-1] > 1.15 * ohms[0]


def test_peaks_and_idle_are_of_the_usual_size() -> None:
    for d in LOGGED:
        _, a, v = bare_rows(d["files"]).T
        power = np.abs(a * v)
        working = power[power > 30]
        assert 45 < np.percentile(working, 2) < 130, d["mow"]
        assert power.max() < 700, d["mow"]
    assert sum(np.max(np.abs(r[:, 1] * r[:, 2])) > 500 for r in (bare_rows(d["files"]) for d in LOGGED)) > 10


@pytest.mark.parametrize("mow", ["2024-05-18b", "2024-07-06a", "2024-08-31a", "2025-08-30a"])
def test_made_again_the_bytes_are_the_same(mow: str, tmp_path: Path) -> None:
    command = [sys.executable, "-B", str(MAKER), "--folder", str(tmp_path), "--only", mow]
    subprocess.run(command, check=True)
    names = next(d["files"] for d in DIARY if d["mow"] == mow).split(";")
    for name in [*names, f"truth/{mow}.csv"]:
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes()


def test_it_says_that_it_is_invented() -> None:
    text = " ".join((FOLDER / "README.md").read_text(encoding="utf-8").split())
    assert "**All of it is invented.**" in text
    assert "python sample_logs/generate.py" in text
    for name in [p.name for p in (FOLDER / "broken").iterdir()]:
        assert f"`{name}`" in text
    assert "made up" in json.loads((FOLDER / "orchard.json").read_text())["invented"]


def test_the_generator_stands_on_its_own() -> None:
    for source in FOLDER.glob("*.py"):
        assert not re.search(r"^\s*(import|from) estimator", source.read_text(), flags=re.MULTILINE)


def test_the_folder_stays_small() -> None:
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 4_000_000
