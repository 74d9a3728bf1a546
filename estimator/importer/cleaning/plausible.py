"""Readings that no mower makes: columns exchanged, units wrongly said. Limits are common practice."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.cleaning.readings_in_work import Series, high_level

_LEAST_A, _MOST_A = 0.5, 400.0
_LEAST_V, _MOST_V = 6.0, 150.0
_FIRST_YEAR = 2015


def check_sides(s: Series, file: str) -> None:
    """InputError where volts swing as amps do and amps stand as volts do: the columns are exchanged."""
    if len(s.time_s) < 30:
        return
    amps, volts = np.abs(s.current_a), np.abs(s.voltage_v)
    low_a, high_a = np.percentile(amps, [2, 98])
    low_v, high_v = np.percentile(volts, [2, 98])
    if low_a > 0.6 * high_a and low_v < 0.3 * high_v and high_a > high_v:
        raise InputError(
            f"volts swing from {low_v:.3g} to {high_v:.3g} while amps stay at {low_a:.3g} to {high_a:.3g}: "
            f"the columns seem exchanged",
            file=file,
            mend="correct the titles, or say which is which, such as --column current=TITLE",
        )


def said_of_levels(s: Series) -> list[str]:
    """Sentences where amps or volts are out of a mower's range, as with a wrong unit in a title."""
    said = []
    top, usual = high_level(s.current_a), float(np.median(s.voltage_v))
    if top < _LEAST_A:
        said.append(f"Amps reach only {top:.2g} A, too little for a mower at work: check their unit.")
    if top > _MOST_A:
        said.append(f"Amps reach {top:.0f} A, too much for a mower: check their unit.")
    if usual > _MOST_V:
        said.append(f"Volts are at {usual:.0f} V, too much for a mower's pack: check their unit and column.")
    if usual < _LEAST_V:
        said.append(f"Volts are at {usual:.2g} V, too little for a pack: check their unit and column.")
    return said


def check_levels(s: Series, file: str) -> None:
    """InputError where amps or volts are a thousand times what can be: thousandths without a word."""
    top, usual = high_level(s.current_a), float(np.median(s.voltage_v))
    if top > 1000 and usual > _LEAST_V:
        raise InputError(
            f"amps reach {top:.0f} A at {usual:.0f} V, as much as no pack gives",
            file=file,
            mend="if they are thousandths, say so with --column current=TITLE[mA]",
        )
    if usual > 1500:
        raise InputError(
            f"volts are at {usual:.0f} V, as many as no pack has",
            file=file,
            mend="if they are thousandths, say so with --column voltage=TITLE[mV]",
        )


def said_of_clock(started: datetime | None) -> list[str]:
    """A sentence where the meter's clock was never set: it then begins at its maker's year, or runs ahead."""
    if started is None:
        return []
    day = started.replace(tzinfo=None)
    if day.year >= _FIRST_YEAR and day <= datetime.now() + timedelta(days=2):
        return []
    return [f"The meter's clock says {day:%Y-%m-%d}, so it was not set: say when the mow started."]
