"""The load profile of a logbook's mows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from estimator.answers.mow_figures import features_of_mows, with_care
from estimator.answers.names import the_machine
from estimator.logbook import Logbook, mows

if TYPE_CHECKING:
    from estimator.fitting.profile import LoadProfile


def profile_of(logbook: Logbook, machine: str | None = None, only_lawn: str | None = None) -> LoadProfile:
    """What the mows so far say about the next one; from their kept figures, not from readings.

    machine : only mows with this machine (and those that name none), None takes the only machine or all
    only_lawn : only mows of this lawn
    """
    from estimator.fitting.profile import fit_profile

    chosen = mows(logbook, lawn=only_lawn)
    if machine is not None:
        chosen = [mow for mow in chosen if mow.machine in (machine, None)]
    found = features_of_mows(logbook, chosen)
    named = {mow.machine for mow in chosen if mow.machine}
    described = (
        the_machine(logbook, machine or (named.pop() if len(named) == 1 else None))
        if machine or named
        else None
    )
    return fit_profile(list(found.values()), with_care(described, logbook) if described else None)
