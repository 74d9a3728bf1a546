"""Hand readings that cannot be right for any pack: one missing, two out of order, a gauge over 100 %."""

from __future__ import annotations

import math
from dataclasses import asdict
from itertools import pairwise

from estimator.errors import InputError
from estimator.importer.log import SpotNotes

WORDS = {
    "idle_a": "idle amps",
    "typical_a": "typical amps",
    "mean_a": "mean amps",
    "highest_a": "highest amps",
    "load_v": "volts while cutting",
    "rest_before_v": "volts at rest before",
    "rest_after_v": "volts at rest after",
    "minutes": "minutes",
    "gauge_before": "gauge before",
    "gauge_after": "gauge after",
    "rested_minutes": "minutes at rest",
    "put_back_ah": "Ah put back",
    "put_back_wh": "Wh put back",
    "socket_wh": "Wh from the socket",
}
"""The hand readings in the words used for them in messages."""
_ORDERED = (
    ("idle_a", "typical_a", "highest_a"),
    ("idle_a", "mean_a", "highest_a"),
    ("put_back_wh", "socket_wh"),
)
_MOST = {"_a": 2000.0, "_v": 1000.0, "minutes": 1440.0, "_ah": 2000.0, "_wh": 100_000.0}  # beyond any mower


def check_spot(spot: SpotNotes, file: str | None = None) -> None:
    """Raise InputError for hand readings that cannot be right, or that are too few for a mow.

    >>> check_spot(SpotNotes(typical_a=4.4, highest_a=3.0, minutes=20))
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: typical amps of 4.4 are above highest amps of 3; correct one, or swap them
    """
    _check_enough(spot, file)
    given = {name: value for name, value in asdict(spot).items() if value is not None}
    for name, value in given.items():
        _check_value(name, value, file)
    for names in _ORDERED:
        for low, high in pairwise([name for name in names if name in given]):
            if given[low] > given[high]:
                raise InputError(
                    f"{WORDS[low]} of {given[low]:g} are above {WORDS[high]} of {given[high]:g}",
                    file=file,
                    mend="correct one, or swap them",
                )


def has_amps(spot: SpotNotes) -> bool:
    """Whether the amps that were read give a mean current."""
    ends = spot.idle_a is not None and spot.highest_a is not None
    return spot.typical_a is not None or spot.mean_a is not None or ends


def tells_current(spot: SpotNotes) -> bool:
    """Whether a mean current can be had: from amps, from what a charger put back, or from volts at rest.

    >>> tells_current(SpotNotes(put_back_ah=6.0, minutes=30)), tells_current(SpotNotes(socket_wh=300.0))
    (True, False)
    >>> tells_current(SpotNotes(rest_after_v=50.0, minutes=30)), tells_current(SpotNotes(rest_after_v=50.0))
    (True, False)
    """
    return has_amps(spot) or spot.put_back_ah is not None or (bool(spot.minutes) and tells_used(spot))


def tells_used(spot: SpotNotes) -> bool:
    """Whether anything but amps and minutes shows what was used: volts at rest, gauge or charger.

    >>> tells_used(SpotNotes(rest_before_v=54.0)), tells_used(SpotNotes(rest_after_v=50.0))
    (False, True)
    """
    after = spot.rest_after_v, spot.gauge_after, spot.put_back_ah, spot.put_back_wh, spot.socket_wh
    return any(each is not None for each in after)


def tells_minutes(spot: SpotNotes) -> bool:
    """Whether the minutes were noted, or follow from what was used at the amps that were read.

    >>> tells_minutes(SpotNotes(typical_a=10.0)), tells_minutes(SpotNotes(typical_a=10.0, rest_after_v=50.0))
    (False, True)
    """
    return spot.minutes is not None or (has_amps(spot) and tells_used(spot))


def amps_missing(file: str | None = None) -> InputError:
    """The error where the readings give no mean current."""
    mend = "note them, or mean amps, or, with the minutes, volts at rest after or what the charger put back"
    return InputError("typical amps are missing", file=file, mend=mend)


def _check_enough(spot: SpotNotes, file: str | None) -> None:
    if not tells_current(spot):
        raise amps_missing(file)
    if not tells_minutes(spot):
        raise InputError(
            "minutes are missing",
            file=file,
            mend="note how long the mowing took, or volts at rest after it, or what the charger put back",
        )


def _check_value(name: str, value: float, file: str | None) -> None:
    words = WORDS[name]
    if name.startswith("gauge"):
        if not 0 <= value <= 1:
            raise InputError(f"{words} is {100 * value:g} %", file=file, mend="give a number from 0 to 100 %")
        return
    most = next(most for end, most in _MOST.items() if name.endswith(end))
    lowest_is_zero = name in ("idle_a", "rested_minutes")
    if not math.isfinite(value) or value < 0 or (value == 0 and not lowest_is_zero):
        mend = "give a number from zero up" if lowest_is_zero else "give a number above zero"
        raise InputError(f"{words} are {value:g}", file=file, mend=mend)
    if value > most:
        raise InputError(f"{words} are {value:g}", file=file, mend=f"give a number up to {most:g}")
