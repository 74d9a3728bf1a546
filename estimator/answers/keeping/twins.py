"""The same mow kept twice, from files in two formats, which a checksum cannot notice."""

from __future__ import annotations

from datetime import datetime, timedelta

from estimator.answers.figures.mow_figures import USED, USED_VERSION
from estimator.logbook import Logbook, derived_of_mows, mows_begun

WITHIN_S = 5.0
"""Two exports of one recording start in the same second, give or take their rounding."""
SHARE = 0.02
"""Largest relative difference of charge: two files of one mow differ only by rounding, two mows by more."""


def twins_of(
    logbook: Logbook, pack: str | None, started: datetime | None, ah: float, but: int | None = None
) -> tuple[int, ...]:
    """Numbers of the mows of the pack that began within WITHIN_S of `started` and drew the same charge [Ah].

    but : the mow itself, where it is already kept
    """
    if pack is None or started is None:
        return ()
    near = timedelta(seconds=WITHIN_S)
    others = [mow.id for mow in mows_begun(logbook, pack, started - near, started + near) if mow.id != but]
    used = derived_of_mows(logbook, USED, USED_VERSION, others) if others else {}
    return tuple(number for number, plain in used.items() if abs(plain["ah"] - ah) <= SHARE * abs(ah))


def twins_caution(twins: tuple[int, ...]) -> tuple[str, ...]:
    """A caution that names the other mows; empty where there are none.

    >>> twins_caution((3,))[0][:60]
    'Mow 3 of this pack began at the same time and drew the same '
    """
    if not twins:
        return ()
    first = twins[0]
    named = f"Mow {first}" if len(twins) == 1 else f"Mows {', '.join(map(str, twins))}"
    return (
        f"{named} of this pack began at the same time and drew the same charge. If it is the same mow, take "
        "one of them out: kept twice, it counts twice in every answer.",
    )
