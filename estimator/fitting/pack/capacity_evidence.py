"""What logs say about a pack's capacity: how much the curve's shape may say, and the facts that count fully.

The shape of a voltage curve is weak evidence of capacity, since cells of one family differ in how their
electrodes are balanced (Dubarry et al. 2012, J. Power Sources 219, 204). So a fit of the shape counts for no
more than `shape_std` allows, whatever it claims, and for nothing where the label says more. The charge drawn
is a fact: a pack holds at least that and, where the cut-off stopped it, little more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array

SHAPE_STD = 0.30
"""Published half-cell curves, balanced freely, read the first 30 to 70 % of one slow discharge as capacities
5 to 30 % off: a random walk along the charge with this step, fixed at full and at empty."""

LEFT_BY_OHM_AH2, MOST_LEFT_AT_1C = 3.2, 0.065
"""Share of a slow discharge that a discharge at the one-hour rate leaves behind at 25 °C, per square of a
cell's resistance times its capacity [(ohm Ah)²]; and the largest share, as above 0.14 ohm Ah contacts
rather than electrodes resist. Resistance grows with the thickness of the electrodes, and what diffusion holds
back grows with its square. Least squares over ten discharges of
four measured cells to their cut-off: .07 to .08 left at 0.14 ohm Ah; -.01 to .05 at 0.04 to 0.07 ohm Ah and
one to five times that rate, with a scatter of .017."""

LEFT_STD, LEFT_DOUBT = 0.010, 0.25
"""How far that may be off, absolutely and as a fraction of itself (common practice: by data sheets, power
cells give 97 to 99.5 % at the one-hour rate and 92 to 98 % at five times that)."""

END_STD = 0.030
"""No fit knows better than this what a cut-off under load left in the pack, or how much more than the charge
drawn it holds: with .024, bands at the cut-off were too narrow on cells that nothing was tuned on."""

LABEL_FREEDOM = 4.0
"""Degrees of freedom of the prior belief: a label or an old capacity gives way to a fact that lies far off
(Student's t instead of a normal distribution, common practice in robust estimation)."""

ENDS_ALIKE = 0.012
"""What mows leave behind at the cut-off is known no better than this, however many they are (common
practice)."""

_LEFT_GROWS = 0.8  # common practice: less than in proportion, since a loaded cell warms and resists less
_HELD_BACK = 0.02
"""Standard width of the lower limit at the charge drawn so far: a pack that carries its load holds more."""


@dataclass(frozen=True)
class Shown:
    """What one log shows about the capacity down to the cut-off: logarithms of capacity over rated one.

    deepest : the model's own charge at the end of the log
    drawn, drawn_std : the capacity if nothing was left at the end, and its standard uncertainty
    ended : whether the cut-off under load ended the log
    left, left_std : how much more a slow discharge gives than was drawn, if the cut-off ended it; else unused
    """

    deepest: float
    drawn: float
    drawn_std: float
    ended: bool
    left: float = 0.0
    left_std: float = 0.0


@dataclass(frozen=True)
class Believed:
    """Mean and standard uncertainty of the logarithm of capacity over rated capacity."""

    mean: float
    std: float


def shape_std(deepest: float) -> float:
    """Relative error of the capacity that a curve's shape shows, if it was seen down to the charge `deepest`.

    That of a Brownian bridge: 0.3 sqrt(s/(1 - s)).

    >>> [round(shape_std(charge), 2) for charge in (0.7, 0.4, 0.1, 0.02)]
    [0.46, 0.24, 0.1, 0.04]
    """
    charge = float(np.clip(deepest, 0.005, 0.995))
    return SHAPE_STD * float(np.sqrt(charge / (1.0 - charge)))


def left_behind(rate_c: float, factor: float, ohm_ah: float) -> tuple[float, float]:
    """Share of a slow discharge's charge that the cut-off leaves at `rate_c` [1/h], and its uncertainty.

    factor : resistance over that at 25 °C; ohm_ah : resistance of a cell at 25 °C times its capacity [ohm Ah]

    >>> [round(value, 3) for value in left_behind(1.0, 1.0, 0.07)], left_behind(1.0, 1.0, 0.25)[0]
    ([0.016, 0.014], 0.065)
    """
    at_1c = min(LEFT_BY_OHM_AH2 * ohm_ah**2, MOST_LEFT_AT_1C)
    left = at_1c * (max(rate_c, 0.0) * factor) ** _LEFT_GROWS
    return left, LEFT_STD + LEFT_DOUBT * left


def believed(before: Believed, fitted: Believed, shown: Sequence[Shown]) -> Believed:
    """The capacity after some logs: from the belief `before` them, the claim of a fit, and the facts.

    A pack of 10 Ah whose curve seems to show 13 Ah half-way holds hardly more than its label says:

    >>> half = Shown(deepest=0.5, drawn=np.log(0.5), drawn_std=0.01, ended=False)
    >>> after = believed(Believed(0.0, 0.075), Believed(np.log(1.3), 0.01), [half])
    >>> round(after.mean, 3), round(after.std, 3)
    (0.0, 0.075)
    """
    ended = [one for one in shown if one.ended]
    claimed = max(1.0 / fitted.std**2 - 1.0 / before.std**2, 0.0)
    if claimed == 0.0 and not ended:
        return fitted
    shape = (fitted.mean / fitted.std**2 - before.mean / before.std**2) / max(claimed, 1e-9)
    allowed = claimed
    if not ended:
        bound = shape_std(min((one.deepest for one in shown), default=1.0))
        allowed = min(claimed, 1.0 / bound**2) if bound < before.std else 0.0
    fact, sure = 0.0, 0.0
    if ended:
        # fit and fact both guess the same charge left: together they are no surer than the surer one
        best = min(ended, key=lambda one: np.hypot(one.drawn_std, one.left_std))
        fact, sure = best.drawn + best.left, 1.0 / (best.drawn_std**2 + best.left_std**2)
        allowed = min(allowed, 1.0 / (max(END_STD, best.left_std) ** 2 + best.drawn_std**2))
        share = max(allowed, sure) / (allowed + sure)
        allowed, sure = share * allowed, share * sure
    apart = (fact - before.mean) / before.std if ended else 0.0
    trust = (LABEL_FREEDOM + 1.0) / (LABEL_FREEDOM + max(apart**2, 1.0)) / before.std**2
    precision = trust + allowed
    mean = (before.mean * trust + allowed * shape) / precision
    grid = mean + np.linspace(-6.0, 6.0, 481) / np.sqrt(precision)
    log_odds = -0.5 * (precision * (grid - mean) ** 2 + sure * (grid - fact) ** 2)
    for one in shown:
        width = np.hypot(one.drawn_std, 0.0 if one.ended else _HELD_BACK)
        log_odds += log_chance_under((grid - one.drawn) / width)
    odds = np.exp(log_odds - log_odds.max())
    odds /= odds.sum()
    after = float(odds @ grid)
    std = float(np.sqrt(odds @ (grid - after) ** 2))
    return Believed(after, max(std, min(before.std, ENDS_ALIKE)))


def log_chance_under(x: Array) -> Array:
    """Logarithm of the standard normal distribution function at `x` (n,), even far out in its tail.

    Below -30 by the asymptotic series (Abramowitz and Stegun 1964, 26.2.12); scipy's function takes longer to
    load than a fit.

    >>> log_chance_under(np.array([0.0, -40.0])).round(4).tolist()
    [-0.6931, -804.6084]
    """
    near = np.maximum(x, -30.0)
    found = np.log([0.5 * math.erfc(-each / math.sqrt(2.0)) for each in near.tolist()])
    far = np.minimum(x, -30.0)
    series = -0.5 * far * far - np.log(-far * math.sqrt(2 * math.pi)) + np.log1p(-1 / far**2 + 3 / far**4)
    return np.asarray(np.where(x < -30.0, series, found))
