"""Holes of minutes in which the logger slept: a break in which nothing was drawn, or the motor ran on.

The volts tell: at rest they recover, while mowing they sink as they do for the charge that mowing draws.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from estimator.importer.arrays import Floats
from estimator.importer.choices import BREAK, MOWING, Choices
from estimator.importer.cleaning.masks import sag_resistance
from estimator.importer.cleaning.readings_in_work import Mark, Series, drawn, high_level
from estimator.importer.log import MeterError
from estimator.mends import Give, Note

UNREAD = "No readings for"
"""How the sentence about a hole begins."""
SHORTEST_S, LONGEST_S = 120.0, 3600.0
"""Shorter holes hardly matter, and in longer ones a pack may have been charged (common practice)."""
_BESIDE_S = 60.0
"""Volts of so long before and after a hole are compared [s]: single patches of grass even out."""
_FEWEST, _SURE = 3, 4.0
"""The fewest readings on either side; how many times the scatter of the volts about a straight line they
must sink by in the hole if the motor ran (common practice)."""
_RESTED, _RAN = 0.3, 0.7
"""Share of that sinking below which the volts show a break, and above which a motor that ran on; between them
it may have run for a part of the time."""
_MOWED_STD, _UNTOLD_STD = 0.15, 0.5
"""How far what is counted in a hole may be off, relative to what mowing draws there: as from mow to mow; and
where nobody knows whether the motor ran (common practice)."""


def fill_holes(s: Series, error: MeterError, choices: Choices) -> tuple[MeterError, list[Note]]:
    """Fill holes in which the logger slept, where volts or the user tell what happened in them.

    Returns the error of the meter, larger by what is not known of the charge drawn in the holes, and a
    sentence for every hole that stays a gap, which no sum crosses.
    """
    step = np.diff(s.time_s)
    holes = np.flatnonzero((step > s.longest_step_s) & (step >= SHORTEST_S) & (step <= LONGEST_S)).tolist()
    on = np.abs(s.current_a) > 0.1 * high_level(s.current_a)
    if not holes or not bool(on.any()):
        return error, []
    told, mean_a = choices.get("gaps"), float(s.current_a[on].mean())
    found = [told or _shown(s, k, mean_a) for k in holes]
    untold, unsure_ah = list[Note](), 0.0
    for k, what in reversed(list(zip(holes, found, strict=True))):
        minutes, since = step[k] / 60, (s.time_s[k] - s.time_s[0]) / 60
        mowing_ah = mean_a * minutes / 60
        head = f"{UNREAD} {minutes:.0f} min from minute {since:.0f} on: "
        if what is None:
            unsure_ah += _UNTOLD_STD * mowing_ah
            head += (
                f"not counted, though {mowing_ah:.2f} Ah more if the motor ran, which the volts do not show"
            )
            either = (Give("gaps", BREAK), " for a break, ", Give("gaps", MOWING), " if it ran")
            untold.insert(0, Note(head, ("say ", *either)))
            continue
        unsure_ah += _MOWED_STD * mowing_ah if what == MOWING else 0.0
        head += "nothing ran" if what == BREAK else f"the motor ran on, some {mowing_ah:.2f} Ah"
        other = Give("gaps", MOWING if what == BREAK else BREAK), " overrules it"
        said = f"{head}, as you said." if told else Note(f"{head}, by the volts before and after", other)
        _fill(s, k, mean_a if what == MOWING else 0.0, said)
    whole_ah = max(drawn(s.time_s, s.current_a, s.voltage_v, s.longest_step_s).ah, unsure_ah)
    unsure = unsure_ah / whole_ah if whole_ah > 0 else 0.0
    return replace(error, current_gain=float(np.hypot(error.current_gain, unsure))), untold


def _shown(s: Series, k: int, mean_a: float) -> str | None:
    """What the volts show of the hole after reading `k`, in which mowing would draw `mean_a` [A]; None where
    they do not tell."""
    t, open_v = s.time_s, s.voltage_v + sag_resistance(s) * s.current_a
    before = (t > t[k] - _BESIDE_S) & (t <= t[k]) & ~s.volts_drawn
    after = (t >= t[k + 1]) & (t < t[k + 1] + _BESIDE_S) & ~s.volts_drawn
    if min(before.sum(), after.sum()) < _FEWEST:
        return None
    slope, scatter_v = _sinking(s, open_v, k)
    sinks_v = -slope * mean_a * (t[k + 1] - t[k]) / 3600
    if sinks_v <= _SURE * scatter_v:
        return None
    share = float(np.median(open_v[before]) - np.median(open_v[after])) / sinks_v
    return BREAK if share < _RESTED else MOWING if share > _RAN else None


def _sinking(s: Series, open_v: Floats, k: int) -> tuple[float, float]:
    """How the volts (n,) change with the charge drawn [V/Ah], and their scatter about that [V], on the longer
    side of a hole, up to the next one; its first fifth, in which a pack that was full or at rest settles, is
    left out."""
    gaps = np.flatnonzero(np.diff(s.time_s) > s.longest_step_s)
    ends = np.concatenate(([-1], gaps, [len(s.time_s) - 1])) + 1
    place = int(ends.searchsorted(k + 1))
    sides = [(int(ends[place - 1]), int(ends[place])), (int(ends[place]), int(ends[place + 1]))]
    low, high = max(sides, key=lambda side: s.time_s[side[1] - 1] - s.time_s[side[0]])
    low += (high - low) // 5
    step_h = np.diff(s.time_s[low:high], prepend=s.time_s[low]) / 3600
    used = np.cumsum(step_h * s.current_a[low:high])
    if high - low < 10 or used[-1] <= 0:
        return 0.0, np.inf
    line = np.polyfit(used, open_v[low:high], 1)
    return float(line[0]), float(np.std(open_v[low:high] - np.polyval(line, used)))


def _fill(s: Series, k: int, amps: float, said: str) -> None:
    """Put readings of a current into the hole after reading `k`; volts are drawn there, and teach nothing."""
    start, end = float(s.time_s[k]), float(s.time_s[k + 1])
    edge = min(1.0, s.longest_step_s / 2)
    time_s = np.linspace(start + edge, end - edge, int(np.ceil((end - start) / s.longest_step_s)) + 1)
    new = {
        "time_s": time_s,
        "current_a": np.full(len(time_s), amps),
        "voltage_v": np.interp(time_s, s.time_s[k : k + 2], s.voltage_v[k : k + 2]),
        "volts_drawn": np.ones(len(time_s), dtype=np.bool_),
    }
    for each in fields(s):
        values = getattr(s, each.name)
        if isinstance(values, np.ndarray):
            there = new.get(each.name, np.repeat(values[k], len(time_s)))
            setattr(s, each.name, np.insert(values, k + 1, there))
    where = np.array([[start, end]])
    s.marks.append(Mark("asleep", len(time_s), where, amps * (end - start) / 3600, said))
