"""Whether the lawn under way will be finished, from the log so far and how long the motor will still turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import LoadProfile
from estimator.importer.log import Log
from estimator.predictor.lawns.one_more import running

DRAWS = 400  # a chance is off by 0.025 at most (one sigma)
FEWEST = 20  # of fewer days a chance is no better than a guess
LONGER = 0.1
"""A lawn that takes longer than hardly any day drawn takes this share longer still (common practice)."""


@dataclass(frozen=True)
class LawnUnderWay:
    """A lawn that is being mown: the chance that what is left of the charge finishes it, and the minutes of
    mowing [min] that it still takes, by the middle."""

    lawn: str
    odds: float
    minutes: float


def lawn_under_way(
    profile: LoadProfile,
    log: Log,
    lawn: Lawn,
    ends_min: Sequence[float],
    grass: Grass | None = None,
    *,
    temperature_c: float | None = None,
    seed: int = 1,
) -> LawnUnderWay:
    """The chance that the motor turns for as long as the rest of the lawn takes.

    ends_min : evenly spaced quantiles of the minutes left until the motor stops [min], as `minutes_left` has

    What the lawn takes is drawn from the mows so far in today's grass, on days whose power agrees with that
    of the log; days on which it would have been done by now are left out.

    >>> import pandas as pd
    >>> from estimator.fitting.load.profile import fit_profile
    >>> log = Log(pd.DataFrame({"time_s": [0.0, 60.0], "current_a": 5.0, "voltage_v": 50.0}))
    >>> [lawn_under_way(fit_profile([]), log, Lawn("a", 300), [left] * 9).odds for left in (0.0, np.inf)]
    [0.0, 1.0]
    """
    rng, so_far = np.random.default_rng(seed), running(log)
    needs = draw_needs(
        profile, [lawn], [grass or Grass()], DRAWS, rng, temperature_c=temperature_c, seen_w=so_far.mean_w
    )
    still = (needs.motor_s[:, 0] - so_far.seconds) / 60
    still = still[still > 0]
    if still.size < FEWEST:
        still = LONGER * so_far.seconds / 60 * np.abs(rng.standard_normal(DRAWS))
    lasts = np.sort(np.asarray(ends_min, float))
    odds = 1.0 - np.searchsorted(lasts, still) / lasts.size
    return LawnUnderWay(lawn.name, float(odds.mean()), float(np.median(still)))
