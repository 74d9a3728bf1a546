"""One recording in several files, where a logger begins a new file every hour: joined by their clocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats
from estimator.importer.one_file import Recording
from estimator.mends import of_file

_APART_S = 3600.0
"""Files further apart than a pause for lunch are two mows (common practice)."""
_APART_UNDATED_S = 60.0
"""Clocks without a date may be of two days: only a logger that goes straight on leaves so little between."""
_ROWS_BELOW = (
    "if they are one mow, put the rows of the later file, without its titles, below those of the earlier one"
)


def are_parts(recordings: Sequence[Recording]) -> bool:
    """Whether each of several files has both amps and volts."""
    return len(recordings) > 1 and all(
        r.current_a is not None and r.voltage_v is not None for r in recordings
    )


def one_after_another(recordings: Sequence[Recording]) -> Recording:
    """The recording whose parts these are, in any order; InputError where their clocks do not follow.

    Every recording has amps and volts. Rows count on from one file to the next.
    """
    files = f"{' and '.join(r.name for r in recordings)} have both amps and volts"
    apart = "add each by itself, as a mow of its own"
    if len({r.signature for r in recordings}) > 1:
        raise InputError(f"{files}, under different titles", mend=apart)
    dated = all(r.started is not None for r in recordings)
    if not dated and any(r.clock_s is None for r in recordings):
        raise InputError(f"{files}, and no clock says when each began", mend=_ROWS_BELOW)
    begun = sorted(((_begun(r, dated), r) for r in recordings), key=lambda each: each[0])
    ordered, most_s = [r for _, r in begun], _APART_S if dated else _APART_UNDATED_S
    pauses_s = [
        (late - early).total_seconds() - float(r.time_s[-1]) for (early, r), (late, _) in pairwise(begun)
    ]
    for gap_s, (one, two) in zip(pauses_s, pairwise(ordered), strict=True):
        if gap_s <= 0:
            by_name, mend = (" by its name", _ROWS_BELOW) if two.start_by_name else ("", apart)
            raise InputError(f"{files}, and {two.name} begins{by_name} before {one.name} ends", mend=mend)
        if gap_s > most_s + one.step_s:
            undated = "" if dated else " by clocks without a date"
            said = f"{two.name} begins {gap_s / 60:.0f} min after {one.name} ends{undated}"
            raise InputError(f"{files}, and {said}", mend=apart)
    first, later = ordered[0], ordered[1:]
    rows, more = [first.rows], list(first.notes)
    for r in later:
        rows.append(r.rows + int(rows[-1][-1]))
        more += of_file(r.name, [note for note in r.notes if note not in first.notes])
    longest = f", at most {max(pauses_s):.0f} s between them" if max(pauses_s) > 2 * first.step_s else ""
    more.append(f"{len(ordered)} files, one after the other: taken as one log, rows counted on{longest}.")
    return replace(
        first,
        name=" + ".join(r.name for r in ordered),
        time_s=np.concatenate([r.time_s + (at - begun[0][0]).total_seconds() for at, r in begun]),
        current_a=_in_turn([r.current_a for r in ordered]),
        voltage_v=_in_turn([r.voltage_v for r in ordered]),
        temperature_c=_in_turn([r.temperature_c for r in ordered]),
        over=np.concatenate([r.over for r in ordered]),
        rows=np.concatenate(rows),
        notes=tuple(more),
        flow_told=all(r.flow_told for r in ordered),
        told_step_s=max(r.told_step_s for r in ordered),
        day_first_seen=next((r.day_first_seen for r in ordered if r.day_first_seen is not None), None),
    )


def _begun(r: Recording, dated: bool) -> datetime:
    if dated and r.started is not None:
        return r.started
    return datetime(2000, 1, 1) + timedelta(seconds=r.clock_s or 0.0)


def _in_turn(each: Sequence[Floats | None]) -> Floats | None:
    found = [x for x in each if x is not None]
    return np.concatenate(found) if len(found) == len(each) else None
