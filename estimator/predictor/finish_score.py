"""Odds of finishing, scored against mows done and mows stopped short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class ScoredFinish:
    """One mow with the odds of finishing that it would have been given, and whether it did its whole lawn."""

    lawn: str
    started: str | None
    odds: float
    done: bool


@dataclass(frozen=True)
class FinishScore:
    """Odds of finishing against mows done and stopped short.

    mows, done : how many, and how many did their whole lawn; expected : how many were to by the odds
    low, high : how many would in 9 of 10 cases if the odds were right
    when_done, when_stopped : mean odds given to either; None where there is none
    brier : mean square of odds less outcome: 0 where they knew, 0.25 where they always said even
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
    """What mows done and stopped short say of the odds that they were given; None without any.

    Brier 1950, Monthly Weather Review 78, 1; the number done is a sum of coins of those odds.

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
