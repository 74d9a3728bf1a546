"""The log: the readings of one recording, and what was recognised and mended in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from estimator.errors import InputError
from estimator.results import shown

if TYPE_CHECKING:
    import pandas as pd

NEEDED = ("time_s", "current_a", "voltage_v")
"""Columns that every table of readings has."""

HALF_90 = 1.645
"""How many standard uncertainties make half a 90 % band; in texts for people ± always means that half."""


@dataclass(frozen=True)
class MeterError:
    """Standard uncertainties (one sigma) that do not average out over a log.

    current_zero_a [A] and voltage_zero_v [V] shift every reading alike; current_gain and voltage_gain are
    fractions of the reading; current_noise_a and voltage_noise_v are the random part of one reading.
    """

    current_zero_a: float = 0.05
    current_gain: float = 0.02
    voltage_zero_v: float = 0.1
    voltage_gain: float = 0.005
    current_noise_a: float = 0.05
    voltage_noise_v: float = 0.05


@dataclass(frozen=True)
class SpotNotes:
    """A handful of readings by hand; whatever was not read is None.

    Typical, idle, highest and mean amps; volts under load, and at rest before and after, the latter read
    `rested_minutes` [min] after the end; minutes of mowing; the charge gauge as a fraction before and after;
    what the charger put back until the pack was full: charge [Ah] and energy [Wh] at the pack, energy [Wh] at
    the socket.
    """

    typical_a: float | None = None
    idle_a: float | None = None
    highest_a: float | None = None
    mean_a: float | None = None
    load_v: float | None = None
    rest_before_v: float | None = None
    rest_after_v: float | None = None
    minutes: float | None = None
    gauge_before: float | None = None
    gauge_after: float | None = None
    rested_minutes: float | None = None
    put_back_ah: float | None = None
    put_back_wh: float | None = None
    socket_wh: float | None = None

    @property
    def volts(self) -> tuple[float, ...]:
        """All volts that were read [V]."""
        read = self.rest_before_v, self.load_v, self.rest_after_v
        return tuple(each for each in read if each is not None)


class Columns(dict[str, NDArray[Any]]):
    """Columns of readings, in place of a table until somebody wants one: pandas is slow to load."""


class _Readings:
    """The readings of a log as a table, made from its columns when it is first looked at."""

    def __get__(self, log: Log | None, owner: type[Log]) -> pd.DataFrame:
        if log is None:
            raise AttributeError("readings have no default")
        held = log.__dict__["readings"]
        if isinstance(held, Columns):
            import pandas as pd

            held = log.__dict__["readings"] = pd.DataFrame(held, copy=False)
        return held  # type: ignore[no-any-return]

    def __set__(self, log: Log, readings: pd.DataFrame) -> None:
        log.__dict__["readings"] = readings


@shown
@dataclass(frozen=True, eq=False)
class Log:
    """One recording as the meters gave it.

    readings : DataFrame with time_s [s, from the first reading], current_a [A, discharge positive],
        voltage_v [V] and, where measured, temperature_c [°C]; times never go back. Where volts were missing
        for long, volts_drawn says which readings have volts drawn as a straight line across the hole
    notes : sentences about what was recognised, mended and left out, with the effect in Ah
    error : what the meter may still be wrong by
    longest_step_s : steps longer than this [s] count as gaps and are not integrated
    doubts : the notes which say that the readings can hardly be true
    spot : the hand readings, where the readings were made from them
    ran_out : whether the battery stopped the motor at the end
    leaps_s : where [s] volts at work leap up over a pause: another pack went on, or this one was charged
        unseen. What the log says of its pack it says up to the first of them
    clock_s : time of day [s] of the first reading, where the files have one and no date
    """

    readings: pd.DataFrame = _Readings()  # type: ignore[assignment]
    notes: Sequence[str] = ()
    error: MeterError = field(default_factory=MeterError)
    started: datetime | None = None
    longest_step_s: float = 30.0
    name: str = "log"
    spot: SpotNotes | None = None
    doubts: Sequence[str] = ()
    ran_out: bool = False
    leaps_s: tuple[float, ...] = ()
    clock_s: float | None = None

    def __post_init__(self) -> None:
        problem = _fault_of(self.__dict__["readings"], volts_may_lack=self.spot is not None)
        if problem is not None:
            raise InputError(f"{self.name}: {problem[0]}", mend=problem[1])

    @property
    def arrays(self) -> Columns:
        """The columns of the readings, (n,) each, without making a table; numbers are floats."""
        held = self.__dict__["readings"]
        if isinstance(held, Columns):
            return held
        return Columns(
            {name: x.to_numpy(float if x.dtype.kind in "fiu" else None) for name, x in held.items()}
        )


def part_of_log(log: Log, from_s: float, until_s: float | None) -> Log:
    """A part of a log, between two of its seconds (None: up to its end); its time starts at 0 again.

    Where a cut lies between two readings, a reading on the straight line between them is put there, so that
    the parts add up to the whole.

    >>> import pandas as pd
    >>> seconds, amps = [0.0, 10.0, 20.0], [4.0, 8.0, 6.0]
    >>> whole = Log(pd.DataFrame({"time_s": seconds, "current_a": amps, "voltage_v": 50.0}))
    >>> part_of_log(whole, 5.0, None).readings.current_a.tolist()
    [6.0, 8.0, 6.0]
    """
    held = log.arrays
    time_s = held["time_s"]
    end_s = float(time_s[-1]) if until_s is None else until_s
    if not time_s[0] <= from_s < end_s <= time_s[-1]:
        raise InputError(
            f"{log.name}: a part from {from_s / 60:g} to {end_s / 60:g} min",
            mend=f"its readings go from {time_s[0] / 60:.4g} to {time_s[-1] / 60:.4g} min",
        )
    inside, readings = (time_s > from_s) & (time_s < end_s), Columns()
    for name, column in held.items():
        ends = np.interp([from_s, end_s], time_s, column)
        if column.dtype.kind == "b":
            ends = column[np.searchsorted(time_s, [from_s, end_s]).clip(0, len(time_s) - 1)]
        readings[name] = np.concatenate((ends[:1], column[inside], ends[1:]))
    readings["time_s"] -= from_s
    started = None if log.started is None else log.started + timedelta(seconds=from_s)
    said = f"This is the part from {from_s / 60:.4g} to {end_s / 60:.4g} min of a longer log."
    return replace(
        log,
        readings=readings,  # type: ignore[arg-type]
        started=started,
        clock_s=None if log.clock_s is None else log.clock_s + from_s,
        notes=(*log.notes, said),
        leaps_s=tuple(each - from_s for each in log.leaps_s if from_s < each < end_s),
    )


def until_leap(log: Log) -> Log:
    """The part of a log in which its first pack was on: all before its first leap.

    >>> import pandas as pd
    >>> volts = [50.0, 49.0, 48.0, 54.0, 53.0]
    >>> table = pd.DataFrame({"time_s": [0.0, 10.0, 20.0, 30.0, 40.0], "current_a": 5.0, "voltage_v": volts})
    >>> swapped = Log(table, leaps_s=(30.0,))
    >>> until_leap(swapped).readings.voltage_v.tolist(), since_leap(swapped).readings.voltage_v.tolist()
    ([50.0, 49.0, 48.0], [54.0, 53.0])
    """
    if not log.leaps_s:
        return log
    time_s = log.arrays["time_s"]
    return part_of_log(log, float(time_s[0]), float(time_s[time_s < log.leaps_s[0]][-1]))


def since_leap(log: Log) -> Log:
    """The part of a log in which the pack that is on now was on: all after its last leap."""
    return part_of_log(log, log.leaps_s[-1], None) if log.leaps_s else log


def _fault_of(readings: Any, *, volts_may_lack: bool) -> tuple[str, str] | None:
    """What is wrong with a table of readings, and the mend; None where nothing is."""
    columns = list(readings if isinstance(readings, Columns) else getattr(readings, "columns", ()))
    if (not isinstance(readings, Columns) and not hasattr(readings, "iloc")) or not columns:
        return f"its readings are a {type(readings).__name__}", f"give a DataFrame with {', '.join(NEEDED)}"
    lacking = [name for name in NEEDED if name not in columns]
    if lacking:
        return (
            f"column {lacking[0]} is missing among {', '.join(map(str, columns[:8]))}",
            f"name the columns {', '.join(NEEDED)}, and temperature_c where it was measured",
        )
    if len(readings["time_s"]) < 2:
        return f"holds {len(readings['time_s'])} reading(s)", "two or more are needed"
    for name in (*NEEDED, *({"temperature_c"} & set(columns))):
        if readings[name].dtype.kind not in "fiu":
            texts = [each for each in readings[name] if not isinstance(each, Real)]
            held = repr(texts[0]) if texts else "objects, though each is a number"
            return f"column {name} holds {held}", "give numbers" if texts else "give it as astype(float)"
        values = np.asarray(readings[name], float)
        if name == "temperature_c" or (name == "voltage_v" and volts_may_lack):
            continue
        odd = np.flatnonzero(~np.isfinite(values))
        if len(odd):
            return f"{name} is {values[odd[0]]} at reading {odd[0] + 1}", "leave the reading out"
    time_s = np.asarray(readings["time_s"], float)
    back = np.flatnonzero(np.diff(time_s) < 0)
    if len(back):
        at = int(back[0])
        return f"time_s goes back from {time_s[at]:g} to {time_s[at + 1]:g} at reading {at + 2}", "sort them"
    if time_s[-1] == time_s[0]:
        return f"all its readings are of second {time_s[0]:g}", "give the time of each"
    return None
