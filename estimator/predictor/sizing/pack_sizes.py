"""Pack sizes that can be built from whole strings or bought, and what each would do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import FittedPack


@dataclass(frozen=True)
class SizeOdds:
    """A pack size [Ah], its odds of finishing all lawns at end of life, and its strings, if whole."""

    capacity_ah: float
    odds: float
    strings: int | None


def smallest_enough(pack: Pack, capacity_ah: float, sizes_ah: Sequence[float] = ()) -> float:
    """The smallest size [Ah] that holds capacity_ah: of those to buy, else in whole strings, else that
    itself.

    Where none of the sizes to buy is enough it is the largest.

    >>> smallest_enough(Pack("nmc", 13, 10.0, 39.0, string_ah=2.5), 10.2)
    12.5
    >>> smallest_enough(Pack("nmc", 13, 10.0, 39.0), 10.2, [8.0, 14.0, 20.0])
    14.0
    """
    if sizes_ah:
        return min((size for size in sizes_ah if size >= capacity_ah - 1e-9), default=max(sizes_ah))
    if pack.string_ah:
        return math.ceil(round(capacity_ah / pack.string_ah, 6)) * pack.string_ah
    return capacity_ah


def next_smaller(pack: Pack, size_ah: float, sizes_ah: Sequence[float] = ()) -> float:
    """The next smaller size [Ah]: of those to buy, else a string or a tenth less; 0 where there is none.

    >>> from estimator.descriptions import Pack
    >>> next_smaller(Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0), 20.0)
    18.0
    """
    if sizes_ah:
        return max((size for size in sizes_ah if size < size_ah), default=0.0)
    return max(size_ah - (pack.string_ah or 0.1 * size_ah), 0.0)


def odds_of(pack: Pack, size_ah: float, need_ah: NDArray[np.float64]) -> SizeOdds:
    """Odds of a size against drawn needs [Ah] (n,)."""
    strings = size_ah / pack.string_ah if pack.string_ah else 0.5
    whole = round(strings) if abs(strings - round(strings)) < 1e-6 else None
    return SizeOdds(size_ah, float((need_ah <= size_ah).mean()), whole)


def built(pack: Pack, size_ah: float) -> Pack:
    """The pack at another size: resistance falls and current limit grows with the strings side by side.

    >>> built(Pack("nmc", 13, 10.0, 39.0, current_limit_a=20.0), 15.0).current_limit_a
    30.0
    """
    rated = pack.rated if isinstance(pack, FittedPack) else pack
    times = size_ah / rated.capacity_ah
    return replace(
        rated,
        capacity_ah=size_ah,
        resistance_ohm=rated.resistance_ohm / times if rated.resistance_ohm else None,
        current_limit_a=rated.current_limit_a * times if rated.current_limit_a else None,
    )
