"""Meters that never existed: a clamp whose zero drifts, a voltmeter, and the files that they write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from invented_packs import Course


@dataclass(frozen=True)
class Meter:
    """What the meter was wrong by on one day (true values, unknown to whoever reads its file)."""

    zero_a: float
    drift_a: float
    current_gain: float
    voltage_gain: float
    noise_a: float = 0.03
    noise_v: float = 0.012
    step_a: float = 0.01
    step_v: float = 0.01

    def zero_at(self, time_s: np.ndarray) -> np.ndarray:
        """The clamp's zero error: a constant part, and one that fades over ten minutes."""
        return self.zero_a + self.drift_a * np.exp(-time_s / 600.0)


def meter_of_the_day(rng: np.random.Generator) -> Meter:
    """The meter, with errors drawn for one day."""
    return Meter(
        zero_a=float(0.08 * rng.standard_normal()), drift_a=float(0.05 * rng.standard_normal()),
        current_gain=float(1.0 + 0.006 * rng.standard_normal()),
        voltage_gain=float(1.0 + 0.0015 * rng.standard_normal()),
    )  # fmt: skip


@dataclass(frozen=True)
class Rows:
    """What a meter shows, row by row: arrays (n,)."""

    time_s: np.ndarray
    current_a: np.ndarray
    voltage_v: np.ndarray
    temperature_c: np.ndarray

    def by_other_clock(self, ahead_s: float, gains_ppm: float) -> Rows:
        """The same readings from a meter that ran for a shorter time, by a clock ahead of the first."""
        kept = slice(11, -9)
        time_s = np.round(self.time_s[kept] * (1 + gains_ppm * 1e-6) + ahead_s, 3)
        return Rows(time_s, self.current_a[kept], self.voltage_v[kept], self.temperature_c[kept])


def read_off(course: Course, meter: Meter, every_s: float, rng: np.random.Generator) -> Rows:
    """The rows that the meter would write, rounded to its steps."""
    step_s = course.time_s[1] - course.time_s[0]
    at = np.arange(0, len(course.time_s), round(every_s / step_s))
    time_s = course.time_s[at]
    amps = course.current_a[at] * meter.current_gain + meter.zero_at(time_s)
    amps = amps + meter.noise_a * rng.standard_normal(len(at))
    volts = course.voltage_v[at] * meter.voltage_gain + meter.noise_v * rng.standard_normal(len(at))
    return Rows(
        time_s,
        np.round(amps / meter.step_a) * meter.step_a + 0.0,
        np.round(volts / meter.step_v) * meter.step_v,
        course.temperature_c[at],
    )


def _clock(start: datetime, time_s: np.ndarray, form: str) -> list[str]:
    return [(start + timedelta(seconds=float(t))).strftime(form) for t in time_s]


def _hms(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def iso(rows: Rows, start: datetime) -> str:
    """Dates and times as in ISO 8601, units in the titles."""
    times = _clock(start, rows.time_s, "%Y-%m-%dT%H:%M:%S")
    lines = [f"{t},{a:.2f},{v:.2f}" for t, a, v in zip(times, rows.current_a, rows.voltage_v, strict=True)]
    return "\n".join(["time,current [A],voltage [V]", *lines, ""])


def elapsed(rows: Rows, start: datetime) -> str:
    """Seconds since the start, volts before amps."""
    lines = [
        f"{t:g},{v:.2f},{a:.2f}" for t, a, v in zip(rows.time_s, rows.current_a, rows.voltage_v, strict=True)
    ]
    return "\n".join(["elapsed_s,voltage_v,current_a", *lines, ""])


def semicolon(rows: Rows, start: datetime) -> str:
    """Semicolons, decimal commas, the day first."""
    times = _clock(start, rows.time_s, "%d.%m.%Y %H:%M:%S")
    lines = [
        f"{t};{a:.2f};{v:.2f}".replace(".", ",").replace(",", ".", 2)
        for t, a, v in zip(times, rows.current_a, rows.voltage_v, strict=True)
    ]
    return "\n".join(["Time;Current (A);Voltage (V)", *lines, ""])


def milliamps(rows: Rows, start: datetime) -> str:
    """Tabs, date and time in columns of their own, milliamps."""
    days, times = _clock(start, rows.time_s, "%Y-%m-%d"), _clock(start, rows.time_s, "%H:%M:%S")
    lines = [
        f"{d}\t{t}\t{1000 * a:.0f}\t{v:.2f}"
        for d, t, a, v in zip(days, times, rows.current_a, rows.voltage_v, strict=True)
    ]
    return "\n".join(["Date\tTime\tI / mA\tU / V", *lines, ""])


def preamble(rows: Rows, start: datetime) -> str:
    """Lines before the titles, numbered rows, a unit after each value."""
    times = _clock(start, rows.time_s, "%Y-%m-%d %H:%M:%S")
    lines = [
        f"{n},{t},{v:.2f} V,{a:.2f} A"
        for n, (t, a, v) in enumerate(zip(times, rows.current_a, rows.voltage_v, strict=True), 1)
    ]
    head = [
        "Shed recorder (invented)",
        f"Interval: {rows.time_s[1] - rows.time_s[0]:g} s",
        "",
        "No,Time,Voltage,Current",
    ]
    return "\n".join([*head, *lines, ""])


def stopwatch(rows: Rows, start: datetime) -> str:
    """Hours, minutes and seconds since the start, and the pack's temperature."""
    lines = [
        f"{_hms(t)},{a:.2f},{v:.2f},{c:.1f}"
        for t, a, v, c in zip(rows.time_s, rows.current_a, rows.voltage_v, rows.temperature_c, strict=True)
    ]
    return "\r\n".join(["Elapsed (h:mm:ss),Amps,Volts,Pack temperature (°C)", *lines, ""])


def reversed_clamp(rows: Rows, start: datetime) -> str:
    """The clamp was the wrong way round: every reading has the wrong sign."""
    return iso(Rows(rows.time_s, -rows.current_a, rows.voltage_v, rows.temperature_c), start)


def amps_only(rows: Rows, start: datetime) -> str:
    """The file of the clamp, where two meters were used."""
    times = _clock(start, rows.time_s, "%Y-%m-%d %H:%M:%S")
    return "\n".join(
        ["Time,Current (A)", *(f"{t},{a:.2f}" for t, a in zip(times, rows.current_a, strict=True)), ""]
    )


def volts_only(rows: Rows, start: datetime) -> str:
    """The file of the voltmeter, where two meters were used."""
    times = _clock(start, rows.time_s, "%Y-%m-%d %H:%M:%S")
    return "\n".join(
        ["Time,Voltage (V)", *(f"{t},{v:.2f}" for t, v in zip(times, rows.voltage_v, strict=True)), ""]
    )


def spot_notes(rows: Rows, idle_a: float, minutes: float) -> str:
    """What a person with a clamp, a panel voltmeter and a watch writes down."""
    working = rows.current_a[rows.current_a > 0.8 * idle_a]
    readings = (
        ("idle current", idle_a, "A", 1),
        ("typical current", float(np.median(working)), "A", 1),
        ("highest current", float(np.max(working)), "A", 1),
        ("rest voltage before", float(rows.voltage_v[5]), "V", 1),
        ("rest voltage after", float(rows.voltage_v[-1]), "V", 1),
        ("minutes", minutes, "min", 0),
    )
    return "\n".join(["reading,value,unit", *(f"{w},{v:.{d}f},{u}" for w, v, u, d in readings), ""])


FORMS: dict[str, tuple[str, Callable[[Rows, datetime], str]]] = {
    "iso": (".csv", iso),
    "elapsed": (".csv", elapsed),
    "semicolon": (".csv", semicolon),
    "milliamps": (".txt", milliamps),
    "preamble": (".csv", preamble),
    "stopwatch": (".csv", stopwatch),
    "reversed": (".csv", reversed_clamp),
}
