"""Hand readings that are unlikely for the pack as described: they are named and kept, never corrected."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from estimator.contradictions import MOST_OF_RATED, most_held
from estimator.descriptions import Pack
from estimator.fitting.by_hand.volts_doubts import volts_doubts
from estimator.fitting.by_hand.weighing import weigh
from estimator.importer.by_hand.amps import current_read
from estimator.importer.by_hand.spot_order import WORDS
from estimator.importer.log import SpotNotes

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures

OVER_RATED = 1.1
"""No pack gives this many times its rated capacity (common practice)."""
OVER_LIMIT, OVER_LIMIT_PEAK = 1.1, 1.5
"""A current of more than this many times the current limit is doubted: a lasting one, and a peak, which a
limit may let pass (common practice)."""
SHORTEST_MINUTES = 20.0
"""A mower's pack that is empty sooner than this would be rare (common practice)."""
LEAST_MOWS, USUAL_MOWS, USUAL_STD = 3, 4, 0.14
"""The fewest mows that show what is usual; how many of them a usual spread counts as; and that spread of the
logarithm of mean power (chosen so that one true mow in fifty of the open world of hand readers is odd)."""
SURPRISE = 3.0
"""A reading this many standard deviations from what all others suggest is odd (common practice)."""


def spot_doubts(
    spot: SpotNotes, pack: Pack, start_charge: float | None = None, temperature_c: float | None = None
) -> tuple[str, ...]:
    """A sentence for every hand reading that is unlikely for this pack; none where all are likely.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39, name="crate")
    >>> spot_doubts(SpotNotes(typical_a=4.4, minutes=600, rest_before_v=54), crate)
    ('4.4 A typical for 600 min are more than crate holds (10 Ah): check amps and minutes.',)
    """
    said = [*_amps(spot, pack), *volts_doubts(spot, pack)]
    before, after = spot.gauge_before, spot.gauge_after
    if before is not None and after is not None and after > before:
        said.append(f"The gauge rises from {100 * before:.0f} to {100 * after:.0f} % while mowing: check it.")
    return tuple(said or _odd_one_out(weigh(spot, pack, start_charge, temperature_c).surprise))


def beyond_label(spot: SpotNotes, pack: Pack) -> bool:
    """Whether hand readings come to more charge than a log of the pack may: the mow is then set aside.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10, cut_off_v=39)
    >>> [beyond_label(SpotNotes(mean_a=9, minutes=each), crate) for each in (89, 91)]  # 13.35 and 13.65 Ah
    [False, True]
    """
    return _ah_read(spot) > MOST_OF_RATED * most_held(pack)


def _ah_read(spot: SpotNotes) -> float:
    mean = current_read(spot)
    return 0.0 if mean is None or spot.minutes is None else mean.amps * spot.minutes / 60


def scatter_of_next(seen: Sequence[float], usual_std: float) -> float:
    """Standard deviation of the logarithm of a next value around the median of those seen (n,).

    Their own spread, with a usual one that counts as `USUAL_MOWS` of them:

    >>> round(scatter_of_next([100.0, 100.0, 100.0, 100.0], 0.05), 4)  # sqrt(4 * .05^2 / 8 * 5 / 4)
    0.0395
    """
    off = np.log(np.array(seen) / np.median(seen))
    variance = (USUAL_MOWS * usual_std**2 + float(off @ off)) / (USUAL_MOWS + len(off))
    return math.sqrt(variance * (1 + 1 / len(off)))


def habit_doubts(mow: MowFeatures, others: Iterable[MowFeatures]) -> tuple[str, ...]:
    """A sentence where hand readings give a mean power that is unlikely by the machine's other such mows.

    Compared on logarithms, by `scatter_of_next`.
    """
    seen_w = [one.mean_w for one in others if one.spot and one.machine == mow.machine]
    if not mow.spot or len(seen_w) < LEAST_MOWS:
        return ()
    by = math.log(mow.mean_w / float(np.median(seen_w)))
    if abs(by) <= SURPRISE * scatter_of_next(seen_w, USUAL_STD):
        return ()
    return (
        f"The mean power is much {'more' if by > 0 else 'less'} than in the other mows noted by hand "
        f"({math.exp(by):.2g} times the usual): check the amps.",
    )


def _amps(spot: SpotNotes, pack: Pack) -> list[str]:
    said: list[str] = []
    mean = current_read(spot)
    if mean is None:
        return said
    if _ah_read(spot) > OVER_RATED * most_held(pack):
        # what was typed, since the charge used is weighed with all other readings and comes out differently
        typed = [(getattr(spot, f"{name}_a"), name) for name in ("typical", "mean", "highest")]
        amps, name = next((each for each in typed if each[0] is not None), (mean.amps, "by the charger"))
        said.append(
            f"{amps:.3g} A {name} for {spot.minutes:g} min are more than {pack.name} holds "
            f"({pack.says}): check amps and minutes."
        )
    limit = pack.current_limit_a
    for name, times in (("typical_a", OVER_LIMIT), ("mean_a", OVER_LIMIT), ("highest_a", OVER_LIMIT_PEAK)):
        amps = getattr(spot, name)
        if limit is not None and amps is not None and amps > times * limit:
            said.append(
                f"{WORDS[name].capitalize()} are {amps:g}, over the limit of {limit:g} A of {pack.name}: "
                f"check them."
            )
    if limit is None and not said and mean.amps > 60 / SHORTEST_MINUTES * most_held(pack):
        said.append(
            f"{mean.amps:.3g} A on average would empty {pack.name} of {pack.says} in "
            f"{60 * pack.capacity_ah / mean.amps:.0f} min: check the amps."
        )
    return said


def _odd_one_out(surprise: Mapping[str, float]) -> list[str]:
    """A sentence on the reading that fits the others least, if it fits them badly."""
    name = max(surprise, key=lambda each: abs(surprise[each]), default="")
    if abs(surprise.get(name, 0.0)) <= SURPRISE:
        return []
    way = "higher" if surprise[name] > 0 else "lower"
    return [f"{WORDS[name].capitalize()} are much {way} than all other readings say: check them."]
