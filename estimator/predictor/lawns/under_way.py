"""Whether the lawn under way will be finished, from the log so far and how long the motor will still turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import LoadProfile
from estimator.importer.log import Log
from estimator.predictor.lawns.one_more import motor_runs, running_w

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


def running_s(log: Log) -> float:
    """Seconds for which the motor turned.

    >>> import pandas as pd
    >>> amps = [0.0] * 10 + [5.0] * 20
    >>> running_s(Log(pd.DataFrame({"time_s": np.arange(30.0), "current_a": amps, "voltage_v": 50.0})))
    19.5
    """
    power = log.arrays["current_a"] * log.arrays["voltage_v"]
    step_s = np.diff(log.arrays["time_s"], append=np.nan)
    step_s[-1] = 0.0
    stands_s = 0.5 * (step_s + np.insert(step_s[:-1], 0, 0.0))
    stands_s[stands_s > log.longest_step_s] = 0.0
    return float(stands_s[motor_runs(power)].sum())


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
    rng = np.random.default_rng(seed)
    needs = draw_needs(
        profile, [lawn], [grass or Grass()], DRAWS, rng, temperature_c=temperature_c, seen_w=running_w(log)
    )
    so_far_min = running_s(log) / 60
    still = needs.motor_s[:, 0] / 60 - so_far_min
    still = still[still > 0]
    if still.size < FEWEST:
        still = LONGER * so_far_min * np.abs(rng.standard_normal(DRAWS))
    lasts = np.sort(np.asarray(ends_min, float))
    odds = 1.0 - np.searchsorted(lasts, still) / lasts.size
    return LawnUnderWay(lawn.name, float(odds.mean()), float(np.median(still)))
