"""Notice files that hold more than one mow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from estimator.importer.arrays import thinned
from estimator.importer.cleaning.readings_in_work import Series, high_level

_REST_S = 3600.0
"""A mow does not pause for an hour: what follows is another mow (common practice)."""
_CHANGED_S, _AROUND_S, _SETTLED_S, _FRESH = 20.0, 60.0, 180.0, 1.06
"""Changing a pack takes at least so long [s]; volts at work are compared over so long [s] before the pause
and up to so long [s] after it, when what a rest lifted has sunk again; a pack that rested is then lifted by
less than this factor (common practice)."""


def said_of_several(s: Series, leaps: Sequence[int]) -> list[str]:
    """Sentences where a log holds more than one mow or pack.

    leaps : as `leaps` finds them
    """
    top = high_level(s.current_a)
    if top <= 0:
        return []
    at_work = np.flatnonzero(s.current_a >= 0.1 * top)
    said = [
        f"Volts at work are far higher from minute {s.time_s[k] / 60:.0f} on than before the pause: another "
        f"pack went on there, or this one was charged. What follows counts for the lawn and not for this "
        f"pack; split the mow there where another pack went on."
        for k in leaps
    ]
    pauses = np.flatnonzero(np.diff(s.time_s[at_work]) >= _REST_S)
    unread = np.diff(at_work)[pauses] == 1
    for k in at_work[pauses[unread]].tolist():
        minutes, row = (s.time_s[k + 1] - s.time_s[k]) / 60, int(s.rows[k + 1])
        said.append(
            f"No reading for {minutes:.0f} min before row {row}, with the motor at work on both sides: the "
            f"clock leapt, or another mow begins there; split the file before it then."
        )
    rests = pauses[~unread]
    edges = np.concatenate(([0], rests + 1, [len(at_work)]))
    share = np.diff(edges) / max(1, len(at_work))
    begins = [int(s.rows[at_work[k]]) for k, part in zip(edges[:-1], share, strict=True) if part > 0.01]
    if len(begins) < 2:
        return said
    rows = ", ".join(map(str, begins[1:]))
    return [
        *said,
        f"The log holds {len(begins)} mows with an hour or more of rest between, taken as one: split it "
        f"before row{'s' if len(begins) > 2 else ''} {rows} to have each by itself.",
    ]


def leaps(s: Series) -> list[int]:
    """The first reading after each pause from which on volts at work are far higher, uncharged."""
    top = high_level(s.current_a)
    at_work = np.flatnonzero(s.current_a >= 0.1 * top) if top > 0 else np.zeros(0, int)
    found: list[int] = []
    t, v = s.time_s[at_work], s.voltage_v[at_work]
    pause = max(_CHANGED_S, 4 * float(np.median(thinned(np.diff(s.time_s))))) if len(at_work) else 0.0
    for k in np.flatnonzero(np.diff(t) >= pause):
        end, begin = at_work[k], at_work[k + 1]
        before = float(np.median(v[np.searchsorted(t, t[k] - _AROUND_S) : k + 1]))
        settled = int(np.searchsorted(t, t[k + 1] + _SETTLED_S, side="right"))
        after = float(np.median(v[max(k + 1, np.searchsorted(t, t[settled - 1] - _AROUND_S)) : settled]))
        if after > _FRESH * before and not (s.current_a[end:begin] < -0.1).any():
            found.append(int(end + 1 + np.argmax(np.diff(s.voltage_v[end : begin + 1]))))
    return found
