"""A stand-in for the power over time of a mow that was only noted by hand."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Lawn
from estimator.importer.log import SpotNotes

Array = NDArray[np.float64]
SECONDS = 900
HIGHEST_TO_TYPICAL = 2.0
IDLE_TO_TYPICAL = 0.35


def spot_power(spot: SpotNotes, lawn: Lawn | None = None) -> Array | None:
    """Power [W] second by second that agrees with the notes, None where they hold no usual current or
    voltage.

    Idle in turns, the typical current while cutting, the highest in a patch of two seconds about once a
    minute (common practice for a hand-held MIN/MAX reading). The features of such a mow carry a wide
    uncertainty.

    >>> power = spot_power(SpotNotes(typical_a=5.0, highest_a=10.0, load_v=50.0, minutes=20))
    >>> float(power.max().round())
    500.0
    """
    usual = spot.typical_a if spot.typical_a is not None else spot.mean_a
    volts = spot.load_v or spot.rest_before_v or spot.rest_after_v
    if not usual or not volts:
        return None
    typical = usual * volts
    idle = (spot.idle_a if spot.idle_a is not None else IDLE_TO_TYPICAL * usual) * volts
    highest = (spot.highest_a if spot.highest_a is not None else HIGHEST_TO_TYPICAL * usual) * volts
    power = stand_in_power(min(idle, typical), typical, max(highest, typical))
    if spot.mean_a is not None and spot.typical_a is not None:
        power = np.minimum(power * spot.mean_a * volts / power.mean(), max(highest, typical))
    return power


def stand_in_power(idle_w: float, typical_w: float, highest_w: float, seconds: int = SECONDS) -> Array:
    """Power [W], shape (seconds,): rows of cutting with turns at idle and a two-second peak once a minute."""
    rng = np.random.default_rng(20)
    wave = np.convolve(rng.standard_normal(seconds + 8), np.ones(9) / 3, "valid")
    power = np.clip(typical_w * np.exp(0.15 * wave), idle_w, highest_w)
    for start in range(28, seconds, 30):
        power[start : start + 3] = idle_w
    for start in range(15, seconds, 60):
        power[start : start + 2] = highest_w
    return np.asarray(power)
