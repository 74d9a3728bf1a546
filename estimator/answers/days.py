"""Days that a mow or blade care can have."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from estimator.errors import InputError

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
