"""How the highest second of a mow depends on its mean power: motors and controllers flatten peaks.

Thick grass raises the mean of a mow by a larger factor than its highest second, which the motor limits. The
law is a straight line between the logarithms of the two, with priors that even one mow moves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from estimator.arrays import Array, Single
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mow_needs import POWER_LOG_STD
from estimator.results import result

EXPONENT, EXPONENT_STD = 0.5, 0.25
"""Exponent before any mow (common practice): 0 where the motor sets the peaks, 1 where the grass does."""

LOG_STD, LOG_STD_FREEDOM = 0.15, 3.0
"""Spread of the highest second among mows of equal mean power, as a logarithm (common practice), and how many
degrees of freedom this belief has."""


@result
class PeakLaw:
    """log highest = log level_w + exponent · log(mean / mean_w), give or take `log_std` for a single mow.

    mean_w, level_w [W] : typical mean power of the mows, and the highest second that goes with it
    mows : number of mows it was learnt from
    """

    mean_w: float
    level_w: float
    exponent: float
    log_std: float
    mows: int

    def draw(self, mean_w: Array, rng: np.random.Generator) -> Array:
        """Highest second (n,) [W] of a mow to come, drawn for each mean power (n,) [W]."""
        doubt = self.log_std * math.sqrt(1.0 + 1.0 / self.mows)
        scatter = np.exp(doubt * rng.standard_normal(len(mean_w)))
        return np.asarray(self.level_w * (mean_w / self.mean_w) ** self.exponent * scatter)


def peak_law(mows: Sequence[MowFeatures]) -> PeakLaw | None:
    """The law learnt from some mows; None where none of them shows a mean and a highest second.

    A regression with a normal prior on the exponent; the prior scatter adds degrees of freedom.
    """
    seen = [one for one in mows if 0 < one.mean_w <= _highest_w(one)]
    if not seen:
        return None
    x = np.log([one.mean_w for one in seen])
    y = np.log([_highest_w(one) for one in seen])
    off_x, off_y = x - x.mean(), y - y.mean()
    exponent, variance = EXPONENT, LOG_STD**2
    for _ in range(3):  # exponent and scatter depend on each other; three turns settle them
        certain = float(off_x @ off_x) / variance
        wanted = float(off_x @ off_y) / variance + EXPONENT / EXPONENT_STD**2
        exponent = wanted / (certain + 1.0 / EXPONENT_STD**2)
        rest = off_y - exponent * off_x
        variance = (LOG_STD_FREEDOM * LOG_STD**2 + float(rest @ rest)) / (LOG_STD_FREEDOM + len(seen) - 1)
    # an error in the means is not thicker grass and lifts no peak
    doubt = float(np.mean([one.energy_log_std**2 for one in seen])) / len(seen)
    exponent *= POWER_LOG_STD**2 / (POWER_LOG_STD**2 + doubt)
    return PeakLaw(
        mean_w=float(np.exp(x.mean())),
        level_w=float(np.exp(y.mean())),
        exponent=float(np.clip(exponent, 0.0, 1.0)),
        log_std=math.sqrt(variance),
        mows=len(seen),
    )


def _highest_w(mow: MowFeatures) -> float:
    """Highest second [W]; for hand readings, what MAX hold showed."""
    return mow.trace.highest if mow.spot else mow.peak_1s_w


def under_peak(power: Single, highest_w: Array, mean_w: Array) -> Single:
    """Power with peaks cut to each draw's highest; the energy cut off goes to the rest of the draw."""
    held = power
    bounded = np.flatnonzero(np.isfinite(highest_w) & (held.max(axis=1, initial=0.0) > highest_w))
    if not bounded.size:
        return held
    rows = held[bounded].astype(float)
    on = rows > 0
    total, highest = rows.sum(axis=1), np.maximum(highest_w[bounded], 1.02 * mean_w[bounded])[:, None]
    for _ in range(4):
        rows = np.minimum(rows, highest)
        room = np.where(on, highest - rows, 0.0)
        missing = np.maximum(total - rows.sum(axis=1), 0.0)
        rows += room * np.minimum(missing / np.maximum(room.sum(axis=1), 1e-9), 1.0)[:, None]
    held[bounded] = rows
    return held
