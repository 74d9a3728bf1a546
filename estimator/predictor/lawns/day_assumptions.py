"""What was not given of a day of lawns, and what was taken instead, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.log_grid import ASSUMED_C


def day_assumptions(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    starts_full: bool,
    temperature_c: float | None,
    spare: Pack | None,
    exact: bool,
) -> tuple[str, ...]:
    """Sentences on what was not given of a day.

    starts_full : whether a full pack is taken for granted
    exact : whether every order of the lawns was weighed
    """
    said = list(profile.assumptions)
    said += not_told(profile, lawns, grasses)
    if starts_full:
        said.append("the pack starts full")
    seen = [one.temperature_c for one in profile.loads if one.temperature_c is not None]
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
    """Sentences on grass that was not given and lawns never mown."""
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
