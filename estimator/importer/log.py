"""The log: the readings of one recording, and what was recognised and mended in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

HALF_90 = 1.645
"""Standard uncertainties in half the width of a 90 % band; in words for people ± always means that band."""


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

    Amps idle, typical and highest; volts at rest before and after; minutes of mowing; the charge gauge as a
    fraction before and after.
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


@dataclass(frozen=True)
class Log:
    """One recording as the meters gave it.

    readings : DataFrame with time_s [s, from the first reading], current_a [A, discharge positive],
        voltage_v [V] and, where measured, temperature_c [°C]; times never go back. Where volts failed for
        long, volts_drawn says of each reading whether its volts are a straight line across the hole
    notes : sentences saying what was recognised, mended and left out, with its effect in Ah
    error : what the meter may still be wrong by
    longest_step_s : steps longer than this [s] count as gaps and are not integrated
    spot : the hand readings, where the readings were made up from them
    """

    readings: pd.DataFrame
    notes: Sequence[str] = ()
    error: MeterError = field(default_factory=MeterError)
    started: datetime | None = None
    longest_step_s: float = 30.0
    name: str = "log"
    spot: SpotNotes | None = None
