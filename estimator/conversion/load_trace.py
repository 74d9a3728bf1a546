"""The measured load of one mow at even steps, by which cable, fuse, motor and charger are judged."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array, Flags
from estimator.errors import InputError, check_each, check_kind
from estimator.importer.log import Log
from estimator.results import result

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures

RUNNING_SHARE = 0.05
"""The motor counts as running above this share of the 90th percentile of power; blades turning free take more
(common practice)."""


@result
class LoadTrace:
    """Current (n,) [A, discharge positive] and voltage (n,) [V] at the pack, one value a step.

    step_s : time [s] between values
    measured_step_s : time [s] between the meter's own readings, where it differs from `step_s`
    current_gain, current_zero_a : standard uncertainties of the current, a fraction of the reading and [A]
    by_hand : whether all but the single readings and the mean stands in; meter_gain : then the gain of the
    highest reading, None where that stands in too
    stands_for_s : time [s] of the whole mow, where only stretches of it were kept
    idle_w : power [W] of blades turning in no grass, where the readings of the whole mow showed it

    >>> trace = LoadTrace([5.0, 5.0], [60.0, 60.0], step_s=60.0)
    >>> trace.minutes, trace.mean_w, trace.wh
    (2.0, 300.0, 10.0)
    """

    current_a: Array
    voltage_v: Array
    step_s: float = 1.0
    measured_step_s: float | None = None
    current_gain: float = 0.02
    current_zero_a: float = 0.05
    by_hand: bool = False
    meter_gain: float | None = None
    stands_for_s: float | None = None
    idle_w: float | None = None

    def __post_init__(self) -> None:
        current = np.asarray(self.current_a, dtype=float)
        voltage = np.broadcast_to(np.asarray(self.voltage_v, dtype=float), current.shape)
        object.__setattr__(self, "current_a", current)
        object.__setattr__(self, "voltage_v", voltage)
        if current.ndim != 1 or current.size == 0:
            raise InputError("the load has no readings", mend="give at least one value of current")
        if not (np.isfinite(current).all() and np.isfinite(voltage).all()):
            raise InputError("the load has readings that are no numbers", mend="leave them out")
        if not (voltage > 0).all():
            raise InputError(
                f"the load has a voltage of {voltage.min():g} V", mend="give pack volts above zero"
            )
        if not self.step_s > 0:
            raise InputError(f"the step of the load is {self.step_s} s", mend="give seconds above zero")

    @property
    def power_w(self) -> Array:
        """Electrical power (n,) [W]."""
        return self.current_a * self.voltage_v

    @property
    def minutes(self) -> float:
        """Length of the mow [min]."""
        return self.seconds / 60

    @property
    def seconds(self) -> float:
        """Length of the mow [s]."""
        return self.stands_for_s or self.current_a.size * self.step_s

    @property
    def mean_w(self) -> float:
        """Mean power [W]."""
        return float(self.power_w.mean())

    @property
    def wh(self) -> float:
        """Energy [Wh] of the whole mow."""
        return self.mean_w * self.seconds / 3600

    @property
    def ah(self) -> float:
        """Charge used [Ah] in the whole mow."""
        return float(self.current_a.mean()) * self.seconds / 3600

    @property
    def finest_s(self) -> float:
        """The shortest duration [s] that the readings show."""
        return max(self.step_s, self.measured_step_s or 0.0)

    def shows(self, seconds: float | None) -> bool:
        """Whether the highest current over these seconds was read; None is the whole mow."""
        return not self.by_hand or seconds is None or (seconds <= 1.0 and self.meter_gain is not None)

    def running(self) -> Flags:
        """Whether the motor runs at each value (n,), judged by the power alone."""
        power = self.power_w
        return power > RUNNING_SHARE * max(float(np.quantile(power, 0.9)), 1e-9)


def trace_from_features(mow: MowFeatures) -> LoadTrace:
    """The load of a mow from its kept features, second by second; by hand at the typical voltage."""
    power = mow.trace.values()
    if power.size == 0:
        raise InputError(f"a mow of {mow.lawn} has no load", mend="leave it out")
    amps = power / mow.typical_v if mow.amps is None else mow.amps.values()
    return LoadTrace(
        amps,
        np.where(amps > 0, power / np.maximum(amps, 1e-9), mow.typical_v),
        step_s=1.0,
        measured_step_s=None if mow.spot else mow.step_s,
        current_gain=math.hypot(mow.gain_std, mow.energy_log_std if mow.spot else 0.0),
        current_zero_a=0.0,
        by_hand=mow.spot,
        meter_gain=mow.gain_std if mow.highest_read else None,
        stands_for_s=mow.motor_s,
        idle_w=mow.idle_w,
    )


def trace_from_log(log: Log, step_s: float = 1.0) -> LoadTrace:
    """The load of a log, interpolated at the middles of even steps.

    Parameters
    ----------
    log : Log
        with amps and volts
    step_s : float, above 0 [s], default 1
        steps longer than `log.longest_step_s` are left out, not bridged

    Returns
    -------
    LoadTrace
        current [A] and voltage [V] at even steps

    Raises
    ------
    InputError
        where no two readings are close enough together

    Source: none; linear interpolation.

    >>> import pandas as pd
    >>> steady = pd.DataFrame({"time_s": [0.0, 4.0], "current_a": [8.0, 12.0], "voltage_v": 50.0})
    >>> from estimator.importer.log import Log
    >>> trace_from_log(Log(steady)).current_a.tolist()
    [8.5, 9.5, 10.5, 11.5]
    """
    check_kind("log", log, Log)
    time = log.arrays["time_s"]
    steps = np.diff(time)
    at = np.arange(time[0] + step_s / 2, time[-1], step_s)
    behind = np.clip(np.searchsorted(time, at, side="right") - 1, 0, steps.size - 1)
    at = at[steps[behind] <= log.longest_step_s]
    if at.size == 0:
        raise InputError(
            f"{log.name}: no two readings are closer than {log.longest_step_s:g} s",
            mend="take a log with shorter steps",
        )
    return LoadTrace(
        np.interp(at, time, log.arrays["current_a"]),
        np.interp(at, time, log.arrays["voltage_v"]),
        step_s,
        measured_step_s=float(np.median(steps[steps > 0])) if (steps > 0).any() else None,
        current_gain=log.error.current_gain,
        current_zero_a=log.error.current_zero_a,
    )


def highest_rms(current_a: Array, step_s: float, seconds: float | None) -> float:
    """Highest root mean square [A] over any stretch of some seconds; over everything where None.

    >>> round(highest_rms(np.array([0.0, 3.0, 4.0, 0.0]), 1.0, 2.0), 4)
    3.5355
    """
    squares = np.square(np.maximum(current_a, 0.0))
    width = squares.size if seconds is None else min(max(round(seconds / step_s), 1), squares.size)
    sums = np.concatenate(([0.0], np.cumsum(squares)))
    return float(np.sqrt(max(float((sums[width:] - sums[:-width]).max()), 0.0) / width))


def check_loads(mows: Sequence[LoadTrace], of: str) -> None:
    """Raise InputError unless there is at least one measured load."""
    check_each("loads", mows, LoadTrace)
    if not len(mows):
        raise InputError(f"no mow was given for the {of}", mend="give the load of at least one")
