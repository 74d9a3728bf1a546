"""Meters: accuracy as the maker states it, resolution, which column is what; and what to assume otherwise."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats
from estimator.importer.log import MeterError
from estimator.results import shown

_RECTANGULAR = 1 / math.sqrt(3)
"""Standard deviation of a rectangular distribution over its half width, JCGM 100:2008, 4.3.7."""
_HUNDREDTHS = 0.005
"""A display that shows hundredths counts in steps of at least this [A]."""
_FEWEST_AT_REST = 10
"""Least number of pairs of neighbouring readings whose median difference is taken for noise."""


@dataclass(frozen=True)
class Accuracy:
    """Limits of error of one range: ± percent of the reading ± digits of the resolution [A or V].

    >>> Accuracy(percent=2.0, digits=5, resolution=0.1).limit(20.0)
    0.9
    """

    percent: float
    digits: float
    resolution: float

    def __post_init__(self) -> None:
        for what in ("percent", "digits", "resolution"):
            value = getattr(self, what)
            if not (isinstance(value, int | float) and math.isfinite(value) and value >= 0):
                raise InputError(f"accuracy {what} is {value}", mend="give a number from zero up")

    def limit(self, reading: float) -> float:
        """The largest error [A or V] that the maker allows at a reading [A or V]."""
        return abs(reading) * self.percent / 100 + self.digits * self.resolution


@shown
@dataclass(frozen=True)
class Meter:
    """A meter as its user knows it; kept, and recognised by the titles of its files.

    columns : quantity to title or number, where the user had to say so; other fields overrule decisions of
        the importer
    day_first_seen : whether the day comes first, as seen in files that show it
    signature : the titles of its files in plain letters, joined by bars

    >>> Meter.from_plain(Meter(name="clamp", current=Accuracy(2.0, 5, 0.1)).as_plain()).current.digits
    5
    """

    name: str
    current: Accuracy | None = None
    voltage: Accuracy | None = None
    columns: tuple[tuple[str, str | int], ...] = ()
    day_first: bool | None = None
    decimal: str | None = None
    reverse: bool | None = None
    signature: str = ""
    interval_s: float | None = None
    gap_s: float | None = None
    sheet: str | None = None
    state: str | int | None = None
    day_first_seen: bool | None = None

    def as_plain(self) -> dict[str, Any]:
        """The meter as plain values, ready for JSON."""
        plain = asdict(self)
        plain["columns"] = dict(self.columns)
        return plain

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> Meter:
        """The meter from what `as_plain` gave."""
        try:
            values = dict(plain)
            for what in ("current", "voltage"):
                values[what] = Accuracy(**values[what]) if values.get(what) else None
            values["columns"] = tuple((str(k), v) for k, v in dict(values.get("columns") or {}).items())
            return cls(**values)
        except (TypeError, ValueError, AttributeError):
            raise InputError("meter description is not understood", mend="describe the meter again") from None

    def error(self, assumed: MeterError) -> MeterError:
        """What the meter may be wrong by, from its own accuracy; `assumed` where that is not known.

        Limits become standard uncertainties by a rectangular distribution (JCGM 100:2008, 4.3.7): limit/√3.
        """
        changes: dict[str, float] = {}
        for what, accuracy in (("current", self.current), ("voltage", self.voltage)):
            if accuracy is not None:
                letter = what[0].replace("c", "a")
                changes[f"{what}_gain"] = accuracy.percent / 100 * _RECTANGULAR
                changes[f"{what}_zero_{letter}"] = accuracy.digits * accuracy.resolution * _RECTANGULAR
                changes[f"{what}_noise_{letter}"] = accuracy.resolution / math.sqrt(12)
        return MeterError(**{**asdict(assumed), **changes})


def resolution_of(values: Floats) -> float:
    """The step in which a meter counts, from its readings (n,); 0.0 where they show none.

    It is the largest of 1, 2 or 5 times a power of ten that divides all readings without remainder.

    >>> [resolution_of(x) for x in (np.array([0.1, 0.4, 12.3]), np.arange(40) * 0.5, np.array([12.0]))]
    [0.1, 0.5, 0.1]
    """
    finite = values[np.isfinite(values)]
    if finite.size > 20_000:
        finite = finite[:: finite.size // 10_000]
    finite = np.unique(np.abs(finite[finite != 0]))
    if finite.size == 0:
        return 0.0
    top = float(finite.max())
    for power in range(2, -7, -1):
        for digit in (5.0, 2.0, 1.0):
            step = digit * 10.0**power
            if step > top or step < top * 1e-8:
                continue
            # A handful of values proves no coarse display: 12.0 A alone does not make a meter with 2 A steps.
            if finite.size < 20 and (digit != 1.0 or step > 0.1):
                continue
            counts = finite / step
            if bool(np.all(np.abs(counts - np.round(counts)) < np.maximum(1e-6, 1e-9 * counts))):
                return float(f"{step:.6g}")
    return 0.0


def current_step(current_a: Floats, quiet_a: float) -> float:
    """The step [A] in which a meter counts amps (n,), or their noise at rest where it prints finer digits.

    A sensor's converter prints all the digits of its arithmetic, which says nothing about the sensor. Where
    most neighbouring readings below `quiet_a` [A] differ by far more than such a digit, the step is their
    scatter: the median difference of neighbours over 0.6745 √2, as for a normal distribution.

    >>> hall = np.round(np.random.default_rng(1).normal(0.08, 0.05, 400), 3)
    >>> [round(current_step(x, 0.5), 2) for x in (hall, np.full(400, 0.08), np.repeat([0.01, 15.0], 200))]
    [0.05, 0.01, 0.01]
    """
    step = resolution_of(current_a)
    quiet = np.abs(current_a) <= quiet_a
    apart = np.abs(np.diff(current_a))[quiet[1:] & quiet[:-1]]
    if step >= _HUNDREDTHS or len(apart) < _FEWEST_AT_REST:
        return step
    noise = float(np.median(apart)) / (0.6745 * math.sqrt(2))
    return noise if noise > 2 * _HUNDREDTHS else step


def assumed_error(current_step_a: float, voltage_step_v: float) -> MeterError:
    """What a meter may be wrong by when only its resolution is known.

    Common practice, no source: a clamp that shows tenths of an amp is within ± (3 % + 3 digits); one that
    shows hundredths within ± (2.5 % + 0.15 A), since its zero drifts with warmth and field; more digits are
    a shunt within ± (1 % + 0.01 A), as plain shunts are 1 %. Limits are divided by √3 (JCGM 100:2008, 4.3.7).

    >>> assumed_error(0.1, 0.1).current_zero_a > assumed_error(0.001, 0.001).current_zero_a
    True
    """
    if current_step_a >= 0.05:
        gain, zero, noise = 0.03, max(0.25, 3 * current_step_a), current_step_a / math.sqrt(12)
    elif current_step_a >= _HUNDREDTHS:
        gain, zero, noise = 0.025, 0.15, max(0.01, current_step_a / math.sqrt(12))
    else:
        gain, zero, noise = 0.01, max(0.01, 5 * current_step_a), 0.003
    if voltage_step_v >= 0.05:
        volt_gain, volt_zero, volt_noise = (
            0.008,
            max(0.15, 1.5 * voltage_step_v),
            voltage_step_v / math.sqrt(12),
        )
    elif voltage_step_v >= 0.005:
        volt_gain, volt_zero, volt_noise = 0.005, 0.03, max(0.004, voltage_step_v / math.sqrt(12))
    else:
        volt_gain, volt_zero, volt_noise = 0.001, 0.01, 0.002
    return MeterError(
        current_zero_a=zero * _RECTANGULAR,
        current_gain=gain * _RECTANGULAR,
        current_noise_a=noise,
        voltage_zero_v=volt_zero * _RECTANGULAR,
        voltage_gain=volt_gain * _RECTANGULAR,
        voltage_noise_v=volt_noise,
    )
