"""Notice files that hold more than one mow."""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import Ints, thinned
from estimator.importer.cleaning.readings_in_work import Series, high_level

_REST_S = 3600.0
"""A mow does not pause for an hour: what follows is another mow (common practice)."""
_CHANGED_S, _AROUND_S, _FRESH = 20.0, 60.0, 1.06
"""Changing a pack takes at least so long [s]; volts at work are compared over so long [s] before and after
the pause; a rest lifts them by less than this factor (common practice)."""


def said_of_several(s: Series) -> list[str]:
    """Sentences where an hour or more without work divides a log: each part may be a mow of its own."""
    top = high_level(s.current_a)
    if top <= 0:
        return []
    at_work = np.flatnonzero(s.current_a >= 0.1 * top)
    said = _said_of_swap(s, at_work)
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


def _said_of_swap(s: Series, at_work: Ints) -> list[str]:
    """Sentences where volts at work are far higher after a pause than before, though nothing was charged."""
    said: list[str] = []
    t, v = s.time_s[at_work], s.voltage_v[at_work]
    pause = max(_CHANGED_S, 4 * float(np.median(thinned(np.diff(s.time_s)))))
    for k in np.flatnonzero(np.diff(t) >= pause):
        end, begin = at_work[k], at_work[k + 1]
        before = float(np.median(v[np.searchsorted(t, t[k] - _AROUND_S) : k + 1]))
        after = float(np.median(v[k + 1 : np.searchsorted(t, t[k + 1] + _AROUND_S, side="right")]))
        if after > _FRESH * before and not (s.current_a[end:begin] < -0.1).any():
            said.append(
                f"Volts at work leap from {before:.1f} to {after:.1f} V over the pause at minute "
                f"{s.time_s[end] / 60:.0f}: if another pack went on, split the file before row "
                f"{int(s.rows[begin])} to have each by itself."
            )
    return said[:3]
