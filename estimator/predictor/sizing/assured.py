"""A need that holds for the days wanted and for nearly all that is not known yet of machine, lawns and pack.

Days differ, and each is drawn anew; what few mows, a label or a meter leave open is the same on every day
that a pack is used. A plain quantile of the drawn needs mixes the two: a pack of that size is too small for
its days as often as what is not known turns out badly, one time in five after ten mows. A tolerance limit
keeps them apart: a share of the days (its content) with a certainty for what lasts (its confidence), after
ISO 16269-6, here from draws instead of its factors for a single normal sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TINY = 1e-12
"""Days that do not differ take no part."""


@dataclass(frozen=True)
class Assured:
    """A need on a day as the others, whatever lasts; on the days wanted as well; and the standard deviations
    of its logarithm, of what lasts and of days."""

    usual_day: float
    need: float
    lasting_std: float
    days_std: float


def assured(need: Array, days: Array, sure: float) -> Assured:
    """The tolerance limit of drawn needs (n,): content and confidence are both `sure`.

    days : what differs from day to day in each draw (n,), about, on the logarithm; regression on it says what
        of the need does, and what is left lasts: where that is no straight line, it is no other day either

    >>> lasts, differs = 0.1 * np.random.default_rng(1).standard_normal((2, 4000))
    >>> limit = assured(np.exp(lasts + differs), differs, 0.95)
    >>> bool(0.15 < np.log(limit.usual_day) < 0.18), bool(0.31 < np.log(limit.need) < 0.35)
    (True, True)
    """
    log, from_mean = np.log(need), days - days.mean()
    differs = from_mean * float(from_mean @ log) / max(float(from_mean @ from_mean), TINY)
    usual = float(np.quantile(log - differs, sure))
    return Assured(
        usual_day=float(np.exp(usual)),
        need=float(np.exp(usual + np.quantile(differs, sure))),
        lasting_std=float((log - differs).std()),
        days_std=float(differs.std()),
    )
