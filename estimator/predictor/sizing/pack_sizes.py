"""Pack sizes on offer (sizes that can be bought, whole strings, or common sizes) and their chances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Pack
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.predictor.sizing.new_pack import label_of

COMMON_AH = (
    *(1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0, 9.0, 10.0, 12.0, 14.0, 15.0, 18.0, 20.0, 24.0, 25.0),
    *(30.0, 36.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 120.0, 150.0, 200.0, 250.0, 300.0, 400.0),
)
"""Sizes [Ah] in which packs and blocks are commonly sold (common practice)."""

MOST_SIZES = 7
"""Most sizes in a table: as many rows as a phone shows at once."""


@dataclass(frozen=True)
class SizeOdds:
    """A pack size [Ah] and its chances of finishing all lawns; its number of strings, where that is whole.

    typical_new : new, at the temperature of a usual day; worst_new : new, on the coldest mowing day
    odds : at the end of its life, on the coldest mowing day
    """

    capacity_ah: float
    typical_new: float
    worst_new: float
    odds: float
    strings: int | None


def sizes_on_offer(pack: Pack, need_ah: float, asked_ah: Sequence[float] = ()) -> tuple[float, ...]:
    """Sizes [Ah], rising: those given, else whole strings, else common sizes, from about half of the need
    up to one size more than enough.

    >>> from estimator.descriptions import Pack
    >>> sizes_on_offer(Pack("nmc", 13, 10.0, 39.0, string_ah=2.5), 10.2)
    (5.0, 7.5, 10.0, 12.5, 15.0)
    >>> sizes_on_offer(Pack("nmc", 13, 10.0, 39.0), 10.2)
    (5.0, 6.0, 7.5, 9.0, 10.0, 12.0, 14.0)
    >>> sizes_on_offer(Pack("nmc", 13, 10.0, 39.0), 31.9, [24.0, 20.0])
    (20.0, 24.0)
    """
    if asked_ah:
        return tuple(sorted(set(asked_ah)))
    if pack.string_ah:
        enough = math.ceil(round(need_ah / pack.string_ah, 6))
        strings = range(max(1, enough // 2), enough + 2)
        offered = [pack.string_ah * each for each in strings]
    else:
        offered = list(COMMON_AH)
        while offered[-1] < need_ah:
            offered.append(2 * offered[-1])
        place = next(k for k, size in enumerate(offered) if size >= need_ah - 1e-9)
        offered = [*(size for size in offered[:place] if size >= 0.45 * need_ah), *offered[place : place + 2]]
    if len(offered) > MOST_SIZES:  # the two that are enough, and the smaller ones thinned evenly
        *fewer, enough_ah, more_ah = offered
        keep = np.unique(np.rint(np.linspace(0, len(fewer) - 1, MOST_SIZES - 2)).astype(int))
        offered = [*(fewer[k] for k in keep), enough_ah, more_ah]
    return tuple(offered)


def odds_of(pack: Pack, size_ah: float, needs_ah: Sequence[Array]) -> SizeOdds:
    """Chances of a size.

    needs_ah : rated capacity [Ah] (n,) that drawn days need: of a new pack on a usual day and on the coldest,
        and at the end of its life on the coldest
    """
    strings = size_ah / pack.string_ah if pack.string_ah else 0.5
    whole = round(strings) if abs(strings - round(strings)) < 1e-6 else None
    typical, worst, old = (float((need <= size_ah).mean()) for need in needs_ah)
    return SizeOdds(size_ah, typical, worst, old, whole)


def enough_of(pack: Pack, capacity_ah: float) -> float:
    """The smallest size [Ah] that can be built to hold a capacity: whole strings where their size is known.

    >>> from estimator.descriptions import Pack
    >>> enough_of(Pack("nmc", 13, 10.0, 39.0, string_ah=2.5), 10.2)
    12.5
    """
    if pack.string_ah:
        return math.ceil(round(capacity_ah / pack.string_ah, 6)) * pack.string_ah
    return capacity_ah


def built(pack: Pack, size_ah: float) -> Pack:
    """The pack at another size: resistance falls and current limit grows with the number of parallel strings.

    >>> built(Pack("nmc", 13, 10.0, 39.0, current_limit_a=20.0), 15.0).current_limit_a
    30.0
    """
    rated = pack.rated if isinstance(pack, FittedPack) else pack
    times = size_ah / label_of(pack)
    return replace(
        rated,
        capacity_ah=size_ah,
        capacity_guessed=False,
        resistance_ohm=rated.resistance_ohm / times if rated.resistance_ohm else None,
        current_limit_a=rated.current_limit_a * times if rated.current_limit_a else None,
    )
