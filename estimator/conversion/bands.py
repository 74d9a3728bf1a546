"""A figure with the band in which it is believed to lie, and the few ways to make and combine bands.

Bands are central and hold 90 % unless said otherwise. They combine in root-sum-square (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from estimator.arrays import Array

LEVEL = 0.90  # that of every band, unless it says otherwise
MOW_SPREAD = 0.20
"""Prior spread between mows of one lawn (one sigma of the logarithm): an assumption of this project, replaced
by the measured spread as mows come in."""
_MOW_SPREAD_WEIGHT = 4
"""That prior spread weighs as much as this many mows (common practice)."""


@dataclass(frozen=True)
class Band:
    """A figure and the ends of its band, all in the same unit.

    >>> Band(31.2, 25.6, 38.4).times(2).high
    76.8
    """

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"band out of order: {self.low}, {self.value}, {self.high}")

    def times(self, factor: float) -> Band:
        """The band in another unit, or of several alike; `factor` is exact and not negative."""
        return Band(self.value * factor, self.low * factor, self.high * factor)


def product(one: Band, other: Band) -> Band:
    """Band of the product of two independent positive figures; relative widths add in root-sum-square.

    >>> round(product(Band(10, 9, 11), Band(2.0, 2.0, 2.0)).low, 3)
    18.0
    """
    value = one.value * other.value
    if value == 0:
        return Band(0.0, 0.0, one.high * other.high)
    down = math.hypot(math.log(one.value / one.low), math.log(other.value / other.low))
    up = math.hypot(math.log(one.high / one.value), math.log(other.high / other.value))
    return Band(value, value * math.exp(-down), value * math.exp(up))


def of_draws(draws: Array) -> Band:
    """Median and central band of draws (n,)."""
    low, value, high = np.quantile(draws, [(1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2])
    return Band(float(value), float(low), float(high))


def of_meter(value: float, gain: float, zero: float) -> Band:
    """Band of a meter's figure, never below zero; gain (a fraction) and zero (same unit) are one sigma.

    >>> of_meter(20.0, gain=0.02, zero=0.0).high  # 1.645 times 0.4
    20.65...
    """
    half = NormalDist().inv_cdf((1 + LEVEL) / 2) * math.hypot(gain * value, zero)
    return Band(value, min(value, max(value - half, 0.0)), value + half)


def next_mow(values: Sequence[float]) -> Band:
    """Where a figure of the next mow is expected, from its values (above zero) in the mows so far.

    A Student-t prediction on logarithms. The spread starts as `MOW_SPREAD` with the weight of four mows and
    gives way to the measured spread, so that one mow gives a wide band instead of none.

    >>> one, many = next_mow([400.0]), next_mow([390.0, 405.0, 410.0, 395.0, 402.0, 398.0, 400.0, 404.0])
    >>> one.high - one.low > many.high - many.low
    True
    """
    from scipy.special import stdtrit  # slow to load

    mean, spread, freedom = _prediction(values)
    half = float(stdtrit(freedom, (1 + LEVEL) / 2)) * spread
    return Band(math.exp(mean), math.exp(mean - half), math.exp(mean + half))


def chance_above(values: Sequence[float], limit: float) -> float:
    """Chance that a figure of the next mow lies above a limit, by the same prediction as `next_mow`.

    >>> seen = [20.0, 22.0, 21.0, 19.0]
    >>> round(chance_above(seen, next_mow(seen).high), 2), chance_above(seen, 60.0) < 0.01
    (0.05, True)
    """
    from scipy.special import stdtr  # slow to load

    mean, spread, freedom = _prediction(values)
    return float(stdtr(freedom, (mean - math.log(limit)) / spread))


def _prediction(values: Sequence[float]) -> tuple[float, float, int]:
    """Mean, spread and degrees of freedom of the next mow's figure, on the logarithm."""
    logs = np.log(np.asarray(values, dtype=float))
    mean, n = float(logs.mean()), len(logs)
    freedom = _MOW_SPREAD_WEIGHT + n - 1
    spread = math.sqrt((_MOW_SPREAD_WEIGHT * MOW_SPREAD**2 + float(((logs - mean) ** 2).sum())) / freedom)
    return mean, spread * math.sqrt(1 + 1 / n), freedom


def draws_of(band: Band, n: int, rng: np.random.Generator) -> Array:
    """Draws (n,) of a positive figure with this band, log-normal on either side.

    >>> draws_of(Band(2.0, 2.0, 2.0), 2, np.random.default_rng(0)).tolist()
    [2.0, 2.0]
    """
    z = rng.standard_normal(n)
    wide = NormalDist().inv_cdf((1 + LEVEL) / 2)
    up, down = math.log(band.high / band.value) / wide, math.log(band.value / band.low) / wide
    return np.asarray(band.value * np.exp(np.where(z > 0, up, down) * z), dtype=np.float64)
