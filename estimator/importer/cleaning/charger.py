"""Charging before or after the mow, left out: what a charger puts in is no part of what the mow drew.

Braking gives charge back for seconds; a charger puts it in for minutes. Limits are common practice.
"""

from __future__ import annotations

import numpy as np

from estimator.errors import Give, InputError
from estimator.importer.cleaning.readings_in_work import Series, drawn_now, high_level, mark
from estimator.importer.clock.stamps import Floats
from estimator.importer.table.raw_table import Bools

_SHORTEST_S = 120.0
"""A charge takes minutes; braking takes seconds."""
_SLIGHT = 0.01
"""Of the charge that was put in: less is a meter that wavers about zero."""


def leave_out_charging(s: Series, current_step_a: float, file: str, *, told: bool) -> list[str]:
    """Leave out charging at the ends of a log; returns what is said of charging in its middle.

    told : whether the user said which way the current counts
    Raises InputError where the log holds nothing but charging and the user did not say so.
    """
    limit = max(3 * current_step_a, 0.02 * high_level(s.current_a), 0.1)
    weight = _weights(s)
    out = np.where(s.current_a > limit, s.current_a, 0.0) * weight
    put_in = np.where(s.current_a < -limit, -s.current_a, 0.0) * weight
    total = float(out.sum())
    stretches = _stretches(s, s.current_a < -limit)
    if not len(stretches):
        return []
    if total < _SLIGHT * float(put_in.sum()):
        if told:
            return []
        raise InputError(
            f"holds nothing but charging ({float(put_in.sum()) / 3600:.2f} Ah put in)",
            file=file,
            mend=("give the log of a mow; if the sign is wrong, say ", Give("reverse", True), " (or no)"),
        )
    drawn_until = np.concatenate(([0.0], np.cumsum(out)))
    first, last = 0, len(s.time_s)
    between = 0.0
    for start, end in stretches:
        if drawn_until[start] <= _SLIGHT * total:
            first = end
        elif total - drawn_until[end] <= _SLIGHT * total:
            last = min(last, start)
        else:
            between += float(put_in[start:end].sum()) / 3600
    _cut(s, first, last, float(put_in[:first].sum() + put_in[last:].sum()) / 3600)
    if not between:
        return []
    return [
        f"The pack was charged during the log ({between:.2f} Ah put in): charge and energy are what went out "
        f"less what came in; split the file there to have two mows."
    ]


def _cut(s: Series, first: int, last: int, ah: float) -> None:
    """Keep the readings from index `first` up to `last`; `ah` [Ah] is what the rest put in."""
    if first == 0 and last == len(s.time_s):
        return
    lost = np.ones(len(s.time_s), dtype=np.bool_)
    lost[first:last] = False
    minutes = float(_weights(s)[lost].sum()) / 60
    where = "before and after" if first and last < len(lost) else "before" if first else "after"
    before, ends = drawn_now(s), s.time_s
    where_s = [(ends[a], ends[b - 1]) for a, b in ((0, first), (last, len(lost))) if b > a]
    s.keep(~lost)
    after = drawn_now(s)
    said = (
        f"Charging {where} the mow ({minutes:.0f} min, {ah:.2f} Ah put in) left out: "
        f"{after.ah - before.ah:+.3f} Ah."
    )
    mark(s, "charging", lost, before, after, said, np.array(where_s))


def _weights(s: Series) -> Floats:
    """Seconds that each reading stands for (n,), by the trapezoid rule, gaps left out."""
    step = np.diff(s.time_s)
    step = np.where(step > s.longest_step_s, 0.0, step) / 2
    return np.asarray(np.concatenate((step, [0.0])) + np.concatenate(([0.0], step)))


def _stretches(s: Series, charging: Bools) -> list[tuple[int, int]]:
    """Runs of charging that last, as indices from and up to."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], charging, [False])).astype(np.int8)))
    return [
        (int(a), int(b))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if s.time_s[b - 1] - s.time_s[a] >= _SHORTEST_S
    ]
