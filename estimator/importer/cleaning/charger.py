"""Leave out charging before or after the mow: what a charger puts in is not part of what the mow drew.

Braking gives charge back for seconds, a charger for minutes. Limits are common practice.
"""

from __future__ import annotations

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import runs
from estimator.importer.cleaning.readings_in_work import Series, high_level, leave_out
from estimator.importer.meter_uncertainty import weights_h
from estimator.mends import Give

_SHORTEST_S = 120.0
"""Charging takes minutes, braking seconds (common practice)."""
_SLIGHT = 0.01
"""Charge below this share of the total comes from a meter that wavers about zero (common practice)."""


def leave_out_charging(s: Series, current_step_a: float, *, told: bool) -> list[str]:
    """Leave out charging at the ends of a log; returns sentences about charging in its middle.

    told : whether the user said which way the current counts
    Raises InputError where the log holds only charging, unless the user said which way it counts.
    """
    limit = max(3 * current_step_a, 0.02 * high_level(s.current_a), 0.1)
    charging = runs(s.current_a < -limit)
    lasting_s = s.time_s[charging[:, 1] - 1] - s.time_s[charging[:, 0]]
    stretches = charging[lasting_s >= _SHORTEST_S].tolist()
    if not stretches:
        return []
    weight = weights_h(s.time_s, s.longest_step_s)
    out = np.where(s.current_a > limit, s.current_a, 0.0) * weight
    put_in = np.where(s.current_a < -limit, -s.current_a, 0.0) * weight
    total = float(out.sum())
    if total < _SLIGHT * float(put_in.sum()):
        if told:
            return []
        raise InputError(
            f"holds nothing but charging ({float(put_in.sum()):.2f} Ah put in)",
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
            between += float(put_in[start:end].sum())
    lost = np.ones(len(s.time_s), dtype=np.bool_)
    lost[first:last] = False
    if bool(lost.any()):
        ah = float(put_in[:first].sum() + put_in[last:].sum())
        minutes = float(weight[lost].sum()) * 60
        where = "before and after" if first and last < len(lost) else "before" if first else "after"
        said = f"Charging {where} the mow ({minutes:.0f} min, {ah:.2f} Ah put in) left out:"
        leave_out(s, "charging", lost, said)
    if not between:
        return []
    return [
        f"The pack was charged during the log ({between:.2f} Ah put in): charge and energy are what went out "
        f"less what came in; split the file there to have two mows."
    ]
