"""The load profile of a logbook's mows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows, with_care
from estimator.answers.keeping.typed import the_machine
from estimator.descriptions import Grass, Machine
from estimator.logbook import Logbook, MowRecord, machines, mows

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.fitting.load.profile import LoadProfile

TALL_MM = 100.0
"""Height that a cut seldom takes off a lawn at once (common practice)."""


def rests_on(profile: LoadProfile, grass: Grass | Sequence[Grass]) -> tuple[str, ...]:
    """What an answer about lawns rests on where that is not plain: no mow, or none of grass like it."""
    if not profile.loads:
        kind = "mowers" if profile.machine.kind is None else f"{profile.machine.kind} mowers"
        return (
            f"No mow is kept yet: this rests on what {kind} usually take, which differs several times over.",
        )
    grasses = (grass,) if isinstance(grass, Grass) else grass
    tallest = max((one.growth_mm or 0.0 for one in grasses), default=0.0)
    return tall_doubts(tallest, profile.loads) if profile.machine.kind != "flail" else ()


def tall_doubts(growth_mm: float | None, others: Iterable[MowFeatures]) -> tuple[str, ...]:
    """A sentence where more comes off [mm] than lawns usually lose, and much more than in the other mows.

    >>> tall_doubts(220, ())
    ('220 mm off is more than a lawn usually loses at once: check it.',)
    """
    most = max((one.growth_mm or 0.0 for one in others), default=0.0)
    if (growth_mm or 0.0) <= max(TALL_MM, 2 * most):
        return ()
    than = f"in any mow so far ({most:g} mm)" if most else "a lawn usually loses at once"
    return (f"{growth_mm:g} mm off is more than {than}: check it.",)


def profile_of(
    logbook: Logbook, machine: str | None = None, among: Sequence[MowRecord] | None = None
) -> LoadProfile:
    """What the mows so far say about the next one, from their kept figures and not from readings.

    machine : only mows with this machine (and those that name none); None takes the only machine, or all
    among : all mows of the logbook, where they have been listed already
    """
    from estimator.fitting.load.profile import fit_features

    chosen = list(mows(logbook) if among is None else among)
    if machine is not None:
        chosen = [mow for mow in chosen if mow.machine in (machine, None)]
    found = list(features_of_mows(logbook, chosen).values())
    named = {mow.machine for mow in chosen if mow.machine} or {each.name for each in machines(logbook)}
    one = machine or (named.pop() if len(named) == 1 else None)
    described = the_machine(logbook, one) if one else None
    cared_for = with_care(described or Machine(), logbook)
    return fit_features(found, cared_for)
