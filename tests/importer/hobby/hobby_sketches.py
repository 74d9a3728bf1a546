"""What small programs on a microcontroller print, and what a terminal adds. All readings are invented."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from hobby_mow import HobbyFile, Writer, clock, put, true_mow


def millis_units(folder: Path) -> HobbyFile:
    mow = true_mow(101, minutes=12)
    lines = ["# mower logger, build 14", "millis,bus_mV,current_mA,power_mW"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        ms = 2417 + round(1000 * t) + round(4 * np.sin(t))
        lines.append(f"{ms},{1000 * v:.0f},{1000 * i:.1f},{1000 * i * v:.0f}")
    path = put(folder / "millis_units.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "units in every title, clock in ms since switched on")


def terminal_arrow(folder: Path) -> HobbyFile:
    mow = true_mow(102, minutes=9, mean_a=6.0)
    lines = ["14:02:58.004 -> logger ready"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{clock(50580 + t + 0.003 * np.cos(t), 3)} -> {v:.2f} V {i:.2f} A")
    path = put(folder / "terminal_arrow.txt", lines)
    return HobbyFile(path.name, path, mow.figures, "stamp before an arrow, a unit after each number")


def key_value(folder: Path) -> HobbyFile:
    mow = true_mow(103, minutes=15, step_s=2)
    lines = []
    for t, i, v, q in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, strict=True):
        lines.append(f"t={t:.1f}s u={v:.2f}V i={i:.2f}A q={1000 * q:.0f}mAh fet=31C ok")
    path = put(folder / "key_value.log", lines, newline="\n")
    return HobbyFile(path.name, path, mow.figures, "name=number with its unit; the counter agrees")


def json_lines(folder: Path) -> HobbyFile:
    mow = true_mow(104, minutes=10)
    lines = []
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        row = {"at": 1749897600123 + round(1000 * t), "pack": {"volts": round(v, 3), "amps": round(i, 3)}}
        lines.append(json.dumps(row | {"heap": 21840 - round(t) % 512}))
    path = put(folder / "json_lines.jsonl", lines, newline="\n")
    return HobbyFile(path.name, path, mow.figures, "one object a line, readings nested, epoch in ms")


def interval_comment(folder: Path) -> HobbyFile:
    mow = true_mow(105, minutes=25, step_s=60, rest_s=120)
    lines = ["# one reading every 60 s", "volts;amps"]
    lines += [f"{v:.2f};{i:.2f}" for i, v in zip(mow.current_a, mow.voltage_v, strict=True)]
    path = put(folder / "interval_comment.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "no clock, but the comment tells the interval")


def no_titles(folder: Path) -> HobbyFile:
    mow = true_mow(106, minutes=8, step_s=0.5)
    lines = [
        f"{600 + t / 0.5:.0f} {31.5 + t / 900:.1f} {i:.2f} {12.1 + 0.4 * np.sin(t / 70):.2f} {v:.2f}"
        for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)
    ]
    path = put(folder / "no_titles.txt", lines)
    why = "no titles: a count, two numbers of about 12 and 31, and no word on the interval"
    options = {"columns": {"current": "3[A]", "voltage": "5[V]"}, "interval_s": 0.5}
    return HobbyFile(path.name, path, mow.figures, why, options)


def no_titles_units(folder: Path) -> HobbyFile:
    mow = true_mow(107, minutes=14, step_s=2)
    lines = [
        f"{clock(t)}, {v:.2f}V, {i:.2f}A, {v * i:.0f}W"
        for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)
    ]
    path = put(folder / "no_titles_units.txt", lines)
    return HobbyFile(path.name, path, mow.figures, "no titles, but a unit on every number")


def no_time(folder: Path) -> HobbyFile:
    mow = true_mow(108, minutes=16, step_s=2)
    lines = ["pack volts,pack amps"]
    lines += [f"{v:.2f},{i:.2f}" for i, v in zip(mow.current_a, mow.voltage_v, strict=True)]
    path = put(folder / "no_time.csv", lines)
    why = "no clock and no word on the interval"
    return HobbyFile(path.name, path, mow.figures, why, {"interval_s": 2})


def ragged_events(folder: Path) -> HobbyFile:
    mow = true_mow(109, minutes=11)
    lines = ["Elapsed s,Battery V,Motor A,Remark"]
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        if k % 150 == 75:
            lines.append("-- reel engaged --" if k % 300 == 75 else "-- grass box emptied --")
        remark = ",apple rows" if k % 37 == 5 else ("," if k % 3 else "")
        lines.append(f"{t:.0f},{v:.2f},{i:.2f}{remark}")
    lines.append(f"{mow.time_s[-1] + 1:.0f},5")
    path = put(folder / "ragged_events.csv", lines)
    return HobbyFile(
        path.name, path, mow.figures, "remarks between the rows, rows of 3 and 4 cells, last one cut"
    )


def glitches(folder: Path) -> HobbyFile:
    mow = true_mow(110, minutes=22)
    lines = ["sec\tvolt\tamp"]
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        amp = "65535" if k % 290 == 130 else f"{i:.2f}"
        volt = "-1" if k % 410 == 200 else f"{v:.2f}"
        lines.append(f"{t:.0f}\t{volt}\t{amp}")
    path = put(folder / "glitches.tsv", lines)
    why = "five readings of 65535 A and three of -1 V between sound neighbours are no readings"
    return HobbyFile(path.name, path, mow.figures, why)


SKETCHES: tuple[Writer, ...] = (
    millis_units,
    terminal_arrow,
    key_value,
    json_lines,
    interval_comment,
    no_titles,
    no_titles_units,
    no_time,
    ragged_events,
    glitches,
)
