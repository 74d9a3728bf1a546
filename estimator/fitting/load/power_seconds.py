"""Power second by second of a log, and the highest mean that was held for some seconds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.importer.log import Log


@dataclass(frozen=True)
class PowerSeconds:
    """Power second by second over the measured time of a log, gaps left out.

    seconds : time measured; gap_s : time left out [s]; typical_v : mean voltage under load [V]
    step_s : usual time between readings [s]; wh : energy [Wh]; power_w, current_a : (seconds,) [W], [A]
    """

    seconds: float
    gap_s: float
    typical_v: float
    step_s: float
    wh: float
    power_w: Array
    current_a: Array

    @classmethod
    def of(cls, log: Log) -> PowerSeconds:
        """Energy and power second by second over the measured time, gaps left out.

        Each reading stands for the time half-way to its neighbours. That gives the trapezoid's energy and
        keeps the readings' spread, where straight lines between them would flatten the peaks.
        """
        readings = log.arrays
        time = readings["time_s"]
        power = np.maximum(readings["current_a"] * readings["voltage_v"], 0.0)
        step = np.diff(time)
        gap = step > log.longest_step_s
        measured = np.concatenate([[0.0], np.cumsum(np.where(gap, 0.0, step))])
        until = np.concatenate([[0.0], (measured[1:] + measured[:-1]) / 2, [measured[-1]]])
        joule = _total(power, until)
        middle = np.arange(math.floor(measured[-1]))
        first, last = np.maximum(middle - 0.5, 0.0), middle + 0.5
        power_w, current_a = (
            (np.interp(last, until, total) - np.interp(first, until, total)) / (last - first)
            for total in (joule, _total(np.maximum(readings["current_a"], 0.0), until))
        )
        volts = readings["voltage_v"]
        loaded = (power >= np.median(power)) & (power > 0)
        usual = float(np.median(step[~gap])) if (~gap).any() else 1.0
        return cls(
            float(measured[-1]),
            float(step[gap].sum()),
            float(np.mean(volts[loaded] if loaded.any() else volts)),
            usual,
            float(joule[-1]) / 3600,
            power_w,
            current_a,
        )


def _total(values: Array, until: Array) -> Array:
    """The running sum (n + 1,) of values (n,), each times the seconds for which it stands."""
    return np.concatenate([[0.0], np.cumsum(values * np.diff(until))])


def highest_mean(power_w: Array, seconds: int) -> float:
    """Highest mean power [W] over this many seconds.

    >>> highest_mean(np.array([100.0, 300.0, 200.0]), 2)
    250.0
    """
    if power_w.size == 0:
        return 0.0
    seconds = min(seconds, power_w.size)
    total = np.concatenate([[0.0], np.cumsum(power_w)])
    return float((total[seconds:] - total[:-seconds]).max() / seconds)
