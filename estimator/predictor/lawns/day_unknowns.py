"""What is not known of a day and its pack: what is assumed instead, and how unsure that leaves the answer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.log_grid import ASSUMED_C
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.predictor.lawns.day import DayRun


def temperatures_seen(profile: LoadProfile) -> list[float]:
    """Temperatures [°C] of the mows that have one."""
    return [one.temperature_c for one in profile.loads if one.temperature_c is not None]


def day_temperature(
    profile: LoadProfile, temperature_c: float | None, n: int, rng: np.random.Generator
) -> Array:
    """Temperature (n,) [°C] of the air and of the pack at the start: as given, else each draw a past mow's.

    Where no mow has one, it is the 25 °C that their packs were assumed to have.
    """
    if temperature_c is not None:
        return np.full(n, float(temperature_c))
    return rng.choice(np.array(temperatures_seen(profile) or [ASSUMED_C]), n)


def left_over(run: DayRun, needs: MowNeeds) -> Array:
    """What is left (n,) at the end of the day: the charge, or minus the missing share of the energy."""
    missing = run.delivered_wh / np.maximum(needs.energy_wh.sum(1), 1e-9) - 1
    return np.where(run.finished[:, -1], run.charge_end, np.minimum(missing, 0.0))


def pack_causes(draws: PackDraws) -> dict[str, Array]:
    """The draws (n,) of what is poorly known of the pack."""
    near_empty, half = np.searchsorted(GRID, [0.1, 0.5])
    return {
        "capacity": draws.capacity_ah,
        "resistance": draws.tables[:, half, 1:].sum(1).astype(float),
        "open-circuit curve": draws.tables[:, near_empty, 0].astype(float),
        "temperature": draws.temperature_c,
    }


def day_assumptions(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    starts_full: bool,
    temperature_c: float | None,
    spare: Pack | None,
    exact: bool,
) -> tuple[str, ...]:
    """Sentences on what was not given for a day, and is assumed instead.

    starts_full : whether a full pack is assumed
    exact : whether every order of the lawns was tried
    """
    said = list(profile.assumptions)
    said += not_told(profile, lawns, grasses)
    if starts_full:
        said.append("the pack starts full")
    seen = temperatures_seen(profile)
    if temperature_c is None:
        said.append(
            f"temperature not given: that of the mows so far, {min(seen):.0f} to {max(seen):.0f} °C"
            if seen
            else f"temperature not given: {ASSUMED_C:.0f} °C"
        )
    said.append("under load the pack warms itself")
    if spare is not None:
        said.append("the spare pack is full and takes over where the first stops")
    if not exact:
        said.append("more than 15 lawns: ordered from the least energy up, not every order was tried")
    return tuple(said)


def not_told(profile: LoadProfile, lawns: Sequence[Lawn], grasses: Sequence[Grass]) -> list[str]:
    """Sentences on grass that was not given and on lawns never mown."""
    said = []
    if any(grass.moisture is None for grass in grasses):
        said.append("moisture not given: taken as dry, damp and wet as in the mows so far")
    if any(grass.growth_mm is None and grass.days_since_cut is None for grass in grasses):
        said.append("growth not given: taken as in the mows so far")
    if any(grass.growth_mm is None and grass.days_since_cut is not None for grass in grasses):
        said.append(f"grass is taken to grow {profile.known.growth_mm_a_day:.1f} mm a day")
    new = [lawn.name for lawn in lawns if profile.lawn_index(lawn) < 0]
    if new:
        said.append(f"never mown, predicted from area and the other lawns: {', '.join(new)}")
    return said
