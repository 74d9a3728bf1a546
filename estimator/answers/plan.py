"""Lawns per charge: which of today's lawns finish, with the odds."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.answers.why import Why


@dataclass(frozen=True)
class PlannedLawn:
    """One lawn of the plan: its area [m²], minutes and energy [Wh] with bands, mows known, odds of finishing it."""

    lawn: str
    area_m2: float
    mows_known: int
    minutes: float
    minutes_low: float
    minutes_high: float
    energy_wh: float
    odds: float


@dataclass(frozen=True)
class PlanAnswer:
    """How many of the lawns finish on this charge.

    count : lawns, in the order given, that finish with at least `level`
    minutes [min] : mowing time of those lawns
    """

    count: int
    level: float
    minutes: float
    lawns: tuple[PlannedLawn, ...]
    pack: str
    start_charge: float
    why: Why
