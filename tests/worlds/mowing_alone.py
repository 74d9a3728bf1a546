"""Seasons without packs: of each mow only the load is made, so that hundreds of seasons take minutes.

For questions that do not depend on cells: what grass and lawns need, and whether the machine changed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from days_to_come import days_of_a_kind, lawns_of_a_day
from half_cells import Array
from owners import Owner, judged, stream
from patchy_mowing import Field, mow
from seasons_of_mows import Change, air_on, draw_course, mown_on

from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.phases import RunTrace

MEANS_STD = 0.018
"""Standard uncertainty of the gain that the owner's meters promise."""
AT_CUT_OFF = 0.97
"""Share of a charge's energy after which a pack stops."""


@dataclass(frozen=True)
class Asked:
    """A day to come: lawns, what is said of the grass, and the energy [Wh] of many days with that grass."""

    fields: tuple[Field, ...]
    growth_mm: float
    moisture: str
    energy_wh: Array


def season_of_features(
    owner: Owner, mows: int, purpose: int, change: Change | None = None
) -> tuple[MowFeatures, ...]:
    """The mows of a season, each on one lawn from a full pack: whole, or as far as a charge goes."""
    course = draw_course(stream(owner.seed, purpose), mows)
    room_j = AT_CUT_OFF * owner.joules(owner.new_ah * owner.health)
    found = []
    for k, started in enumerate(course.dates[:mows]):
        mown = mown_on(owner, course, k, purpose, change)
        power_w = mown.power_w[: mown.done_s[-1]]
        reached = int(np.searchsorted(power_w.cumsum(), room_j))
        short, power_w = reached < len(power_w), power_w[:reached]
        running = power_w[power_w > 0.25 * owner.crew.idle_w] * (1 + owner.meters.gain)
        growth, moisture = judged(mown.rng, mown.day)
        air = air_on(mown.rng, owner, started)
        care = [(started.date() - day.date()).days for day in course.care if day.date() <= started.date()]
        found.append(
            MowFeatures(
                lawn=mown.field.name,
                area_m2=mown.field.area_m2,
                energy_wh=running.sum() / 3600,
                motor_s=float(running.size),
                mean_w=running.mean(),
                peak_1s_w=running.max(),
                peak_5s_w=running.max(),
                peak_30s_w=running.max(),
                typical_v=45.0,
                energy_log_std=0.004,
                pace_log_std=0.0,
                gain_std=MEANS_STD,
                step_s=1.0,
                gap_s=0.0,
                trace=RunTrace.of(running[:10]),
                moisture=moisture,
                growth_mm=growth,
                started=started.isoformat(),
                temperature_c=air if owner.knows_air else None,
                days_since_care=min(care, default=None),
                tags=("stopped short",) * short,
            )
        )
    return tuple(found)


def day_after(owner: Owner, mows: int, purpose: int, days: int = 60) -> Asked:
    """A day after a season of so many mows, described by what a volunteer says of its grass."""
    course = draw_course(stream(owner.seed, purpose), mows)
    rng = stream(owner.seed, 31, 7)
    fields = lawns_of_a_day(rng, owner)
    growth, moisture, of_kind = days_of_a_kind(rng, days, float(course.dullness[mows]))
    energy = [mow(rng, owner.crew, fields, day)[0].sum() / 3600 for day in of_kind]
    return Asked(tuple(fields), growth, moisture, np.array(energy))
