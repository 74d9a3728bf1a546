"""Tables of testers, controllers, radios and meters whose columns confirm each other. All are invented.

Each form is written from the same course of a cell or a pack: rest, charge, rest, discharge, rest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import estimator as est


@dataclass(frozen=True)
class Course:
    """What really happened: discharge positive [A], counters [Ah, Wh] of what went out and in."""

    t: np.ndarray
    i: np.ndarray
    v: np.ndarray
    step: np.ndarray
    begun: np.ndarray  # when the step of each reading began [s]
    out_ah: np.ndarray
    in_ah: np.ndarray
    out_wh: np.ndarray
    in_wh: np.ndarray


def course(
    *,
    amps: float = 2.0,
    cells: int = 1,
    every_s: float = 10.0,
    charge_first: bool = True,
    wobble: float = 0.0,
) -> Course:
    t = np.arange(0, 7201, every_s)
    ends = (300.0, 3000.0, 3600.0, 6900.0, 7300.0)
    step = np.searchsorted(ends, t, side="right")
    ways = (0, -1, 0, 1, 0) if charge_first else (0, 1, 0, 1, 0)
    rng = np.random.default_rng(17)
    i = np.array([ways[k] for k in step]) * amps * (1 + wobble * rng.standard_normal(t.size))
    share = np.concatenate([[0], np.cumsum((i[1:] + i[:-1]) / 2 * np.diff(t))]) / 3600 / (amps * 3)
    left = 0.4 - share if charge_first else 0.97 - 0.5 * share
    v = cells * (3.3 + 0.8 * left - 0.04 * i / amps) + rng.normal(0, 0.0004, t.size)

    def counted(x: np.ndarray) -> np.ndarray:
        x = np.clip(x, 0, None)
        return np.concatenate([[0], np.cumsum((x[1:] + x[:-1]) / 2 * np.diff(t))]) / 3600

    begun = np.array([0.0, *ends])[step]
    return Course(t, i, v, step + 1, begun, counted(i), counted(-i), counted(i * v), counted(-i * v))


WORDS = {1: "discharge", -1: "charge", 0: "rest"}


def words(c: Course, out: str, into: str, rest: str) -> list[str]:
    return [{1: out, -1: into, 0: rest}[int(np.sign(x))] for x in c.i]


def stamp(seconds: float) -> str:
    s = round(seconds)
    return f"{s // 3600:02d}:{s % 3600 // 60:02d}:{s % 60:02d}"


Column = Callable[[Course], Sequence[Any]]


@dataclass(frozen=True)
class Form:
    name: str
    columns: dict[str, Column]
    sep: str = ","
    made: dict[str, Any] = field(default_factory=dict)
    above: tuple[str, ...] = ()


def net(c: Course) -> np.ndarray:
    return c.in_ah - c.out_ah


FORMS = (
    Form(
        "tester with capacities",
        {
            "Data_Point": lambda c: range(len(c.t)),
            "Test_Time(s)": lambda c: c.t,
            "Step_Time(s)": lambda c: c.t - c.begun,
            "Step_Index": lambda c: c.step,
            "Current(A)": lambda c: -c.i,
            "Voltage(V)": lambda c: c.v,
            "Charge_Capacity(Ah)": lambda c: c.in_ah,
            "Discharge_Capacity(Ah)": lambda c: c.out_ah,
            "dV/dt(V/s)": lambda c: np.gradient(c.v),
            "Internal_Resistance(Ohm)": lambda c: c.t * 0 + 0.02,
            "Aux_Temperature_1(C)": lambda c: c.t * 0 + 25,
        },
    ),
    Form(
        "step clock first",
        {
            "Step Time": lambda c: c.t - c.begun,
            "Total Time": lambda c: c.t,
            "Current": lambda c: -c.i,
            "Voltage": lambda c: c.v,
            "Mode": lambda c: words(c, "DCHG", "CHRG", "REST"),
        },
    ),
    Form(
        "electrochemist",
        {
            "mode": lambda c: c.step,
            "time/s": lambda c: c.t,
            "control/V/mA": lambda c: 1000 * c.i,
            "Ewe/V": lambda c: c.v,
            "dq/mA.h": lambda c: np.gradient(net(c)) * 1000,
            "<I>/mA": lambda c: -1000 * c.i,
            "(Q-Qo)/mA.h": lambda c: 1000 * net(c),
            "Q charge/discharge/mA.h": lambda c: 1000 * net(c),
            "P/W": lambda c: -c.i * c.v,
            "Ns changes": lambda c: c.step * 0,
        },
        sep="\t",
        made={"amps": 0.4},
    ),
    Form(
        "unsigned with letters",
        {
            "Rec#": lambda c: range(len(c.t)),
            "TestTime": lambda c: [f"  0d {stamp(t)}.00" for t in c.t],
            "StepTime": lambda c: [f"  0d {stamp(t)}.00" for t in c.t - c.begun],
            "Amp-hr": lambda c: np.abs(net(c)),
            "Watt-hr": lambda c: c.out_wh,
            "Amps": lambda c: np.abs(c.i),
            "Volts": lambda c: c.v,
            "State": lambda c: words(c, "D", "C", "R"),
        },
        sep="\t",
    ),
    Form(
        "milliamps without a unit beside mAh",
        {
            "time": lambda c: c.t,
            "I": lambda c: -1000 * c.i,
            "U": lambda c: c.v,
            "charge [mAh]": lambda c: 1000 * c.in_ah,
            "discharge [mAh]": lambda c: 1000 * c.out_ah,
        },
    ),
    Form(
        "hours, statuses and counters",
        {
            "Time [h]": lambda c: c.t / 3600,
            "t-Step [h]": lambda c: (c.t - c.begun) / 3600,
            "Status": lambda c: words(c, "DCH", "CHA", "PAU"),
            "Voltage [V]": lambda c: c.v,
            "Current [A]": lambda c: -c.i,
            "AhCha [Ah]": lambda c: c.in_ah,
            "AhDch [Ah]": lambda c: c.out_ah,
            "WhDch [Wh]": lambda c: c.out_wh,
        },
    ),
    Form(
        "minutes without a unit, two clocks",
        {
            "TestTime": lambda c: c.t / 60,
            "Current [A]": lambda c: np.abs(c.i),
            "Voltage [V]": lambda c: c.v,
            "Md": lambda c: words(c, "D", "C", "R"),
            "DPT Time": lambda c: [f"06/05/2021 {stamp(40000 + t)}" for t in c.t],
        },
        sep="\t",
    ),
    Form(
        "step types in words",
        {
            "Step Type": lambda c: words(c, "CC DChg", "CCCV_Chg", "Rest"),
            "Time": lambda c: [stamp(t) for t in c.t - c.begun],
            "Cumulative Time": lambda c: [stamp(t) for t in c.t],
            "Current(mA)": lambda c: -1000 * c.i,
            "Voltage(mV)": lambda c: 1000 * c.v,
            "Capacity(mAh)": lambda c: np.abs(net(c)) * 1000,
            "Energy(mWh)": lambda c: c.out_wh * 1000,
        },
    ),
    Form(
        "no word on the way",
        {
            "test_time_second": lambda c: c.t,
            "voltage_volt": lambda c: c.v,
            "current_ampere": lambda c: -c.i,
            "ambient_temperature_celsius": lambda c: c.t * 0 + 25,
        },
    ),
    Form(
        "millivolts without a unit beside watts",
        {
            "t [s]": lambda c: c.t,
            "voltage": lambda c: 1000 * c.v,
            "current [A]": lambda c: c.i,
            "power [W]": lambda c: c.i * c.v,
        },
        made={"charge_first": False, "wobble": 0.1},
    ),
    Form(
        "controller with motor and pack",
        {
            "ms_today": lambda c: 1000 * c.t,
            "input_voltage": lambda c: c.v,
            "current_motor": lambda c: 1.7 * c.i,
            "current_in": lambda c: c.i,
            "duty_cycle": lambda c: c.i * 0 + 0.58,
            "amp_hours_used": lambda c: c.out_ah,
            "watt_hours_used": lambda c: c.out_wh,
            "temp_mos_max": lambda c: c.t * 0 + 41,
        },
        sep=";",
        made={"charge_first": False, "wobble": 0.2, "cells": 13, "amps": 10.0},
    ),
    Form(
        "radio",
        {
            "Date": lambda c: ["2024-05-04"] * len(c.t),
            "Time": lambda c: [f"{stamp(30000 + t)}.{round(t) % 10}00" for t in c.t],
            "1RSS(dB)": lambda c: c.t * 0 - 60,
            "RxBt(V)": lambda c: c.t * 0 + 5.1,
            "VFAS(V)": lambda c: c.v,
            "Curr(A)": lambda c: c.i,
            "Capa(mAh)": lambda c: 1000 * c.out_ah,
            "Bat%(%)": lambda c: 100 - 20 * c.out_ah,
            "Cels(V)": lambda c: c.v / 6,
            "Alt(m)": lambda c: c.t * 0,
        },
        made={"charge_first": False, "wobble": 0.2, "cells": 6},
    ),
    Form(
        "battery tester",
        {
            "Time(S)": lambda c: c.t,
            "Voltage(V)": lambda c: c.v,
            "Current(A)": lambda c: c.i,
            "mAh": lambda c: 1000 * c.out_ah,
            "mWh": lambda c: 1000 * c.out_wh,
            "R(Ohm)": lambda c: c.t * 0 + 2,
        },
        made={"charge_first": False},
    ),
    Form(
        "battery management, charging positive",
        {
            "timestamp": lambda c: [f"2024-05-04 {stamp(30000 + t)}" for t in c.t],
            "packVoltage": lambda c: c.v,
            "packCurrent": lambda c: -c.i,
            "SOC": lambda c: 50 + 30 * net(c) / 10,
            "cellVoltage1": lambda c: c.v / 4,
            "cellVoltage2": lambda c: c.v / 4,
            "cellVoltage3": lambda c: c.v / 4,
            "cellVoltage4": lambda c: c.v / 4,
        },
        made={"cells": 4, "amps": 5.0},
    ),
    Form(
        "measured beside load",
        {
            "Voltage_measured": lambda c: c.v,
            "Current_measured": lambda c: -c.i,
            "Temperature_measured": lambda c: c.t * 0 + 24,
            "Current_load": lambda c: np.abs(c.i),
            "Voltage_load": lambda c: c.v * (c.i > 0),
            "Time": lambda c: c.t,
        },
    ),
)


def written(folder: Path, form: Form) -> tuple[Path, Course]:
    c = course(**form.made)
    columns = [list(column(c)) for column in form.columns.values()]
    shown = [[f"{x:.6g}" if isinstance(x, float) else str(x) for x in column] for column in columns]
    lines = [
        *form.above,
        form.sep.join(form.columns),
        *(form.sep.join(row) for row in zip(*shown, strict=True)),
    ]
    path = folder / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    return path, c


def out_of(log: est.Log) -> tuple[float, float, float]:
    t, i, v = (log.readings[x].to_numpy() for x in ("time_s", "current_a", "voltage_v"))
    kept = np.clip((i[1:] + i[:-1]) / 2, 0, None) * np.diff(t) / 3600
    return float(kept.sum()), float((kept * (v[1:] + v[:-1]) / 2).sum()), float(i.max())


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_columns_bear_each_other_out(form: Form, tmp_path: Path) -> None:
    path, c = written(tmp_path, form)
    log = est.read_log(path)
    ah, wh, highest = out_of(log)
    assert ah == pytest.approx(c.out_ah[-1], rel=0.03), log.notes
    assert wh == pytest.approx(c.out_wh[-1], rel=0.03), log.notes
    assert highest == pytest.approx(c.i.max(), rel=0.03), log.notes
