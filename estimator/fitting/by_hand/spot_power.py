"""A stand-in for the power over time of a mow that was only noted by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.by_hand.spot_charge import spot_charge
from estimator.importer.by_hand.spot_notes import mean_current
from estimator.importer.log import SpotNotes

Array = NDArray[np.float64]
SECONDS = 900
HIGHEST_TO_TYPICAL = 2.0
IDLE_TO_TYPICAL = 0.35
VOLTS_STD = 0.03
"""How far one voltage read by hand may be from the mean under load: common practice."""


@dataclass(frozen=True)
class SpotEnergy:
    """A mow noted by hand: energy [Wh], its relative standard uncertainty, a stand-in power [W], idle [W]."""

    wh: float
    log_std: float
    power_w: Array
    idle_w: float | None


def spot_energy(
    spot: SpotNotes, volts: float, pack: Pack | None = None, volts_std: float = VOLTS_STD
) -> SpotEnergy:
    """What hand readings say of a mow's energy and peaks.

    volts : voltage [V] under load; volts_std : how far it may be from the mean, as a fraction

    With a pack, amps and minutes, rest voltages and gauge are weighed together (`spot_charge`); without, amps
    times minutes stands alone. The stand-in idles in turns and has the highest current in a patch of two
    seconds about once a minute (common practice for a hand-held MIN/MAX reading). Raises InputError where
    neither amps with minutes nor a gauge or rest voltages were noted.

    >>> found = spot_energy(SpotNotes(idle_a=4, typical_a=10, highest_a=28, minutes=30), volts=50.0)
    >>> found.wh, round(float(found.power_w.max()))
    (300.0, 1400)
    """
    if pack is not None:
        charge = spot_charge(spot, pack)
        ah, std = charge.ah, charge.ah_std
    else:
        mean = mean_current(spot)
        ah, std = mean.amps * (spot.minutes or 0.0) / 60, mean.std * (spot.minutes or 0.0) / 60
    wh = max(ah, 0.0) * volts
    log_std = min(1.0, float(np.hypot(std / ah, volts_std))) if ah > 0 else 1.0
    mean_w = wh * 60 / spot.minutes if spot.minutes else wh
    typical = max(spot.typical_a * volts if spot.typical_a else mean_w, 1.0)
    idle = min(spot.idle_a * volts if spot.idle_a else IDLE_TO_TYPICAL * typical, typical)
    highest = max(spot.highest_a * volts if spot.highest_a else HIGHEST_TO_TYPICAL * typical, typical)
    return SpotEnergy(wh, log_std, _with_mean(mean_w, idle, typical, highest), idle if spot.idle_a else None)


def _with_mean(mean_w: float, idle_w: float, typical_w: float, highest_w: float) -> Array:
    """The stand-in whose mean is that of the energy noted: peaks stay at what the meter's MAX hold said."""
    low, high = min(idle_w, typical_w) / 2, 2 * highest_w
    for _ in range(30):
        middle = (low + high) / 2
        if stand_in_power(idle_w, middle, highest_w).mean() < mean_w:
            low = middle
        else:
            high = middle
    return stand_in_power(idle_w, (low + high) / 2, highest_w)


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
