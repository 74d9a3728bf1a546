"""Changing what is kept: a mow is edited, taken out or brought back, a day of blade care is noted.

Days that a mow or blade care can have.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import CARE, features_of_mows
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.keeping.second_look import check_log
from estimator.descriptions import Machine
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord


def edit_mow(
    logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None, **edits: Any
) -> MowRecord:
    """Change what was said of a mow, keep its history, and refit what rests on it."""
    before = kept.mow(logbook, mow)
    if "started" in edits and edits["started"] is None:
        raise InputError(f"mow {mow}: no date given", mend="write it as 2025-05-01T09:30")
    check_day(edits.get("started"), "start of the mow")
    if edits.get("pack", before.pack) != before.pack:
        check_log(
            kept.log_of(logbook, mow), None if edits["pack"] is None else kept.pack(logbook, edits["pack"])
        )
    record = kept.edit_mow(logbook, mow, **edits)
    features_of_mows(logbook, [record])
    _refresh(logbook, {before.pack, record.pack}, progress)
    return record


def remove_mow(logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None) -> MowRecord:
    """Take a mow out of every answer; it can be restored."""
    kept.remove_mow(logbook, mow)
    record = kept.mow(logbook, mow)
    _refresh(logbook, {record.pack}, progress)
    return record


def restore_mow(logbook: Logbook, mow: int, progress: Callable[[str], None] = lambda _: None) -> MowRecord:
    """Bring a removed mow back."""
    kept.restore_mow(logbook, mow)
    record = kept.mow(logbook, mow)
    _refresh(logbook, {record.pack}, progress)
    return record


def purge_mow(logbook: Logbook, mow: int) -> None:
    """Delete a removed mow for good, with its files and history."""
    kept.purge_mow(logbook, mow)


def note_care(logbook: Logbook, day: date | str, words: str, machine: Machine | None = None) -> kept.Event:
    """Note a day of blade care of a machine, or of all."""
    with logbook.writing():
        number = kept.keep_event(logbook, day, CARE, words, machine.name if machine else None)
        noted = next(event for event in kept.events_of(logbook) if event.id == number)
        check_day(noted.day, "day of care")
    return noted


def _refresh(logbook: Logbook, packs: set[str | None], progress: Callable[[str], None]) -> None:
    for name in packs:
        if name is not None:
            fit_of_pack(logbook, kept.pack(logbook, name), progress)


FIRST_YEAR = 1990
AHEAD = timedelta(days=1)
"""Clocks of other time zones are ahead by up to so much."""


def check_day(day: date | None, what: str, now: datetime | None = None) -> None:
    """Raise InputError for a day to come, and for one before there were such mowers.

    >>> check_day(datetime(2025, 5, 1, 9), "start of the mow", now=datetime(2025, 5, 1, 8))
    >>> check_day(date(2035, 5, 1), "start of the mow", now=datetime(2025, 5, 1, 8))
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: start of the mow is 2035-05-01, which is yet to come; check the year
    """
    if day is None:
        return
    on = day.date() if isinstance(day, datetime) else day
    if on.year < FIRST_YEAR:
        raise InputError(f"{what} is {on}, before {FIRST_YEAR}", mend="check the year")
    if on > ((now or datetime.now()) + AHEAD).date():
        raise InputError(f"{what} is {on}, which is yet to come", mend="check the year")
