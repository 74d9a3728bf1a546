"""What oscilloscopes, analysers, servers and phone apps export. All readings invented."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from hobby_mow import HobbyFile, TrueMow, Writer, cell_volts, comma, put, true_mow

BEGAN = datetime(2025, 5, 3, 9, 30)


def _days(mow: TrueMow) -> list[datetime]:
    return [BEGAN + timedelta(seconds=float(t)) for t in mow.time_s]


def split_document(folder: Path) -> HobbyFile:
    mow = true_mow(501, minutes=12)
    rows = zip(_days(mow), mow.voltage_v.round(3).tolist(), mow.current_a.round(3).tolist(), strict=True)
    told = {"columns": ["time", "voltage", "current"], "data": [[t.isoformat(), v, i] for t, v, i in rows]}
    path = put(folder / "split_document.json", [json.dumps(told)])
    return HobbyFile(path.name, path, mow.figures, "one JSON document, its titles beside its rows")


def printed_document(folder: Path) -> HobbyFile:
    mow = true_mow(502, minutes=9, step_s=2)
    readings = [
        {"ts": 1749897600 + float(t), "pack": {"volts": round(v, 2), "amps": round(i, 2)}}
        for t, i, v in zip(mow.time_s, mow.current_a.tolist(), mow.voltage_v.tolist(), strict=True)
    ]
    text = json.dumps({"device": "shed", "readings": readings}, indent=1)
    path = put(folder / "printed_document.json", text.split("\n"))
    return HobbyFile(path.name, path, mow.figures, "one JSON document over many lines, readings within it")


def on_its_side(folder: Path) -> HobbyFile:
    mow = true_mow(503, minutes=20, step_s=5)
    table = (("time_s", mow.time_s), ("voltage_v", mow.voltage_v), ("current_a", mow.current_a))
    lines = [f"{name}," + ",".join(f"{x:.2f}" for x in values) for name, values in table]
    path = put(folder / "on_its_side.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "one quantity a line")


def one_name_after_the_other(folder: Path) -> HobbyFile:
    mow = true_mow(504, minutes=10)
    lines = ["#datatype,string,long,dateTime,double,string", ",result,table,_time,_value,_field"]
    for k, (name, values) in enumerate((("current", mow.current_a), ("voltage", mow.voltage_v))):
        pairs = zip(_days(mow), values, strict=True)
        lines += [f",,{k},{t.isoformat()}Z,{x:.2f},{name}" for t, x in pairs]
    path = put(folder / "one_name_after_the_other.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "all amps, then all volts, each with its name and stamp")


def topics(folder: Path) -> HobbyFile:
    mow = true_mow(505, minutes=10)
    lines = []
    for t, i, v in zip(_days(mow), mow.current_a, mow.voltage_v, strict=True):
        lines += [
            f"{t.isoformat()}+0200 shed/pack/voltage {v:.2f}",
            f"{t.isoformat()}+0200 shed/pack/current {i:.2f}",
        ]
    path = put(folder / "topics.log", lines, newline="\n")
    return HobbyFile(path.name, path, mow.figures, "stamp, topic and value, without titles")


def elements(folder: Path) -> HobbyFile:
    mow = true_mow(506, minutes=10)
    lines = ["<?xml version='1.0'?>", "<mow>"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"  <r t='{t:.0f}' v='{v:.2f}' i='{i:.2f}'/>")
    path = put(folder / "elements.xml", [*lines, "</mow>"])
    return HobbyFile(path.name, path, mow.figures, "one element a reading")


def ruled(folder: Path) -> HobbyFile:
    mow = true_mow(507, minutes=15, step_s=2)
    lines = ["  Time   Voltage   Current", "   (s)       (V)       (A)", "------  --------  --------"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t:6.0f}  {v:8.2f}  {i:8.2f}")
    path = put(folder / "ruled.txt", lines)
    return HobbyFile(path.name, path, mow.figures, "a rule of dashes below titles and units")


def barred(folder: Path) -> HobbyFile:
    mow = true_mow(508, minutes=15, step_s=2)
    lines = ["| time | V | A |", "|---|---:|---:|"]
    for t, i, v in zip(_days(mow), mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"| {t:%H:%M:%S} | {v:.2f} | {i:.2f} |")
    path = put(folder / "barred.md", lines)
    return HobbyFile(path.name, path, mow.figures, "a table as written for a web page, with its rule")


def year_at_the_end(folder: Path) -> HobbyFile:
    mow = true_mow(509, minutes=12)
    lines = ["When,Volts,Amps"]
    for t, i, v in zip(_days(mow), mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t:%a %b} {t.day:2d} {t:%H:%M:%S %Y},{v:.2f},{i:.2f}")
    path = put(folder / "year_at_the_end.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "Sat May  3 09:30:00 2025")


def julian(folder: Path) -> HobbyFile:
    mow = true_mow(510, minutes=12)
    lines = ["JD;U [V];I [A]"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{comma(2460798.8958333 + t / 86400, 7)};{comma(v, 2)};{comma(i, 2)}")
    path = put(folder / "julian.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "Julian dates with a decimal comma")


def nanoseconds(folder: Path) -> HobbyFile:
    mow = true_mow(511, minutes=12)
    lines = ["ts,bus_v,bus_i"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{(1746264600 + int(t)) * 10**9 + 123456},{v:.3f},{i:.3f}")
    path = put(folder / "nanoseconds.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "nanoseconds since 1970 under 'ts'")


def ways_apart(folder: Path) -> HobbyFile:
    mow = true_mow(512, minutes=15, step_s=2)
    lines = ["Minute;Batteriespannung;Entladestrom;Ladestrom"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{comma(t / 60, 4)};{comma(v, 2)};{comma(i, 2)};0,00")
    path = put(folder / "ways_apart.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "discharging and charging amps in columns of their own")


def hundredths(folder: Path) -> HobbyFile:
    mow = true_mow(513, minutes=20)
    lines = ["Time,Total Voltage,Current,SOC," + ",".join(f"Cell{k}" for k in range(1, 14))]
    rows = zip(_days(mow), mow.current_a, mow.voltage_v, mow.charge_left, cell_volts(mow), strict=True)
    for t, i, v, left, cells in rows:
        milli = ",".join(f"{1000 * c:.0f}" for c in cells)
        lines.append(f"{t:%Y-%m-%d %H:%M:%S},{100 * v:.0f},{-100 * i:.0f},{100 * left:.0f},{milli}")
    path = put(folder / "hundredths.csv", lines)
    why = "volts and amps in hundredths without a unit: the cells say so of the volts, nothing of the amps"
    return HobbyFile(path.name, path, mow.figures, why, {"columns": {"current": "3[0.01A]"}})


def times_the_capacity(folder: Path) -> HobbyFile:
    mow = true_mow(514, minutes=20)
    lines = ["t (min),U (V),I (C)"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t / 60:.4f},{v:.2f},{i / 10:.3f}")
    path = put(folder / "times_the_capacity.csv", lines)
    return HobbyFile(path.name, path, None, "amps as multiples of a capacity that nothing tells")


def counts(folder: Path) -> HobbyFile:
    mow = true_mow(515, minutes=20)
    lines = ["t (s),U (counts),I (counts)"]
    for t, i, v in zip(mow.time_s, mow.current_a, mow.voltage_v, strict=True):
        lines.append(f"{t:.0f},{v / 60 * 4095:.0f},{2048 + i * 20:.0f}")
    path = put(folder / "counts.csv", lines)
    return HobbyFile(path.name, path, None, "counts of a converter are no volts and amps")


def extremes_of_each_second(folder: Path) -> HobbyFile:
    mow = true_mow(516, minutes=15)
    lines = ["Time,V min,V avg,V max,I min,I avg,I max"]
    rows = zip(_days(mow), mow.current_a, mow.voltage_v, np.sin(mow.time_s) ** 2, strict=True)
    for t, i, v, more in rows:
        volts, amps = (v - 0.6 * more, v, v + 0.5 * more), (i * 0.7, i, i * 1.4)
        lines.append(f"{t:%H:%M:%S}," + ",".join(f"{x:.2f}" for x in (*volts, *amps)))
    path = put(folder / "extremes_of_each_second.csv", lines)
    return HobbyFile(path.name, path, mow.figures, "lowest, mean and highest of each second")


EXPORTS: tuple[Writer, ...] = (
    split_document,
    printed_document,
    on_its_side,
    one_name_after_the_other,
    topics,
    elements,
    ruled,
    barred,
    year_at_the_end,
    julian,
    nanoseconds,
    ways_apart,
    hundredths,
    times_the_capacity,
    counts,
    extremes_of_each_second,
)
