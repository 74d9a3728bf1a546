"""What the user may decide instead of the importer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict

from estimator.importer.meter import Meter


class Choices(TypedDict, total=False):
    """Every decision of the importer that can be overruled; what is left out is decided from the data.

    columns : quantity (time, date, current, voltage, power, temperature) to title, or number from 1
    day_first : whether dates such as 03/04 begin with the day
    decimal : decimal mark, "." or ","
    reverse : whether the clamp sat the wrong way round
    zero_a : zero error of the clamp [A], taken off every reading; 0.0 leaves all readings as they are
    offset_s, drift_ppm : what must be added to the voltmeter's clock [s], and how much slower it runs
        [parts per million]
    meters : known meters; one with a signature is used for the files that bear it, one without for all
    max_bytes, max_rows : limits for files from strangers
    """

    columns: Mapping[str, str | int] | None
    day_first: bool | None
    decimal: str | None
    reverse: bool | None
    zero_a: float | None
    offset_s: float | None
    drift_ppm: float | None
    meters: Sequence[Meter]
    max_bytes: int
    max_rows: int | None


@dataclass(frozen=True)
class Decision:
    """One decision of the importer: about what, how it was taken, and the choice that overrules it."""

    about: str
    taken: str
    overrule: str
