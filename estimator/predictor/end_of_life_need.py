"""How large a pack each drawn day needs at the end of its life, warm, cold and within its current limit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.load_draws import MowDraws
from estimator.fitting.pack_draws import PackDraws
from estimator.predictor.need import (
    COARSE_S,
    Day,
    Limits,
    coarser,
    least_for_current,
    smallest_times,
    some_of,
)

Array = NDArray[np.float64]

HARD = 5.0
"""The hardest days are simulated finely: this many times the share allowed to fail."""


@dataclass(frozen=True)
class EndOfLifeNeeds:
    """Times the pack (n,) that each draw needs: warm, cold, and cold within the current limit."""

    warm: Array
    cold: Array
    limited: Array


def end_of_life_needs(
    old: PackDraws, load: MowDraws, limits: Limits, least: Array, coldest_c: float, sure: float
) -> EndOfLifeNeeds:
    """Solve the needs of all draws.

    old : draws of a pack at the end of its life, warm; least (n,) lower bounds of the times that pack
    At coarse steps first, then those of the hardest days again at the load's own steps, in a narrow bracket.
    The other days are brought along by the typical ratio of the two: they bear on the odds of smaller packs
    only.
    """
    chilled, free = old.at_temperature(coldest_c), replace(limits, current_a=None)
    rough = Day(coarser(load, max(1, round(COARSE_S / load.step_s))))
    warm = smallest_times(old, rough, free, 0.9 * least, 1.4, 4)
    cold = smallest_times(chilled, rough, free, 0.98 * warm, 1.4, 4)
    by_current = least_for_current(chilled, load, limits)
    about = np.maximum(cold, by_current)
    hard = np.flatnonzero(about >= np.quantile(about, max(0.0, 1 - HARD * (1 - sure))))
    packs = some_of(chilled, hard)
    day = Day(replace(load, power_w=load.power_w[hard], end_s=load.end_s[hard]))
    limited = smallest_times(packs, day, limits, np.maximum(0.97 * cold, by_current)[hard], 1.12, 3)
    binding = limits.current_a is not None and bool(day.run(packs, limits, 0.98 * limited).over_current.any())
    fine = smallest_times(packs, day, free, 0.97 * cold[hard], 1.12, 3) if binding else limited
    ratio = float(np.median(fine / cold[hard]))
    all_fine, all_limited = ratio * cold, np.maximum(ratio * cold, by_current)
    all_fine[hard], all_limited[hard] = fine, limited
    return EndOfLifeNeeds(ratio * warm, all_fine, all_limited)
