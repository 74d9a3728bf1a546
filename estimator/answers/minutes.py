"""Minutes left on the pack, from a log so far."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.answers.why import Why


@dataclass(frozen=True)
class ChargeTrace:
    """Charge over time with a band of the answer's level: time_s [s], charge, low and high [0..1]."""

    time_s: tuple[float, ...]
    charge: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class MinutesAnswer:
    """Minutes of mowing left until the motor stops.

    minutes, low, high [min] : median and band that holds with `level`
    charge, charge_low, charge_high [0..1] : charge at the last reading
    used_ah [Ah], used_wh [Wh], measured_minutes [min] : what the log so far holds
    ends_min [min] : evenly spaced quantiles of the minutes left, for drawing
    """

    minutes: float
    low: float
    high: float
    level: float
    charge: float
    charge_low: float
    charge_high: float
    used_ah: float
    used_wh: float
    measured_minutes: float
    pack: str
    trace: ChargeTrace
    ends_min: tuple[float, ...]
    notes: tuple[str, ...]
    why: Why
