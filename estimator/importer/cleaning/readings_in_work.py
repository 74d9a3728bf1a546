"""Readings on their way through the masks, what they draw, and the marks that the masks leave."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from estimator.importer.clock.stamps import Floats
from estimator.importer.table.raw_table import Bools


@dataclass(frozen=True)
class Mark:
    """One kind of flaw: how many readings, where (m, 2) from and to [s], what mending it changed [Ah],
    in words."""

    kind: str
    count: int
    spans_s: Floats
    effect_ah: float
    said: str


@dataclass
class Series:
    """Readings on their way through the masks; all arrays (n,), nan where there is no number.

    volts_drawn : readings whose volts are straight lines over more than the log's gap length
    """

    time_s: Floats
    current_a: Floats
    voltage_v: Floats
    temperature_c: Floats | None
    over_current: Bools
    longest_step_s: float
    rows: np.ndarray[tuple[int], np.dtype[np.int64]]
    marks: list[Mark] = field(default_factory=list)
    volts_drawn: Bools = field(init=False)

    def __post_init__(self) -> None:
        self.volts_drawn = np.zeros(len(self.time_s), dtype=np.bool_)

    def keep(self, mask: Bools) -> None:
        """Keep the readings where mask (n,) is true."""
        self.time_s, self.current_a, self.voltage_v = (
            self.time_s[mask],
            self.current_a[mask],
            self.voltage_v[mask],
        )
        self.over_current, self.rows = self.over_current[mask], self.rows[mask]
        self.volts_drawn = self.volts_drawn[mask]
        if self.temperature_c is not None:
            self.temperature_c = self.temperature_c[mask]


@dataclass(frozen=True)
class Drawn:
    """Charge [Ah] and energy [Wh] by the trapezoid rule, gaps left out."""

    ah: float
    wh: float


def drawn(time_s: Floats, current_a: Floats, voltage_v: Floats, longest_step_s: float) -> Drawn:
    """Charge and energy of readings (n,), steps longer than `longest_step_s` left out, readings without a
    number skipped.

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
_ALIKE, _ALIKE_S, _REGULAR = 0.02, 1.0, 4
"""Steps within 2 % (or a second) of each other are of one cadence where there are four or more: pauses
differ by more (common practice)."""


def longest_joined_s(
    time_s: Floats, current_a: Floats, voltage_v: Floats, usual_s: float, step_a: float, step_v: float
) -> float:
    """The longest step [s] between readings (n,) that a straight line may join.

    usual_s : median step [s]; step_a, step_v : the meter's resolution [A], [V]

    A log's cadence is what covers most of its time: a minute where a second each was read at first, if the
    steps are so regular that nobody's pauses could be. A step over which nothing changed is no gap either.

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
    still = np.abs(np.diff(current_a)) <= max(step_a, 0.005 * high_level(current_a[np.isfinite(current_a)]))
    still &= np.abs(np.diff(voltage_v)) <= np.maximum(step_v, 0.001 * np.abs(voltage_v[1:]))
    long = np.flatnonzero(steps > longest)
    for i in long[np.argsort(steps[long])]:
        if not still[i]:
            break
        longest = float(steps[i])
    return longest


def high_level(current_a: Floats) -> float:
    """The 95th percentile of the size of a current (n,) [A], of its working part where it mostly rests.

    >>> week = np.zeros(1000); week[:20] = 15.0
    >>> high_level(week)
    15.0
    """
    if not len(current_a):
        return 0.0
    size = np.abs(current_a)
    level = float(np.percentile(size[:: max(1, len(size) // 50_000)], 95))
    if len(size) <= 100 or level >= 0.1 * float(size.max()):
        return level
    few = max(5, len(size) // 1000)
    at_work = 0.1 * float(np.partition(size, -few)[-few])
    return float(np.percentile(size[size >= at_work], 95)) if level < at_work else level


def filled(time_s: Floats, values: Floats) -> Floats:
    """Values (n,) with straight lines across those that are missing (nan); as they are where all are.

    >>> filled(np.array([0.0, 1, 4]), np.array([2.0, np.nan, 6])).tolist()
    [2.0, 3.0, 6.0]
    """
    good = np.isfinite(values)
    if bool(good.all()) or not bool(good.any()):
        return values
    return np.interp(time_s, time_s[good], values[good])


def spans(time_s: Floats, mask: Bools) -> Floats:
    """The stretches (m, 2) [s] in which a mask (n,) is true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    if not edges.size:
        return np.zeros((0, 2))
    return np.column_stack((time_s[edges[::2]], time_s[edges[1::2] - 1]))


def drawn_now(s: Series) -> Drawn:
    """Charge [Ah] and energy [Wh] that the readings draw as they stand."""
    return drawn(s.time_s, s.current_a, s.voltage_v, s.longest_step_s)


def mark(
    s: Series, kind: str, mask: Bools, before: Drawn, after: Drawn, said: str, where: Floats | None = None
) -> None:
    """Leave a mark: readings of one kind (mask, (n,)), and what mending them changed, in words."""
    s.marks.append(
        Mark(
            kind,
            int(np.count_nonzero(mask)),
            spans(s.time_s, mask) if where is None else where,
            after.ah - before.ah,
            said,
        )
    )


def plural(count: int, word: str) -> str:
    """A count with its word.

    >>> plural(1, "reading"), plural(2, "patch")
    ('1 reading', '2 patches')
    """
    return f"{count} {word}" if count == 1 else f"{count} {word}{'es' if word.endswith('ch') else 's'}"
