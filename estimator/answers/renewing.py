"""Kept figures worked out anew: after a change of the computation, or when in doubt."""

from __future__ import annotations

from collections.abc import Callable

from estimator.answers.mow_figures import features_of_mows
from estimator.answers.pack_chain import fit_of_pack
from estimator.logbook import Logbook, forget_derived, mows, packs


def refresh_figures(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> int:
    """Work out what is missing or of an older computation; returns the number of mows looked at."""
    records = mows(logbook)
    for place, record in enumerate(records, start=1):
        progress(f"mow {place} of {len(records)}")
        features_of_mows(logbook, [record])
    for pack in packs(logbook):
        fit_of_pack(logbook, pack, progress)
    return len(records)


def renew_figures(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> int:
    """Forget every kept figure and work it out from the uploaded bytes; returns the number of mows."""
    forget_derived(logbook)
    return refresh_figures(logbook, progress)
