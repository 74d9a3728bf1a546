"""A stand-in for the power over time of a mow with hand readings only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Pack
from estimator.importer.by_hand.amps import (
    FREE_SHARE,
    HIGHEST_TO_TYPICAL,
    IDLE_TO_TYPICAL,
    expected_current,
    mean_current,
)
from estimator.importer.by_hand.spot_order import has_amps
from estimator.importer.log import SpotNotes

SECONDS = 900  # fifteen peaks, among them the highest of a usual mow once
WATCH_LOG_STD = 0.1
"""Relative uncertainty of minutes by a watch, with a stop that was not counted (common practice)."""
VOLTS_STD = 0.03
"""How far one voltage read by hand may be from the mean under load, relative (common practice)."""


@dataclass(frozen=True)
class SpotEnergy:
    """A mow noted by hand.

    wh, log_std : energy [Wh] and its relative standard uncertainty; volts : mean under load [V]
    power_w : stand-in power [W]; idle_w [W]; minutes, minutes_log_std : [min], with relative uncertainty
    log_ratio, log_ratio_std : logarithm of mean over expected current, and its uncertainty; None without a
    typical current, or where the minutes were not noted and follow from it
    """

    wh: float
    log_std: float
    volts: float
    power_w: Array
    idle_w: float | None
    minutes: float
    minutes_log_std: float
    log_ratio: float | None = None
    log_ratio_std: float | None = None


def spot_energy(
    spot: SpotNotes,
    volts: float,
    pack: Pack | None = None,
    start_charge: float | None = None,
    temperature_c: float | None = None,
) -> SpotEnergy:
    """What hand readings say about a mow's energy and peaks.

    volts : voltage [V] under load, used where no pack is known

    With a pack, all readings are weighed together (`weighing`); without, the energy is amps times minutes
    times volts. Raises InputError where no amps were noted.

    >>> found = spot_energy(SpotNotes(mean_a=12, highest_a=28, minutes=30), volts=50.0)
    >>> round(found.wh), round(float(found.power_w.max()))
    (300, 1400)
    """
    minutes, minutes_log_std, expected = spot.minutes or 0.0, WATCH_LOG_STD, expected_current(spot)
    log_ratio = log_ratio_std = None
    if pack is not None:
        from estimator.fitting.by_hand.weighing import weigh

        weighed = weigh(spot, pack, start_charge, temperature_c)
        log_wh = np.log(np.maximum(weighed.wh, 1e-9))
        wh, log_std = float(np.exp(log_wh.mean())), float(log_wh.std())
        volts = float(np.median(weighed.wh / weighed.ah))
        if spot.minutes is None:
            minutes = 60 * float(np.median(weighed.hours))
            minutes_log_std = float(np.hypot(WATCH_LOG_STD, np.log(weighed.hours).std()))
        elif expected is not None and has_amps(spot) and expected.amps > 0:
            ratio = np.log(weighed.mean_a / expected.amps)
            log_ratio, log_ratio_std = float(ratio.mean()), float(ratio.std())
    else:
        mean = mean_current(spot)
        wh, log_std = mean.amps * minutes / 60 * volts, float(np.hypot(mean.log_std, VOLTS_STD))
    mean_w = 60 * wh / minutes if minutes > 0 else wh
    return SpotEnergy(
        wh=wh,
        log_std=min(1.0, log_std),
        volts=volts,
        power_w=stand_in_of(spot, volts, mean_w),
        idle_w=min(spot.idle_a * volts, mean_w) if spot.idle_a else None,
        minutes=minutes,
        minutes_log_std=minutes_log_std,
        log_ratio=log_ratio,
        log_ratio_std=log_ratio_std,
    )


def stand_in_of(spot: SpotNotes, volts: float, mean_w: float) -> Array:
    """The stand-in whose mean is that of the energy, with its peak at what the meter's MAX hold showed.

    volts : mean voltage [V] under load; mean_w : mean power [W]
    """
    typical_w = max(spot.typical_a * volts if spot.typical_a else mean_w, 1.0)
    idle_w = min(spot.idle_a * volts if spot.idle_a else IDLE_TO_TYPICAL * typical_w, 0.9 * mean_w, typical_w)
    highest_w = max(spot.highest_a * volts if spot.highest_a else HIGHEST_TO_TYPICAL * typical_w, typical_w)
    low, high = min(idle_w, typical_w) / 2, 2 * highest_w
    for _ in range(30):
        middle = (low + high) / 2
        if stand_in_power(idle_w, middle, highest_w).mean() < mean_w:
            low = middle
        else:
            high = middle
    return stand_in_power(idle_w, (low + high) / 2, highest_w)


def stand_in_power(idle_w: float, typical_w: float, highest_w: float) -> Array:
    """Power (SECONDS,) [W]: rows of cutting, turns at idle, and a peak of two seconds once a minute.

    The peaks go from the usual power to the highest in even steps of their square root. The highest occurs
    once, since MAX hold keeps the one highest moment of a mow.
    """
    rng = np.random.default_rng(20)
    wave = np.convolve(rng.standard_normal(SECONDS + 8), np.ones(9) / 3, "valid")
    power = np.clip(typical_w * np.exp(0.2 * wave), idle_w, highest_w)
    for start in range(28, SECONDS, 30):
        power[start : start + round(30 * FREE_SHARE)] = idle_w
    starts = np.arange(15, SECONDS, 60)
    heights = rng.permutation(np.linspace(0.0, 1.0, len(starts) + 1)[1:] ** 2)
    for begin, height in zip(starts, heights, strict=True):
        peak = typical_w + height * (highest_w - typical_w)
        power[begin : begin + 2] = np.maximum(power[begin : begin + 2], peak)
    return np.asarray(power)
