"""Notice files that hold more than one mow, or the same readings twice."""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import Floats, Ints, thinned
from estimator.importer.cleaning.readings_in_work import Series, high_level, leave_out

_REST_S = 3600.0
"""A mow does not pause for an hour: what follows is another mow (common practice)."""
_CHANGED_S, _AROUND_S, _FRESH = 20.0, 60.0, 1.06
"""Changing a pack takes at least so long [s]; volts at work are compared over so long [s] before and after
the pause; a rest lifts them by less than this factor (common practice)."""
_PATTERN = 60
"""How many readings in a row must come again to be a copy and not chance."""
_MOST_TRIES, _MOST_WHOLE = 2000, 20  # bound the work: places where a copy may begin, and full comparisons


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


def leave_out_copies(s: Series) -> None:
    """Leave out one copy of readings that a file holds twice, as when exports are appended to one another."""
    n, i, v = len(s.time_s), s.current_a, s.voltage_v
    moves = np.flatnonzero(np.abs(np.diff(i)) > 0)
    if len(moves) < _PATTERN:
        return
    # The first readings may all be the same: search from where they start to change.
    at = int(moves[0])
    found = at + 1 + np.flatnonzero(i[at + 1 : n - _PATTERN] == i[at])
    for ahead in range(1, _PATTERN):
        found = found[i[found + ahead] == i[at + ahead]]
    whole = 0
    for shift in (int(k) - at for k in found[:_MOST_TRIES]):
        length = min(shift, n - shift)
        first, second = slice(0, length), slice(shift, shift + length)
        # The periods of a periodic log all begin alike: compare only a few in full.
        if not _alike(i[: min(length, 4096)], i[shift : shift + min(length, 4096)]):
            continue
        whole += 1
        if whole > _MOST_WHOLE:
            return
        if not (_alike(i[first], i[second]) and _alike(v[first], v[second])):
            continue
        if length < _PATTERN or len(np.unique(i[first])) < 10:
            continue
        # A later export of the same memory begins with the earlier one and goes on: keep the later.
        lost = np.zeros(n, dtype=np.bool_)
        lost[first if shift + length < n else second] = True
        said = (
            f"{length} readings from row {int(s.rows[shift])} on are a copy of the first ones: counted once,"
        )
        leave_out(s, "copied", lost, said)
        return


def _alike(a: Floats, b: Floats) -> bool:
    return bool(np.array_equal(a, b, equal_nan=True))
