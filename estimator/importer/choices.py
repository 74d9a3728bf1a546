"""The decisions that the user can take instead of the importer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict

from estimator.errors import InputError
from estimator.importer.meter import Meter

BREAK, MOWING = GAPS = ("break", "mowing")
"""What minutes without readings can have been."""


class Choices(TypedDict, total=False):
    """Every decision of the importer that can be overruled; what is left out is decided from the data.

    columns : quantity (time, date, current, voltage, power, temperature) to title or number (from 1), either
        of them with its unit in brackets, such as "3[mA]"
    interval_s : time between two rows [s], where the table has no clock
    gap_s : the longest step [s] that still counts as measured
    gaps : what minutes without readings were: "break", in which nothing ran, or "mowing"
    sheet : the sheet of a spreadsheet
    state : title or number of the column that says charging, discharging or rest
    day_first : whether dates such as 03/04 begin with the day
    decimal : decimal mark, "." or ","
    reverse : whether the clamp was the wrong way round
    zero_a : zero error of the clamp [A], subtracted from every reading; 0.0 leaves the readings as they are
    offset_s, drift_ppm : what to add to the voltmeter's clock [s], and how much slower that clock runs
        [parts per million]
    meters : known meters; one with a signature is used for files that have it, one without for all files
    max_bytes, max_rows : limits for files from strangers
    """

    columns: Mapping[str, str | int] | None
    interval_s: float | None
    gap_s: float | None
    gaps: str | None
    sheet: str | None
    state: str | int | None
    day_first: bool | None
    decimal: str | None
    reverse: bool | None
    zero_a: float | None
    offset_s: float | None
    drift_ppm: float | None
    meters: Sequence[Meter]
    max_bytes: int
    max_rows: int | None


_LIMITS = {  # nobody means a value beyond these, but a slip by a power of ten gives one
    "zero_a": (-1000.0, 1000.0, "give amps as a number from -1000 to 1000"),
    "offset_s": (-1e6, 1e6, "give seconds as a number from -1e+06 to 1e+06"),
    "drift_ppm": (-1e5, 1e5, "give parts per million as a number from -100000 to 100000"),
    "interval_s": (5e-324, 86_400.0, "give seconds, more than 0 and at most 86400"),
    "gap_s": (5e-324, 86_400.0, "give seconds, more than 0 and at most 86400"),
    "max_rows": (1.0, float("inf"), "give a whole number from 1 up"),
}


def check_choices(choices: Choices) -> None:
    """Raise InputError for a value that is no choice, such as a zero error that is not a number.

    >>> check_choices({"zero_a": float("nan")})
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: zero_a is nan; give amps as a number from -1000 to 1000
    """
    for name, value in choices.items():
        if value is None:
            continue
        if name in _LIMITS:
            least, most, mend = _LIMITS[name]
            if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
                raise InputError(f"{name} is {value}", mend=mend)
        elif name in ("day_first", "reverse") and not isinstance(value, bool):
            raise InputError(f"{name} is {value}", mend="say yes or no")
        elif name == "gaps" and value not in GAPS:
            raise InputError(f"gaps is {value!r}", mend="say break or mowing")
        elif name == "decimal" and value not in (".", ","):
            raise InputError(f"decimal mark is {value!r}", mend="use . or ,")
        elif name == "columns" and not isinstance(value, Mapping):
            raise InputError(f"columns is {value!r}", mend="name each column, such as current=Amps")


@dataclass(frozen=True)
class Decision:
    """One decision of the importer: what it is about, what was decided, and the choice that overrules it."""

    about: str
    taken: str
    overrule: str
