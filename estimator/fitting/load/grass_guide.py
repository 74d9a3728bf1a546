"""How to judge grass by eye, and what each kind has cost on these lawns so far."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from estimator.descriptions import MOISTURE_SIGNS, Grass
from estimator.fitting.load.grass_effects import COLUMNS, Situation, mean_columns
from estimator.fitting.load.profile import LoadProfile
from estimator.importer.log import HALF_90


@dataclass(frozen=True)
class GuideLine:
    """One kind of grass: how to tell it, and its energy per area compared with dry grass 25 mm above the cut.

    times : that factor; low, high : its 90 % band
    """

    grass: Grass
    name: str
    how_to_tell: str
    times: float
    low: float
    high: float


_KINDS = (
    (Grass("dry", 25), f"{MOISTURE_SIGNS['dry']}; about a finger's width comes off"),
    (Grass("damp", 25), MOISTURE_SIGNS["damp"]),
    (Grass("wet", 25), MOISTURE_SIGNS["wet"]),
    (Grass("dry", 10), "a trim: you can hardly see where the mower has been; under a week since the cut"),
    (Grass("dry", 50), "two fingers' width comes off: the stripe is plain; two weeks or more since the cut"),
)
JUDGING_GROWTH = (
    "Growth is the height that the cut takes off: measure the grass with a ruler before the "
    "first row and after it. If nothing was measured, give the days since the last cut; "
    "if those are forgotten, leave it out."
)


def grass_guide(profile: LoadProfile) -> tuple[GuideLine, ...]:
    """How to tell each kind of grass, and what it takes as far as these mows show.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> [line.name for line in grass_guide(fit_profile([]))]
    ['dry, 25 mm', 'damp, 25 mm', 'wet, 25 mm', 'dry, 10 mm', 'dry, 50 mm']
    """
    fit, p = profile.energy, len(COLUMNS)
    rows = mean_columns([Situation(300.0, grass) for grass, _ in _KINDS], profile.known)
    lines = []
    for (grass, how), step in zip(_KINDS, rows - rows[0], strict=True):
        mean = float(step @ fit.coefficients[:p])
        each = fit.mean[:, :p] @ step
        inner = np.einsum("mqp,p->mq", fit.root[:, :, :p], step)
        std = math.sqrt(float(fit.weight @ ((inner**2).sum(1) + (each - mean) ** 2)))
        times = (math.exp(mean + ends * HALF_90 * std) for ends in (0, -1, 1))
        name = f"{grass.moisture}, {grass.growth_mm:g} mm"
        lines.append(GuideLine(grass, name, how, *times))
    return tuple(lines)
