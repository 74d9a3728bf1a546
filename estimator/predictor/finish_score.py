"""Odds of finishing, scored against mows that were done and mows that stopped short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class ScoredFinish:
    """One mow: the odds of finishing that it would have been given, and whether its whole lawn was done."""

    lawn: str
    started: str | None
    odds: float
    done: bool


@dataclass(frozen=True)
class FinishScore:
    """How the odds of finishing compare with what came.

    mows, done : number of mows, and of those whose whole lawn was done; expected : that number by the odds
    low, high : band that holds it in 9 of 10 cases if the odds are right
    when_done, when_stopped : mean odds given to mows that were done, or stopped short; None without any
    brier : mean square of odds minus outcome: 0 for perfect odds, 0.25 for always saying even odds
    """

    mows: int
    done: int
    expected: float
    low: int
    high: int
    when_done: float | None
    when_stopped: float | None
    brier: float


def score_finishes(scored: Sequence[ScoredFinish]) -> FinishScore | None:
    """How good the odds were that these mows were given; None without mows.

    Brier 1950, Monthly Weather Review 78, 1; the number done is taken as a sum of independent coins, one for
    each mow with its odds.

    >>> found = score_finishes([ScoredFinish("a", None, 0.9, True), ScoredFinish("a", None, 0.2, False)])
    >>> found.done, found.expected, round(found.brier, 3)
    (1, 1.1, 0.025)
    """
    if not scored:
        return None
    odds = np.array([one.odds for one in scored])
    done = np.array([one.done for one in scored])
    chances = np.ones(1)
    for each in odds:
        chances = np.convolve(chances, [1.0 - each, each])
    running = np.cumsum(chances)
    return FinishScore(
        mows=len(scored),
        done=int(done.sum()),
        expected=float(odds.sum()),
        low=int(np.argmax(running >= 0.05)),
        high=int(np.argmax(running >= 0.95)),
        when_done=float(odds[done].mean()) if done.any() else None,
        when_stopped=float(odds[~done].mean()) if (~done).any() else None,
        brier=float(np.mean((odds - done) ** 2)),
    )
