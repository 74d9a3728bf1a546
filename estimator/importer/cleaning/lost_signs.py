"""Charging among amps without a sign, known by the volts: a charger lifts them, a load lets them sag."""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import runs
from estimator.importer.cleaning.readings_in_work import Series, high_level, plural, turn_signs

_SHORTEST_S = 120.0
"""Charging takes minutes (common practice)."""
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
    for start, end in runs(i > limit).tolist():
        if end - start <= 2 * _BESIDE or t[end - 1] - t[start] < _SHORTEST_S:
            continue
        begins, ends = (_leap(s, start) or 0.0), -(_leap(s, end) or 0.0)
        clear = [leap for leap in (begins, ends) if abs(leap) > 2 * max(noise_v, 1e-6)]
        sags |= bool(clear) and max(clear) < 0
        rises = v[end - _BESIDE : end].mean() > v[start + 1 : start + 1 + _BESIDE].mean()
        charging[start:end] = bool(clear) and min(clear) > 0 and rises
    if not sags or not bool(charging.any()):
        return False
    many = plural(len(runs(charging)), "stretch")
    turn_signs(s, charging, f"Amps have no sign: in {many} volts rise as they flow, so the pack charges.")
    return True


def _leap(s: Series, k: int) -> float | None:
    """How far volts leap where the amps of reading k differ from those before; None at the ends of a log."""
    before, after = slice(max(k - _BESIDE, 0), k), slice(k + 1, k + 1 + _BESIDE)
    if k < _BESIDE or k + 1 + _BESIDE > len(s.time_s) or s.time_s[k] - s.time_s[k - 1] > s.longest_step_s:
        return None
    return float(np.median(s.voltage_v[after]) - np.median(s.voltage_v[before]))
