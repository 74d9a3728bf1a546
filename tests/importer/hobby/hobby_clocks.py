"""Clocks that wrap, step back, restart or count in their own unit. All readings invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hobby_mow import HobbyFile, Writer, clock, put, true_mow


def epoch_us(folder: Path) -> HobbyFile:
    mow = true_mow(301, minutes=7, step_s=0.5, mean_a=6.5)
    lines = ['"stamp","battery_voltage","battery_current"']
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f'"{1749897600_000000 + round(1e6 * t)}","{v:.3f}","{i:.3f}"')
    path = put(folder / "epoch_us.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "microseconds since 1970, every cell quoted")


def midnight(folder: Path) -> HobbyFile:
    mow = true_mow(302, minutes=24, step_s=2)
    lines = ["Clock,Battery V,Battery A"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{clock(85_500 + t)},{v:.2f},{i:.2f}")
    path = put(folder / "midnight.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "a time of day that passes midnight")


def minutes_wrap(folder: Path) -> HobbyFile:
    mow = true_mow(303, minutes=21, step_s=3)
    lines = ["mm:ss;Volt;Ampere"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{clock(2880 + t)[3:]};{v:.2f};{i:.2f}")
    path = put(folder / "minutes_wrap.txt", lines)
    return HobbyFile(path.name, path, mow.figures, "minutes and seconds start again after 59:59")


def steps_back(folder: Path) -> HobbyFile:
    mow = true_mow(304, minutes=18)
    told = mow.time_s + 36_000.0
    for k, back in ((260, 1.0), (640, 2.0), (990, 1.0)):
        told[k:] -= back
    lines = ["Time,Volts,Amps"]
    for t, i, v in zip(told, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"2025-06-21 {clock(t)},{v:.2f},{i:.2f}")
    path = put(folder / "steps_back.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "a clock set back by a second or two while it ran")


def stacked(folder: Path) -> HobbyFile:
    lines = []
    for seed, start in ((305, 0.98), (306, 0.93), (307, 0.99)):
        mow = true_mow(seed, minutes=5, start=start)
        lines += ["Seconds,Volts,Amps"]
        for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
            lines.append(f"{t:.0f},{v:.2f},{i:.2f}")
    path = put(folder / "stacked.csv", lines)
    why = "three recordings below each other, each from 0 s, one of them on a pack charged anew: not one mow"
    return HobbyFile(path.name, path, None, why)


def minutes_by_counter(folder: Path) -> HobbyFile:
    mow = true_mow(308, minutes=32, step_s=3, mean_a=5.2)
    lines = ["t;U;I;Q[mAh];E[Wh]"]
    for t, i, v, q, e in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, mow.used_wh, strict=True):
        lines.append(f"{t / 60:.3f};{v:.2f};{i:.2f};{1000 * q:.1f};{e:.3f}")
    path = put(folder / "minutes_by_counter.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "the time has no unit; the counter says minutes")


def step_and_total(folder: Path) -> HobbyFile:
    mow = true_mow(309, minutes=26, step_s=2)
    lines = ["Step,Step time (s),Total time (s),Voltage (V),Current (A),Capacity (Ah)"]
    begins = np.array([0.0, 76.0, 700.0, 76.0 + 26 * 60.0])
    step = np.searchsorted(begins, mow.time_s, side="right")
    for s, t, i, v, q in zip(step, mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, strict=True):
        within = t - begins[s - 1]
        lines.append(f"{s},{within:.1f},{t:.1f},{v:.3f},{-i:.3f},{-q:.4f}")
    path = put(folder / "step_and_total.csv", lines)
    why = (
        "one clock restarts with each step, the other does not; what flows out is negative, volts sag with it"
    )
    return HobbyFile(path.name, path, mow.figures, why)


def tick_wrap(folder: Path) -> HobbyFile:
    mow = true_mow(310, minutes=16)
    lines = ["tick (10 ms),V,mA"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{(41_200 + round(100 * t)) % 65536},{v:.2f},{1000 * i:.0f}")
    path = put(folder / "tick_wrap.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "a count of 10 ms in 16 bits that passes 65535 to 0")


CLOCKS: tuple[Writer, ...] = (
    epoch_us,
    midnight,
    minutes_wrap,
    steps_back,
    stacked,
    minutes_by_counter,
    step_and_total,
    tick_wrap,
)
