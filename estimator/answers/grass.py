"""How to judge the grass, and how much energy each kind of it took on these lawns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.figures.load_profile import profile_of
from estimator.answers.why import Part, Why
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.fitting.load.grass_guide import GuideLine


@dataclass(frozen=True)
class GrassAnswer:
    """Kinds of grass, their signs, and their energy as a multiple of dry grass 25 mm above the cut.

    lines : one for each kind, `times` with its 90 % band; growth : how to judge the height that comes off
    mows : how many were looked at; with none, the figures are what is usual
    """

    lines: tuple[GuideLine, ...]
    growth: str
    mows: int
    why: Why


def grass_told(logbook: Logbook, machine: str | None = None) -> GrassAnswer:
    """What to look for on a lawn, and the energy that each kind of grass needs, as far as the mows tell."""
    from estimator.fitting.load.grass_guide import JUDGING_GROWTH, grass_guide

    profile = profile_of(logbook, machine)
    count = len(profile.mows)
    return GrassAnswer(
        lines=grass_guide(profile),
        growth=JUDGING_GROWTH,
        mows=count,
        why=Why(
            parts=(Part("mows looked at", str(count)),),
            assumptions=(
                "The signs of dry, damp and wet are common practice.",
                *(() if count else ("No mow yet: the bands are what is usual elsewhere.",)),
            ),
        ),
    )
