"""What testers, meters, receivers and battery management export. All readings invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hobby_mow import HobbyFile, Writer, cell_volts, clock, put, true_mow


def meter_preamble(folder: Path) -> HobbyFile:
    mow = true_mow(401, minutes=20, step_s=2)
    lines = ["Two-channel recording", "Sampling interval:\t2.0 s", f"Samples:\t{mow.time_s.size}"]
    lines += ["Channel A:\tDC V", "Channel B:\tDC A (clamp)", "", "No.\tA\tB"]
    for k, (i, v) in enumerate(zip(mow.current_a, mow.voltage_v, strict=True), start=1):
        lines.append(f"{k}\t{v:.2f}\t{i:.2f}")
    path = put(folder / "meter_preamble.txt", lines, encoding="utf-16")
    return HobbyFile(
        path.name, path, mow.figures, "interval and what the channels measure stand above the table"
    )


def tester_states(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 3901, 5.0)
    flow = np.select([time_s < 60, time_s < 1260, time_s < 1500, time_s < 3600], [0, -2.0, 0, 5.0], 0.0)
    mow = true_mow(402, minutes=65, rest_s=0, step_s=5, start=0.8, current_a=flow)
    lines = ["Sec,State,Volt(V),Curr(A)"]
    for t, i, v in zip(mow.time_s, flow, mow.voltage_v, strict=True):
        state = "Discharge" if i > 0 else ("Charge" if i < 0 else "Rest")
        lines.append(f"{t:.0f},{state},{v:.3f},{abs(i):.3f}")
    path = put(folder / "tester_states.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "amps without sign, the state says which way they flow")


def radio_link(folder: Path) -> HobbyFile:
    mow = true_mow(403, minutes=12, step_s=0.5, cells=6, mean_a=9.0)
    cells = cell_volts(mow)
    lines = ["Clock,Link(%),Lowest cell(V),Receiver(V),Pack(V),Draw(A),Used(mAh),Head(deg)"]
    for k, (t, i, v, q) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, strict=True)):
        lines.append(
            f"{clock(37_000 + t, 2)},{97 - k % 5},{cells[k].min():.2f},{5.02 + 0.01 * (k % 3):.2f},"
            f"{v:.2f},{i:.2f},{1000 * q:.0f},{(k * 7) % 360}"
        )
    path = put(folder / "radio_link.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "the receiver's volts and one cell's beside the pack's")


def counter_unit(folder: Path) -> HobbyFile:
    mow = true_mow(404, minutes=25, step_s=3, mean_a=5.0)
    lines = ["secs,U,I,mAh"]
    for t, i, v, q in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, strict=True):
        lines.append(f"{t:.0f},{1000 * v:.0f},{1000 * i:.0f},{1000 * q:.0f}")
    path = put(folder / "counter_unit.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "no unit at U and I; the counter beside them says mA")


def solar_box(folder: Path) -> HobbyFile:
    mow = true_mow(405, minutes=30, step_s=5, cells=7, mean_a=7.0)
    lines = ["Time;Panel V;Panel A;Battery V;Load A;Load W"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{clock(72_000 + t)};{3.1 - t / 2000:.1f};0.00;{v:.2f};{i:.2f};{i * v:.1f}")
    path = put(folder / "solar_box.csv", lines)
    why = "the panel gives nothing after sunset; load watts are battery volts times load amps"
    return HobbyFile(path.name, path, mow.figures, why)


def phone_cells(folder: Path) -> HobbyFile:
    mow = true_mow(406, minutes=22, step_s=4)
    cells = cell_volts(mow)
    names = ",".join(f"C{n}(mV)" for n in range(1, 14))
    lines = [f"Date,Total(V),Current(A),Charge(%),MOS(C),{names}"]
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        parts = ",".join(f"{1000 * c:.0f}" for c in cells[k])
        gauge = f"{100 * mow.charge_left[k]:.0f},{24 + t // 300:.0f}"
        lines.append(f"2025/06/28 {clock(34_200 + t)},{v:.1f},{-i:.2f},{gauge},{parts}")
    path = put(folder / "phone_cells.csv", lines)
    return HobbyFile(
        path.name, path, mow.figures, "charging is positive: the gauge falls while amps are negative"
    )


def cells_only(folder: Path) -> HobbyFile:
    mow = true_mow(407, minutes=14, step_s=2, cells=10)
    cells = cell_volts(mow)
    lines = ["t [s]," + ",".join(f"Cell {n} [V]" for n in range(1, 11)) + ",Current [A]"]
    for k, (t, i) in enumerate(zip(mow.time_s, mow.current_a, strict=True)):
        lines.append(f"{t:.0f}," + ",".join(f"{c:.3f}" for c in cells[k]) + f",{i:.2f}")
    path = put(folder / "cells_only.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "ten cells one after another: the pack has their sum")


def raw_and_calibrated(folder: Path) -> HobbyFile:
    mow = true_mow(408, minutes=15)
    lines = ["time_s,current_raw,voltage_raw,current_cal,voltage_cal"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t:.0f},{512 + 6.4 * i:.0f},{v * 17.05:.0f},{i:.3f},{v:.3f}")
    path = put(folder / "raw_and_calibrated.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "counts of the converter beside calibrated readings")


def scope_trace(folder: Path) -> HobbyFile:
    mow = true_mow(409, minutes=4, step_s=0.1, rest_s=24.0, mean_a=6.0)
    lines = ["Axis,CH1,CH2", "Second,Volt,Ampere"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t - 24:.6e},{v:.4e},{i:.4e}")
    path = put(folder / "scope_trace.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "time from before the trigger, units below the titles")


def gauge_unsigned(folder: Path) -> HobbyFile:
    time_s = np.arange(0, 5401, 6.0)
    flow = np.select([time_s < 60, time_s < 2400, time_s < 2640, time_s < 5340], [0, -3.0, 0, 1], 0.0)
    shape = true_mow(410, minutes=90, rest_s=0, step_s=6, mean_a=5.0).current_a
    mow = true_mow(411, minutes=90, rest_s=0, step_s=6, start=0.70, current_a=np.where(flow > 0, shape, flow))
    lines = ["hms,volts,amps,charge %"]
    for t, i, v, left in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.charge_left, strict=True):
        lines.append(f"{clock(t)},{v:.2f},{abs(i):.2f},{100 * left:.1f}")
    path = put(folder / "gauge_unsigned.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "amps without sign: the gauge rises first, then falls")


def zero_error(folder: Path) -> HobbyFile:
    mow = true_mow(412, minutes=17)
    lines = ["s;A;V"]
    for k, (t, i, v) in enumerate(zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True)):
        volts = ("OL", "----", "NaN", "inf")[k // 90 % 4] if k % 90 == 11 else f"{v:.2f}"
        lines.append(f"{t:.0f};{i - 0.35:.2f};{volts}")
    path = put(folder / "zero_error.csv", lines)
    why = "the clamp shows -0.35 A while nothing runs, before and after; volts fail now and then"
    return HobbyFile(path.name, path, mow.figures, why)


def two_currents(folder: Path) -> HobbyFile:
    mow = true_mow(413, minutes=13)
    lines = ["time s,volts,amps 1,amps 2"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        phase = 1.9 * i * (1 + 0.1 * np.sin(t / 31))
        lines.append(f"{t:.0f},{v:.2f},{phase:.2f},{i:.2f}")
    path = put(folder / "two_currents.csv", lines)
    why = "two currents and no word on which of them leaves the pack"
    return HobbyFile(path.name, path, mow.figures, why, {"columns": {"current": "amps 2"}})


def motor_and_battery(folder: Path) -> HobbyFile:
    mow = true_mow(414, minutes=16, step_s=2)
    lines = ["time_ms,mot_u,mot_i,batt_u,batt_i,batt_w"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        duty = 0.55 + 0.1 * np.sin(t / 40)
        lines.append(f"{1000 * t:.0f},{v * duty:.2f},{0.93 * i / duty:.2f},{v:.2f},{i:.2f},{i * v:.1f}")
    path = put(folder / "motor_and_battery.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "the watts belong to the battery's volts and amps")


def set_and_measured(folder: Path) -> HobbyFile:
    mow = true_mow(415, minutes=18, step_s=2)
    lines = ["at_s,set_v,set_a,meas_v,meas_a,out_Amp-hr,out_Watt-hr"]
    for t, i, v, q, e in zip(mow.time_s, mow.current_a, mow.voltage_v, mow.used_ah, mow.used_wh, strict=True):
        lines.append(f"{t:.0f},39.00,{25 if i else 0:.2f},{v:.3f},{i:.3f},{q:.4f},{e:.3f}")
    path = put(folder / "set_and_measured.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "limits that were set beside what was measured")


DEVICES: tuple[Writer, ...] = (
    meter_preamble,
    tester_states,
    radio_link,
    counter_unit,
    solar_box,
    phone_cells,
    cells_only,
    raw_and_calibrated,
    scope_trace,
    gauge_unsigned,
    zero_error,
    two_currents,
    motor_and_battery,
    set_and_measured,
)
