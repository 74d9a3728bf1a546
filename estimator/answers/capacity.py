"""Recommended capacity: the pack to buy, and what its margin is made of."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.answers.why import Why


@dataclass(frozen=True)
class MarginPart:
    """One part of the recommended capacity [Ah]; the parts add up to it."""

    name: str
    ah: float
    note: str = ""


@dataclass(frozen=True)
class CapacityAnswer:
    """The smallest pack that finishes the lawns with the certainty asked for.

    capacity_ah [Ah] : what is needed, the sum of the parts
    buildable_ah [Ah] : the next size that can be built or bought
    now_ah [Ah] : the rated capacity of the pack in use
    """

    capacity_ah: float
    sure: float
    parts: tuple[MarginPart, ...]
    buildable_ah: float
    now_ah: float
    pack: str
    lawns: tuple[str, ...]
    why: Why
