"""What a recommended capacity is made of, and what one measurement would save of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.predictor.narrowing import Doubt, narrowed_quantile

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MarginPart:
    """A named part of the recommended capacity [Ah] with a note on what it stands for."""

    name: str
    ah: float
    note: str


@dataclass(frozen=True)
class Saving:
    """The one measurement that would shrink the recommended capacity most.

    part : the part of the margin that shrinks; measure : what to do; ah : about how much it would save [Ah]
    """

    part: str
    measure: str
    ah: float


_PART_OF = {
    "resistance": "sag",
    "sag of a pack that is nearly empty": "sag",
    "rise of the resistance in the cold": "cold",
    "warming of the pack": "cold",
    "peaks": "sag",
}
"""The part of the margin that a cause goes into; every other goes into the spread."""


def margin_parts(levels: Sequence[float], names: Sequence[tuple[str, str]]) -> tuple[MarginPart, ...]:
    """Parts between levels [Ah] that lead from the mean need to the recommendation, and add up to the last.

    levels, names : one each, a name with its note

    After the mean and the spread no part is negative: each level is found to some parts in a thousand only,
    and a level above the next one is taken down to it.

    >>> names = [("mean need", ""), ("day-to-day variation", ""), ("sag", ""), ("cold", "")]
    >>> [round(part.ah, 2) for part in margin_parts([2.0, 3.0, 3.51, 3.5], names)]
    [2.0, 1.0, 0.5, 0.0]
    """
    tops = np.array(levels, float)
    tops[1:] = np.minimum.accumulate(tops[:0:-1])[::-1]
    steps = np.diff(tops, prepend=0.0)
    return tuple(MarginPart(name, float(ah), note) for (name, note), ah in zip(names, steps, strict=True))


def best_saving(need_ah: Array, doubts: Sequence[Doubt], sure: float) -> Saving | None:
    """The measurement that would take most off the quantile `sure` of the need (n,) [Ah], if there is one."""
    now = float(np.quantile(need_ah, sure))
    best = max((one for one in doubts if one.measure), key=lambda one: one.share, default=None)
    if best is None:
        return None
    saved = now - narrowed_quantile(need_ah, best, sure)
    return Saving(_PART_OF.get(best.cause, "day-to-day variation"), best.measure, saved)
