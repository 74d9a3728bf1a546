"""How large a pack each drawn day needs at the end of its life, warm, cold and within its current limit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.load_draws import MowDraws
from estimator.fitting.pack_draws import PackDraws
from estimator.predictor.need import Day, Limits, least_for_current, smallest_times

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EndOfLifeNeeds:
    """Times the pack (n,) that each draw needs: warm, cold, and cold within the current limit."""

    warm: Array
    cold: Array
    limited: Array


def end_of_life_needs(
    old: PackDraws, load: MowDraws, limits: Limits, least: Array, coldest_c: float
) -> EndOfLifeNeeds:
    """Solve the needs of all draws.

    old : draws of a pack at the end of its life, warm; least (n,) lower bounds of the times that pack
    """
    chilled, free = old.at_temperature(coldest_c), replace(limits, current_a=None)
    day = Day(load, limits.hold_s)
    warm = smallest_times(old, day, free, 0.9 * least, 1.4, 4)
    cold = smallest_times(chilled, day, free, 0.98 * warm, 1.4, 5)
    by_current = least_for_current(chilled, load, limits)
    if (
        limits.current_a is None
        or not day.run(chilled, limits, 0.98 * np.maximum(cold, by_current)).over_current.any()
    ):
        return EndOfLifeNeeds(warm, cold, np.maximum(cold, by_current))
    limited = smallest_times(chilled, day, limits, np.maximum(0.97 * cold, by_current), 1.12, 3)
    return EndOfLifeNeeds(warm, cold, limited)
