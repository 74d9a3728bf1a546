"""The load profile of a logbook's mows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from estimator.answers.figures.mow_figures import features_of_mows, marked, with_care
from estimator.answers.keeping.typed import the_machine
from estimator.descriptions import Grass, Machine
from estimator.logbook import Logbook, MowRecord, derived_of, keep_derived, machines, mows

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.fitting.load.mixed_model import MixedFit
    from estimator.fitting.load.profile import LoadProfile

SEARCH = "profile search"
SEARCH_VERSION = "4"
"""Raise it whenever the search of `fit_features` finds other spreads in the same features."""
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
    logbook: Logbook,
    machine: str | None = None,
    among: Sequence[MowRecord] | None = None,
) -> LoadProfile:
    """What the mows so far say about the next one, from their kept figures and not from readings.

    machine : only mows with this machine (and those that name none); None takes the only machine, or all
    among : all mows of the logbook, where they have been listed already

    The slow part of the fit, the search for the spreads, is kept until a mow or a description changes.
    """
    chosen = list(mows(logbook) if among is None else among)
    if machine is not None:
        chosen = [mow for mow in chosen if mow.machine in (machine, None)]
    found = list(features_of_mows(logbook, chosen).values())
    named = {mow.machine for mow in chosen if mow.machine} or {each.name for each in machines(logbook)}
    one = machine or (named.pop() if len(named) == 1 else None)
    described = the_machine(logbook, one) if one else None
    cared_for = with_care(described or Machine(), logbook)
    return _fitted(logbook, f"load profile {machine}", found, cared_for)


def _fitted(logbook: Logbook, subject: str, features: Sequence[MowFeatures], machine: Machine) -> LoadProfile:
    from estimator.fitting.load.profile import fit_features

    mark = marked(features, machine)
    kept = derived_of(logbook, subject, SEARCH, SEARCH_VERSION)
    if kept is not None and kept["mark"] == mark:
        nothing = fit_features([], machine)
        before = replace(
            nothing, energy=_with(nothing.energy, kept["energy"]), pace=_with(nothing.pace, kept["pace"])
        )
        return fit_features(features, machine, before=before)
    profile = fit_features(features, machine)
    if features and logbook.keeps:
        keep_derived(
            logbook, subject, SEARCH, SEARCH_VERSION,
            {"mark": mark, "energy": _members(profile.energy), "pace": _members(profile.pace)},
        )  # fmt: skip
    return profile


def _members(fit: MixedFit) -> dict[str, Any]:
    return {"z": fit.z.tolist(), "log_proposal": fit.log_proposal.tolist()}


def _with(fit: MixedFit, plain: dict[str, Any]) -> MixedFit:
    import numpy as np

    return replace(fit, z=np.array(plain["z"]), log_proposal=np.array(plain["log_proposal"]))
