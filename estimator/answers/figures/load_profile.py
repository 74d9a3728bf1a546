"""The load profile of a logbook's mows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows, with_care
from estimator.answers.keeping.typed import the_machine
from estimator.descriptions import Machine
from estimator.logbook import Logbook, MowRecord, machines, mows

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile


def profile_of(
    logbook: Logbook,
    machine: str | None = None,
    among: Sequence[MowRecord] | None = None,
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
    cared_for = with_care(described, logbook) if described else Machine()
    return fit_features(found, cared_for)
