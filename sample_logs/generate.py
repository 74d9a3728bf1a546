"""Make the sample logs again: two seasons of an orchard that does not exist.

    python sample_logs/generate.py                       # in the folder of this file
    python sample_logs/generate.py --folder elsewhere    # somewhere else
    python sample_logs/generate.py --only 2024-05-04a    # one mow only

The bytes are the same every time. Everything is invented: village, lawns, packs and every reading.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from invented_meters import FORMS, amps_only, meter_of_the_day, read_off, spot_notes, volts_only
from invented_mowing import AREA_M2, STEP_S, outing
from invented_orchard import BLADE_CARE, DIARY, FIRST_CHARGE, GREEN, OFF, ORCHARD, Planned
from invented_packs import Course, InventedPack, discharge, lfp_pack, nmc_pack, pulse_ohm

TRUTH_EVERY_S = 20.0


@dataclass(frozen=True)
class Made:
    """The files of one mow, and the line that says what was true."""

    files: dict[str, bytes]
    curve: str
    truth: dict[str, object]


def _rng(name: str, what: str) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(zlib.crc32(f"{name} {what}".encode())))


def _pack(plan: Planned) -> InventedPack:
    years = (plan.day - FIRST_CHARGE).days / 365.0
    return nmc_pack(years) if plan.pack == GREEN else lfp_pack(years)


def _course(plan: Planned, pack: InventedPack, power_w: np.ndarray) -> Course:
    """What really happened; where the pack is to run empty, with the start charge that makes it do so."""
    if plan.stops_at is None:
        return discharge(pack, power_w, STEP_S, 1.0, plan.air_c)
    working = np.flatnonzero(power_w > 10.0)
    wanted_s = STEP_S * (working[0] + plan.stops_at * (working[-1] - working[0]))
    low, high = 0.03, 1.0
    for _ in range(12):
        middle = (low + high) / 2
        stopped_s = discharge(pack, power_w, STEP_S, middle, plan.air_c).stopped_s
        low, high = (middle, high) if stopped_s is not None and stopped_s < wanted_s else (low, middle)
    return discharge(pack, power_w, STEP_S, low, plan.air_c)


def make(plan: Planned) -> Made:
    """Mow as planned, follow the pack, read the meters, and write down what was true."""
    blunt_days = (plan.day - max(d for d in BLADE_CARE if d <= plan.day)).days
    load = outing(
        plan.lawn, plan.moisture, plan.growth_mm, blunt_days, OFF not in plan.tags, _rng(plan.name, "grass")
    )
    pack = _pack(plan)
    course = _course(plan, pack, load.power_w)
    if course.stopped_s is not None:
        end = int((course.stopped_s + 60.0) / STEP_S)
        course = course.first(end)
    meter = meter_of_the_day(_rng(plan.name, "meter"))
    rows = read_off(course, meter, plan.every_s, _rng(plan.name, "readings"))
    working = course.current_a * course.voltage_v > 10.0
    minutes = float(np.count_nonzero(working) * STEP_S / 60.0)

    offset_s = drift_ppm = 0.0
    if plan.form == "two meters":
        offset_s, drift_ppm = 37.4, 60.0
        files = {
            f"{plan.name}-amps.csv": amps_only(rows, plan.when),
            f"{plan.name}-volts.csv": volts_only(rows.by_other_clock(offset_s, drift_ppm), plan.when),
        }
    elif plan.form == "spot notes":
        idle_a = load.idle_w / float(np.median(course.voltage_v))
        files = {f"{plan.name}-notes.csv": spot_notes(rows, idle_a, minutes)}
    else:
        ending, write = FORMS[plan.form]
        files = {f"{plan.name}{ending}": write(rows, plan.when)}

    every = round(TRUTH_EVERY_S / STEP_S)
    at = np.unique(np.r_[np.arange(0, len(course.time_s), every), len(course.time_s) - 1])
    curve = "\n".join([
        "time_s,charge,used_ah,used_wh,temperature_c",
        *(f"{course.time_s[i]:g},{course.charge[i]:.5f},{course.used_ah[i]:.4f},{course.used_wh[i]:.3f},"
          f"{course.temperature_c[i]:.2f}" for i in at), "",
    ])  # fmt: skip
    done = 1.0 if course.stopped_s is None else float(plan.stops_at or 1.0)
    truth: dict[str, object] = {
        "mow": plan.name, "start_charge": f"{course.charge[0]:.4f}", "end_charge": f"{course.charge[-1]:.4f}",
        "used_ah": f"{course.used_ah[-1]:.4f}", "used_wh": f"{course.used_wh[-1]:.2f}",
        "mowing_minutes": f"{minutes:.2f}",
        "stopped_s": "" if course.stopped_s is None else f"{course.stopped_s:g}",
        "capacity_ah": f"{pack.capacity_ah:.4f}", "resistance_10s_ohm": f"{pulse_ohm(pack):.5f}",
        "idle_w": f"{load.idle_w:.2f}", "cut_j_m2": f"{load.cut_j_m2:.1f}",
        "area_mown_m2": f"{done * AREA_M2[plan.lawn]:.1f}",
        "clamp_zero_a": f"{float(np.mean(meter.zero_at(course.time_s))):.4f}",
        "clamp_gain": f"{meter.current_gain:.5f}",
        "volts_gain": f"{meter.voltage_gain:.5f}", "volts_clock_ahead_s": f"{offset_s:g}",
        "volts_clock_ppm": f"{drift_ppm:g}",
    }  # fmt: skip
    return Made({name: text.encode() for name, text in files.items()}, curve, truth)


def broken_files() -> dict[str, bytes]:
    """Files that should each be refused with one clear line."""
    head = "time,current [A],voltage [V]\n"
    rows = [
        f"2025-05-03T09:{20 + i // 60:02d}:{i % 60:02d},{4.1 + 0.1 * (i % 7):.2f},{52.0 - 0.002 * i:.2f}\n"
        for i in range(300)
    ]
    back = [*rows[:200], rows[120], *rows[200:]]
    words = [*rows[:150], "2025-05-03T09:22:30,four and a bit,51.70\n", *rows[151:]]
    return {
        "empty.csv": b"",
        "heading_only.csv": head.encode(),
        "wrong_columns.csv": ("day,weather,baskets\n" + "saturday,fair,many\n" * 20).encode(),
        "no_current.csv": (
            "time,voltage [V]\n" + "".join(f"{r.split(',')[0]},{r.split(',')[2]}" for r in rows)
        ).encode(),
        "words_in_numbers.csv": (head + "".join(words)).encode(),
        "time_goes_back.csv": (head + "".join(back)).encode(),
        "overload_throughout.csv": (
            head + "".join(f"{r.split(',')[0]},OL,{r.split(',')[2]}" for r in rows)
        ).encode(),
        "picture.csv": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4,
    }


def _table(rows: list[dict[str, object]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def diary_line(plan: Planned, files: list[str]) -> dict[str, object]:
    """What the volunteers wrote down about one mow."""
    return {
        "mow": plan.name, "started": plan.when.isoformat(), "lawn": plan.lawn, "moisture": plan.moisture,
        "growth_mm": f"{plan.growth_mm:g}", "pack": plan.pack, "machine": "cylinder mower",
        "start_charge": "" if plan.start_charge is None else f"{plan.start_charge:g}",
        "temperature_c": f"{plan.air_c:g}", "tags": ";".join(plan.tags), "files": ";".join(files),
    }  # fmt: skip


def write_all(folder: Path, only: str | None = None) -> None:
    """Write all files to the folder, or only those of one mow."""
    plans = [p for p in DIARY if only in (None, p.name)]
    if not plans:
        raise SystemExit(f"no mow is called {only}")
    diary, truths = [], []
    for place in ("truth", "broken"):
        (folder / place).mkdir(parents=True, exist_ok=True)
    for plan in plans:
        made = make(plan)
        for name, data in made.files.items():
            (folder / name).write_bytes(data)
        (folder / "truth" / f"{plan.name}.csv").write_bytes(made.curve.encode())
        diary.append(diary_line(plan, list(made.files)))
        truths.append(made.truth)
    if only is None:
        (folder / "mows.csv").write_bytes(_table(diary))
        (folder / "truth" / "mows.csv").write_bytes(_table(truths))
        (folder / "orchard.json").write_bytes((json.dumps(ORCHARD, indent=1) + "\n").encode())
        for name, data in broken_files().items():
            (folder / "broken" / name).write_bytes(data)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--folder", type=Path, default=Path(__file__).parent, help="where the files go")
    parser.add_argument("--only", metavar="MOW", help="this mow's files alone, such as 2024-05-04a")
    given = parser.parse_args()
    write_all(given.folder, given.only)
