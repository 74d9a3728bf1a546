"""Histories, mixed rates, and files without anything to read. All readings are invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hobby_mow import HobbyFile, Writer, clock, comma, put, true_mow


def home_history(folder: Path) -> HobbyFile:
    mow = true_mow(501, minutes=15, step_s=2)
    rows = []
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        at = 28_800 + t
        rows.append((at, f'"shed/mower amps","{i:.2f}"'))
        rows.append((at + 0.4, f'"shed/mower volts","{"unknown" if k % 120 == 60 else f"{v:.2f}"}"'))
        if k % 30 == 0:
            rows.append((at + 0.7, f'"shed/air temperature","{18 + t / 900:.1f}"'))
    lines = ['"series","reading","at"']
    lines += [f'{cells},"2025-06-15T{clock(at, 3)}+02:00"' for at, cells in rows]
    path = put(folder / "home_history.csv", lines, newline="\n")
    return HobbyFile(path.name, path, mow.figures, "one reading a line, each series with its own stamps")


def pivot(folder: Path) -> HobbyFile:
    mow = true_mow(502, minutes=19, step_s=3)
    lines = ["zeit;sensor;wert;einheit"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        for name, value, unit in (("U_Akku", 1000 * v, "mV"), ("I_Akku", 1000 * i, "mA")):
            lines.append(f"{clock(50_000 + t)};{name};{comma(value, 1)};{unit}")
    path = put(folder / "pivot.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "time, sensor, value and unit, one measurement a line")


def mixed_rate(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 2401, 1.0)
    shape = true_mow(503, minutes=40, rest_s=0).current_a
    turning = (time_s > 500) & (time_s < 1100) | (time_s > 1500) & (time_s < 1860)
    flow = np.where(turning, 1.5, shape)
    flow[:60] = flow[-60:] = 0.0
    mow = true_mow(504, minutes=40, rest_s=0, current_a=flow)
    changes = np.abs(np.diff(flow, prepend=0, append=0)) > 0.01
    keep = ~turning | (time_s % 120 == 0) | changes[:-1] | changes[1:]
    lines = ["# stores a reading each second, and each 120 s while neither volts nor amps change"]
    lines += ["seconds,volts,amps"]
    for t, i, v in zip(*(x[keep] for x in (mow.time_s, mow.current_a, mow.voltage_v)), strict=True):
        lines.append(f"{t:.0f},{v:.2f},{i:.2f}")
    path = put(folder / "mixed_rate.csv", lines)
    why = "long steps are no gaps where the comment says that nothing changed"
    return HobbyFile(path.name, path, mow.part(keep).figures, why, {"gap_s": 150})


def charger(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 6001, 10.0)
    flow = -np.where(time_s < 4200, 3.0, 3.0 * np.exp(-(time_s - 4200) / 900))
    mow = true_mow(505, minutes=100, rest_s=0, step_s=10, start=0.5, current_a=flow)
    lines = ["Elapsed,Voltage (V),Current (A),Charged (Ah)"]
    for t, i, v, q in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, strict=True):
        lines.append(f"{clock(t)},{v:.2f},{-i:.2f},{-q:.3f}")
    path = put(folder / "charger.csv", lines)
    return HobbyFile(path.name, path, None, "the counter says charged, volts rise to the end, amps tail off")


def volts_only(folder: Path) -> HobbyFile:
    mow = true_mow(506, minutes=10)
    lines = ["Time (s),Pack (V),Case (V),Temperature (C)"]
    for t, v in zip(mow.time_s, mow.voltage_v, strict=True):
        lines.append(f"{t:.0f},{v:.2f},{0.02 * np.sin(t):.2f},{20 + t / 200:.1f}")
    path = put(folder / "volts_only.csv", lines)
    return HobbyFile(path.name, path, None, "no current")


def mains(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 3600, 10.0)
    lines = ["time,mains V AC,A AC,cos phi"]
    lines += [
        f"{clock(64_800 + t)},{231 + 1.5 * np.sin(t / 300):.1f},{1.1 + 0.6 * (t % 900 < 400):.2f},0.93"
        for t in time_s
    ]
    path = put(folder / "mains.csv", lines)
    return HobbyFile(path.name, path, None, "alternating current of a house: no battery")


def cycles(folder: Path) -> HobbyFile:
    lines = ["Cycle;Charge (mAh);Discharge (mAh);Mean V;Mean A;Minutes"]
    lines += [
        f"{n};{9910 - 9 * n};{9850 - 9 * n};{47.3 - 0.004 * n:.2f};5.00;{118 - 0.1 * n:.1f}"
        for n in range(1, 41)
    ]
    path = put(folder / "cycles.csv", lines)
    return HobbyFile(path.name, path, None, "one row a cycle: sums and means, no course of time")


def harvest(folder: Path) -> HobbyFile:
    lines = ["Date,Apples (kg),Volunteers,Ladders"]
    lines += [f"2025-09-{d:02d},{40 + 13 * d % 57},{2 + d % 5},{1 + d % 3}" for d in range(1, 29)]
    path = put(folder / "harvest.csv", lines)
    return HobbyFile(path.name, path, None, "a list of apples: no volts, no amps")


def idle_pack(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 1801, 3.0)
    mow = true_mow(507, minutes=30, rest_s=0, step_s=3, current_a=np.zeros(time_s.size))
    noise = np.random.default_rng(508).normal(scale=0.012, size=time_s.size)
    lines = ["s,V,A"]
    lines += [f"{t:.0f},{v:.2f},{i:.2f}" for t, v, i in zip(time_s, mow.voltage_v, noise, strict=True)]
    path = put(folder / "idle_pack.csv", lines)
    return HobbyFile(path.name, path, None, "a clamp around a cable in which nothing flows: noise only")


HISTORIES: tuple[Writer, ...] = (
    home_history,
    pivot,
    mixed_rate,
    charger,
    volts_only,
    mains,
    cycles,
    harvest,
    idle_pack,
)
