"""Which lawns to mow, and in which order, when the charge may not last for all of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array, Whole

EXACT_UP_TO = 15
"""All orders of up to this many lawns are tried in an instant; more lawns are ordered by a rule."""
AIMS = ("lawns", "area")


@dataclass(frozen=True)
class Order:
    """Places of the lawns in mowing order, and whether every order was weighed."""

    places: tuple[int, ...]
    exact: bool


def best_order(energy_wh: Array, budget_wh: Array, worth: Array, level: float) -> Order:
    """The order that assures most, then finishes most on average.

    energy_wh (n, lawns) and budget_wh (n,) [Wh] are draws of what each lawn needs and of what the pack gives;
    worth (lawns,) is the worth of finishing each (1 to count lawns, its area to count area). First comes the
    subset of the highest worth that finishes with chance `level` at least; of all orders that begin with it,
    the one with the highest expected worth of finished lawns is taken. Both are exact up to 15 lawns, by
    dynamic programming over subsets (Held & Karp 1962, doi 10.1137/0110015); more go by energy per worth.

    >>> need = np.array([[30.0, 50.0, 90.0]])
    >>> best_order(need, np.array([100.0]), np.ones(3), 0.9)
    Order(places=(0, 1, 2), exact=True)
    >>> best_order(need, np.array([100.0]), np.array([3.0, 5.0, 9.0]), 0.9)
    Order(places=(2, 1, 0), exact=True)
    """
    n, lawns = energy_wh.shape
    if lawns > EXACT_UP_TO:
        cheapest = np.argsort(energy_wh.mean(0) / worth, kind="stable")
        return Order(tuple(int(i) for i in cheapest), False)
    total = np.zeros((1, n), np.float32)
    value, size = np.zeros(1), np.zeros(1, np.int64)
    for i in range(lawns):
        total = np.concatenate([total, total + energy_wh[:, i].astype(np.float32)])
        value, size = np.concatenate([value, value + worth[i]]), np.concatenate([size, size + 1])
    odds = (total <= budget_wh.astype(np.float32)).mean(1)
    sure = odds >= level
    sure[0] = True
    assured = int(np.lexsort((odds, -size, np.where(sure, value, -1.0)))[-1])
    tie_break = 1e-7 * total.mean(1) / total[-1].mean()
    return Order(_best_chain(odds - tie_break, worth, size, assured), True)


def _best_chain(odds: Array, worth: Array, size: Whole, through: int) -> tuple[int, ...]:
    """The order of the highest expected worth whose first lawns are the subset `through` (a bit mask)."""
    lawns = len(worth)
    subset = np.arange(1 << lawns)
    allowed = ((subset & through) == subset) | ((subset & through) == through)
    best = np.full(1 << lawns, -np.inf)
    last = np.full(1 << lawns, -1)
    best[0] = 0.0
    for count in range(1, lawns + 1):
        here = subset[(size == count) & allowed]
        for i in range(lawns):
            mine = here[(here >> i) & 1 == 1]
            reward = best[mine ^ (1 << i)] + worth[i] * odds[mine]
            better = reward > best[mine]
            best[mine[better]] = reward[better]
            last[mine[better]] = i
    places: list[int] = []
    now = (1 << lawns) - 1
    while now:
        places.append(int(last[now]))
        now ^= 1 << places[-1]
    return tuple(reversed(places))
