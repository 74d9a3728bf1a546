"""What mows that stopped short say about energy per area: their power, divided by the pace of whole mows.

A pack tends to run out in the hardest grass: without such mows, lawns would look easier than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from estimator.arrays import Array, Whole
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mixed_model import MixedFit

FEWEST_WHOLE = 2
"""At least this many whole mows are needed to know the pace."""
SHORTEST_S = 300.0
"""A mow shorter than this hardly shows its mean power (common practice)."""


def telling_short_mows(mows: Sequence[MowFeatures]) -> tuple[MowFeatures, ...]:
    """The mows that stopped short after at least some minutes; none where too few mows were whole."""
    if sum(one.whole for one in mows) < FEWEST_WHOLE:
        return ()
    return tuple(one for one in mows if not one.whole and one.motor_s >= SHORTEST_S)


def log_pace_of(pace: MixedFit, x: Array, lawn: Whole) -> tuple[Array, Array]:
    """Mean (n,) and variance (n,) of the model's log pace for mows with columns x (n, p) on lawns (n,).

    >>> from estimator.fitting.load.mixed_model import MixedPrior, fit_mixed, mixed_data
    >>> prior = MixedPrior(np.zeros(1), np.ones(1), np.full(3, 0.1), np.full(3, 0.5))
    >>> empty, none = np.zeros(0), np.zeros(0, np.int64)
    >>> nothing = mixed_data(empty, np.zeros((0, 1)), none, 1, empty, empty)
    >>> mean, variance = log_pace_of(fit_mixed(nothing, prior), np.ones((1, 1)), np.zeros(1, np.int64))
    >>> float(mean[0]), 0.9 < float(variance[0]) < 1.2
    (0.0, True)
    """
    rows = np.zeros((len(x), pace.mean.shape[1]))
    rows[:, : pace.fixed] = x
    rows[np.arange(len(x)), pace.fixed + lawn] = 1.0
    each = pace.mean @ rows.T
    mean = pace.weight @ each
    inner = np.einsum("mij,nj->mni", pace.root, rows)
    spread = (pace.spread[:, 1:] ** 2).sum(axis=1)
    variance = pace.weight @ ((inner**2).sum(axis=2) + (each - mean) ** 2 + spread[:, None])
    return np.asarray(mean), np.asarray(variance)


NEAREST = 4
"""The pace of a mow that stopped short is that of this many whole mows nearest in time."""
LEAST_RATE_STD = 0.05
"""Two mows that happen to agree do not mean that a third will (common practice)."""


@dataclass(frozen=True)
class AreaRate:
    """Area mown in a minute [m²/min], and the standard uncertainty of its logarithm for a single mow."""

    m2_min: float
    log_std: float


def rate_near(mow: MowFeatures, whole: Sequence[MowFeatures]) -> AreaRate | None:
    """The pace of a dated mow, by the whole mows nearest to it in time; None where there are too few."""
    alike = [m for m in whole if m.lawn == mow.lawn] or list(whole)
    near = sorted(alike, key=lambda m: abs((_day(m) - _day(mow)).days))[:NEAREST]
    if len(near) < 2:
        return None
    logs = np.log([m.pace_m2_min() for m in near])
    return AreaRate(float(np.exp(logs.mean())), max(LEAST_RATE_STD, float(logs.std(ddof=1))))


def _day(mow: MowFeatures) -> date:
    return date.fromisoformat(mow.day or "")
