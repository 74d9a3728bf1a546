"""Refuse or doubt readings that no mower gives: swapped columns, wrong units. Limits are common practice."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import runs, thinned
from estimator.importer.cleaning.readings_in_work import Series, high_level
from estimator.importer.clock.stamps import FIRST_YEAR
from estimator.mends import Give

_LEAST_A, _MOST_A = 0.5, 400.0
_LEAST_V, _MOST_V = 6.0, 150.0
"""Range of a mower's highest amps [A] and of its usual volts [V]: from one block of 6 V to several packs in
series (common practice)."""


def check_sides(s: Series) -> None:
    """Raise InputError where volts swing like amps and amps stay like volts: the columns are swapped."""
    if len(s.time_s) < 30:
        return
    amps, volts = np.abs(thinned(s.current_a)), np.abs(thinned(s.voltage_v))
    low_a, high_a = np.percentile(amps, [2, 98])
    low_v, high_v = np.percentile(volts, [2, 98])
    if low_a > 0.6 * high_a and low_v < 0.3 * high_v and high_a > high_v:
        raise InputError(
            f"volts swing from {low_v:.3g} to {high_v:.3g} while amps stay at {low_a:.3g} to {high_a:.3g}: "
            f"the columns seem to be swapped",
            mend=("correct the titles, or say which is which, such as ", Give.column("current", "TITLE")),
        )


def said_of_levels(s: Series) -> list[str]:
    """Sentences where amps or volts are out of a mower's range, as they are with a wrong unit in a title."""
    said = []
    top, usual = high_level(s.current_a), float(np.median(thinned(s.voltage_v)))
    if top < _LEAST_A:
        said.append(f"Amps reach only {top:.2g} A, too little for a mower at work: check their unit.")
    if top > _MOST_A:
        said.append(f"Amps reach {top:.0f} A, too much for a mower: check their unit.")
    if usual > _MOST_V:
        said.append(f"Volts are at {usual:.0f} V, too much for a mower's pack: check their unit and column.")
    if usual < _LEAST_V:
        said.append(f"Volts are at {usual:.2g} V, too little for a pack: check their unit and column.")
    return said


def check_levels(s: Series) -> None:
    """Raise InputError where amps or volts are so large that they must be thousandths."""
    top, usual = high_level(s.current_a), float(np.median(thinned(s.voltage_v)))
    if top > 1000 and usual > _LEAST_V:
        raise InputError(
            f"amps reach {top:.0f} A at {usual:.0f} V, more than any pack gives",
            mend=("say their unit, such as ", Give.column("current", "TITLE[mA]"), " or TITLE[0.01A]"),
        )
    if usual > 1500:
        raise InputError(
            f"volts are at {usual:.0f} V, more than any pack has",
            mend=("say their unit, such as ", Give.column("voltage", "TITLE[mV]"), " or TITLE[0.01V]"),
        )


def check_no_counter(s: Series) -> None:
    """Raise InputError where amps begin at zero, rise in a hundred steps and never fall, like a counter."""
    steps = np.diff(s.current_a)
    counts = steps.min(initial=0.0) >= 0 and np.count_nonzero(steps) >= 100
    if counts and abs(s.current_a[0]) <= 0.02 * s.current_a[-1]:
        raise InputError(
            "amps never fall, as a counter of charge does",
            row=int(s.rows[0]),
            mend=("say which column is the current, such as ", Give.column("current", "TITLE")),
        )


def check_flow(s: Series) -> None:
    """Raise InputError where amps are only noise about zero: no current flows in the clamp's cable."""
    i = s.current_a
    spread = float(np.std(i))
    if len(i) < 30 or spread == 0 or float(np.abs(i).max()) > _LEAST_A:
        return
    follow = float(np.corrcoef(i[1:], i[:-1])[0, 1]) if np.std(i[1:]) and np.std(i[:-1]) else 1.0
    if abs(float(np.mean(i))) < 0.2 * spread and abs(follow) < 0.25 and np.abs(i).max() < 6 * spread:
        raise InputError(
            f"amps are noise of {spread:.2g} A about zero: nothing flows",
            mend="check that the clamp is closed around the cable of the pack",
        )


def said_of_clock(started: datetime | None) -> list[str]:
    """A sentence where the meter's clock was never set and so shows its maker's first year, or the future."""
    if started is None:
        return []
    day = started.replace(tzinfo=None)
    if day.year >= FIRST_YEAR and day <= datetime.now() + timedelta(days=2):
        return []
    return [f"The meter's clock says {day:%Y-%m-%d}, so it was not set: say when the mow started."]


def said_of_hung_clamp(s: Series) -> list[str]:
    """A sentence where amps stay at one value for a minute or more while volts go on changing as before."""
    still = np.diff(s.current_a) == 0
    stretches = runs(still)
    if len(still) < 100 or not len(stretches):
        return []
    a, b = (int(end) for end in max(stretches, key=lambda ends: ends[1] - ends[0]))
    level, elsewhere = float(s.current_a[a]), np.concatenate((still[:a], still[b:]))
    if b - a < 60 or s.time_s[b] - s.time_s[a] < 60 or level <= 0.1 * high_level(s.current_a):
        return []
    swing = np.abs(np.diff(s.voltage_v))
    changes = swing[~still]
    if (
        len(elsewhere) < 60
        or elsewhere.mean() > 0.5
        or float(swing[a:b].mean()) < 0.3 * float(changes.mean())
    ):
        return []
    minutes = (s.time_s[a] - s.time_s[0]) / 60
    return [
        f"Amps stay at {level:g} A from minute {minutes:.0f} on ({b - a} readings) while volts go on "
        f"changing: the clamp seems to have frozen."
    ]
