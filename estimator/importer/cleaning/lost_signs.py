"""Charging among amps without a sign, known by the volts: a charger lifts them, a load lets them sag."""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import Bools, runs
from estimator.importer.cleaning.readings_in_work import Series, high_level, plural, turn_signs

_SHORTEST_S = 120.0
"""Charging takes minutes (common practice)."""
_EVEN = 0.05
"""From one reading to the next a charger's amps change by less than this share (common practice)."""
_BESIDE = 3
"""So many readings on each side of a step are taken together, since one may lag."""


def turn_charging(s: Series, noise_v: float) -> bool:
    """Turn the signs of stretches in which volts leap up as amps begin, rise, and fall as amps end.

    Whether there were any; only where no amps are below zero, and volts sag under other amps of the log.
    """
    i, v, t = s.current_a, s.voltage_v, s.time_s
    limit = 0.02 * high_level(i)
    if not limit or float(i.min()) < -limit:
        return False
    charging, sags = np.zeros(len(i), dtype=np.bool_), False
    flows = i > limit
    for start, end in runs(flows).tolist():
        if end - start <= 2 * _BESIDE or t[end - 1] - t[start] < _SHORTEST_S:
            continue
        begins, ends = (_leap(s, flows, start) or 0.0), -(_leap(s, flows, end) or 0.0)
        clear = [leap for leap in (begins, ends) if abs(leap) > 1.5 * max(noise_v, 1e-6)]
        sags |= bool(clear) and max(clear) < 0
        rises = v[end - _BESIDE : end].mean() > v[start + 1 : start + 1 + _BESIDE].mean()
        even = float(np.median(np.abs(np.diff(i[start:end])))) < _EVEN * float(i[start:end].mean())
        charging[start:end] = bool(clear) and min(clear) > 0 and rises and even
    if not sags or not bool(charging.any()):
        return False
    many = plural(len(runs(charging)), "stretch")
    turn_signs(s, charging, f"Amps have no sign: in {many} volts rise as they flow, so the pack charges.")
    return True


def _leap(s: Series, flows: Bools, k: int) -> float | None:
    """How far volts leap at reading k, where amps begin or end; None at the ends of a log and across gaps."""
    before, after = slice(max(k - _BESIDE, 0), k), slice(k + 1, k + 1 + _BESIDE)
    if k == 0 or k + 1 >= len(flows) or s.time_s[k] - s.time_s[k - 1] > s.longest_step_s:
        return None
    old, new = (s.voltage_v[x][flows[x] == flows[at]] for x, at in ((before, k - 1), (after, k)))
    return float(np.median(new) - np.median(old)) if min(old.size, new.size) > 1 else None
