"""Readings while they are being mended, their charge and energy, and marks for what was mended."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from estimator.importer.arrays import Bools, Floats, Ints, spans, thinned


@dataclass(frozen=True)
class Mark:
    """One kind of flaw: how many readings, where, as (m, 2) from and to [s], the change [Ah], in words."""

    kind: str
    count: int
    spans_s: Floats
    effect_ah: float
    said: str


@dataclass
class Series:
    """Readings while they are being mended; all arrays (n,), nan where there is no number.

    volts_drawn : where volts were drawn as straight lines across more than the log's gap length
    """

    time_s: Floats
    current_a: Floats
    voltage_v: Floats
    temperature_c: Floats | None
    over_current: Bools
    longest_step_s: float
    rows: Ints
    marks: list[Mark] = field(default_factory=list)
    volts_drawn: Bools = field(init=False)

    def __post_init__(self) -> None:
        self.volts_drawn = np.zeros(len(self.time_s), dtype=np.bool_)

    def keep(self, mask: Bools) -> None:
        """Keep only the readings where mask (n,) is true."""
        if bool(mask.all()):
            return
        for each in fields(self):
            values = getattr(self, each.name)
            if isinstance(values, np.ndarray):
                setattr(self, each.name, values[mask])


@dataclass(frozen=True)
class Drawn:
    """Charge [Ah] and energy [Wh] by the trapezoid rule, without gaps."""

    ah: float
    wh: float


def drawn(time_s: Floats, current_a: Floats, voltage_v: Floats, longest_step_s: float) -> Drawn:
    """Charge and energy of readings (n,) with amps, without steps longer than `longest_step_s`.

    >>> drawn(np.array([0.0, 3600.0]), np.array([1.0, 1.0]), np.array([50.0, 50.0]), 3600.0)
    Drawn(ah=1.0, wh=50.0)
    """
    good = np.isfinite(current_a)
    if not bool(good.all()):
        time_s, current_a, voltage_v = time_s[good], current_a[good], voltage_v[good]
    step = np.diff(time_s)
    step[step > longest_step_s] = 0.0
    ah = float(np.dot(step, current_a[1:] + current_a[:-1])) / 7200
    power = current_a * voltage_v
    pair = power[1:] + power[:-1]
    if not bool(np.isfinite(pair).all()):
        pair = np.nan_to_num(pair)
    return Drawn(ah, float(np.dot(step, pair)) / 7200)


_LEAST_LONGEST_S, _USUAL_STEPS = 30.0, 3.0
"""A step of up to half a minute is no gap, for the load hardly changes meanwhile; nor is one of up to three
times the usual step, for two readings in a row may get lost (common practice)."""
_ALIKE, _ALIKE_S, _REGULAR = 0.02, 1.0, 4
"""Four or more steps within 2 % (or a second) of each other make a cadence: pauses differ by more (common
practice)."""


def longest_joined_s(
    time_s: Floats,
    current_a: Floats,
    voltage_v: Floats,
    usual_s: float,
    step_a: float,
    step_v: float,
    still_joins: bool = True,
) -> float:
    """The longest step [s] between readings (n,) that a straight line may join.

    usual_s : median step [s]; step_a, step_v : the meter's resolution [A], [V]

    A log's cadence is the step that covers most of its time, if it is more regular than anybody's pauses: a
    minute in a log that at first has a reading a second. A step over which nothing changed is no gap either,
    unless the user has said what such steps are (`still_joins`).

    >>> time_s = np.concatenate([np.arange(60.0), 60.0 * np.arange(1, 20)])
    >>> longest_joined_s(time_s, np.full(79, 30.0), 54 - time_s / 300, 1.0, 0.1, 0.01)
    180.0
    """
    longest = max(_LEAST_LONGEST_S, _USUAL_STEPS * usual_s)
    steps = np.diff(time_s)
    if not np.any(steps > longest):
        return longest
    ordered = np.sort(steps)
    covered = np.cumsum(ordered)
    middle = float(ordered[min(int(np.searchsorted(covered, covered[-1] / 2)), len(ordered) - 1)])
    alike = steps[np.abs(steps - middle) <= max(_ALIKE * middle, _ALIKE_S)]
    if alike.size >= _REGULAR and alike.sum() >= covered[-1] / 2:
        longest = max(longest, _USUAL_STEPS * middle)
    if not still_joins:
        return longest
    still = np.abs(np.diff(current_a)) <= max(step_a, 0.005 * high_level(current_a[np.isfinite(current_a)]))
    still &= np.abs(np.diff(voltage_v)) <= np.maximum(step_v, 0.001 * np.abs(voltage_v[1:]))
    long = np.flatnonzero(steps > longest)
    for i in long[np.argsort(steps[long])]:
        if not still[i]:
            break
        longest = float(steps[i])
    return longest


def high_level(current_a: Floats) -> float:
    """The 95th percentile of |current| (n,) [A]; of its working part where the current mostly rests.

    >>> week = np.zeros(1000); week[:20] = 15.0
    >>> high_level(week)
    15.0
    """
    if not len(current_a):
        return 0.0
    level = float(np.percentile(np.abs(thinned(current_a)), 95))
    if len(current_a) <= 100 or level >= 0.1 * max(float(current_a.max()), -float(current_a.min())):
        return level
    size = np.abs(current_a)
    few = max(5, len(size) // 1000)
    at_work = 0.1 * float(np.partition(size, -few)[-few])
    return float(np.percentile(size[size >= at_work], 95)) if level < at_work else level


def drawn_now(s: Series) -> Drawn:
    """Charge [Ah] and energy [Wh] of the readings as they are now."""
    return drawn(s.time_s, s.current_a, s.voltage_v, s.longest_step_s)


def mark(
    s: Series, kind: str, mask: Bools, said: str, *, before: Drawn | None = None, where: Floats | None = None
) -> None:
    """Leave a mark on readings of one kind (mask, (n,)), in words.

    before : charge and energy before they were mended; the words then end with the change [Ah]
    where : their stretches (m, 2) [s], if they are no longer among the readings
    """
    change = 0.0 if before is None else drawn_now(s).ah - before.ah
    said = said if before is None else f"{said} {change:+.3f} Ah."
    where = spans(s.time_s, mask) if where is None else where
    s.marks.append(Mark(kind, int(np.count_nonzero(mask)), where, change, said))


def leave_out(s: Series, kind: str, mask: Bools, said: str) -> None:
    """Leave out the readings of a mask (n,), and mark how much that changed."""
    before, where = drawn_now(s), spans(s.time_s, mask)
    s.keep(~mask)
    mark(s, kind, mask, said, before=before, where=where)


def turn_signs(s: Series, mask: Bools, said: str) -> None:
    """Turn the signs of the amps where mask (n,) is true, and mark how much that changed."""
    before = drawn_now(s)
    s.current_a = np.where(mask, -s.current_a, s.current_a)
    change = drawn_now(s).ah - before.ah  # not said: twice the charge means nothing to a reader
    s.marks.append(Mark("reversed", int(np.count_nonzero(mask)), spans(s.time_s, mask), change, said))


def plural(what: int | Bools, word: str) -> str:
    """A count, or the count of a mask, with the word for what is counted.

    >>> plural(1, "reading"), plural(np.array([True, True, False]), "patch")
    ('1 reading', '2 patches')
    """
    count = what if isinstance(what, int) else int(np.count_nonzero(what))
    return f"{count} {word}" if count == 1 else f"{count} {word}{'es' if word.endswith('ch') else 's'}"
