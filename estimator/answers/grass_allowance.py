"""Energy per area with the grass allowed for, so that mows in different grass can be compared."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.descriptions import Grass

if TYPE_CHECKING:
    from estimator.fitting.features import MowFeatures

ALLOWED_FOR = ("damp", "wet", "growth", "temperature")


def energy_allowing_for_grass(mows: Sequence[MowFeatures]) -> list[float]:
    """Energy per area [Wh/m²] of each mow as it would have been in the usual grass on a lawn like all.

    The effects of moisture, growth, temperature and lawn are those of the load profile fitted to the same mows;
    blade care is left in, for that is what is looked for.
    """
    from estimator.fitting.grass_effects import COLUMNS, Situation, mean_columns
    from estimator.fitting.profile import fit_profile

    profile = fit_profile(list(mows))
    effects = profile.energy.coefficients
    usual = mean_columns(Situation(300.0, Grass()), profile.known)
    columns = [COLUMNS.index(name) for name in ALLOWED_FOR]
    found = []
    for mow in mows:
        here = mean_columns(Situation(mow.area_m2, mow.grass, mow.days_since_care, mow.temperature_c), profile.known)
        extra = sum(float(effects[column] * (here[column] - usual[column])) for column in columns)
        if mow.lawn in profile.lawns:
            extra += float(effects[len(COLUMNS) + profile.lawns.index(mow.lawn)])
        found.append(mow.energy_per_area() / math.exp(extra) if mow.energy_wh > 0 else float("nan"))
    return found
