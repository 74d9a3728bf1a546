"""The zero error of a clamp, taken where the pack is really at rest."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from estimator.importer.arrays import Floats, runs, thinned
from estimator.importer.choices import Choices, Decision
from estimator.importer.cleaning.readings_in_work import Mark, Series, drawn_now, high_level, plural
from estimator.importer.log import MeterError
from estimator.mends import Give, Note

_SHORTEST_S = 60.0
"""Least length of a quiet stretch amid a mow: a shorter one may be a slow turn (common practice)."""
_SHORTEST_AT_ENDS_S = 25.0
"""Least length at the ends of a log, where somebody waits on purpose (common practice)."""
_FEWEST = 6
"""Least number of readings whose mean is taken as the zero."""


@dataclass(frozen=True)
class Quiet:
    """One quiet stretch: its start and end [s], how many readings, and the current that the clamp shows there
    [A] with its standard uncertainty [A]."""

    start_s: float
    end_s: float
    count: int
    zero_a: float
    std_a: float


@dataclass(frozen=True)
class Zero:
    """The zero error over a log.

    quiet : the stretches it was taken from; zero_a : (n,) zero error at each reading [A]
    std_a : standard uncertainty of what may remain [A]; applied : whether it is large enough to subtract
    """

    quiet: tuple[Quiet, ...]
    zero_a: Floats
    std_a: float
    applied: bool


def quiet_stretches(
    time_s: Floats, current_a: Floats, voltage_v: Floats, current_step_a: float, voltage_step_v: float
) -> tuple[Quiet, ...]:
    """Stretches in which no current flows: a small flat current while the voltage is level or recovering.

    All arrays (n,). A stretch counts where the current stays within 10 steps of the display (at most 1 A and
    5 % of the log's high currents) and spreads by little more than a step, for 60 s (25 s at the ends of the
    log: something may still draw in a shorter stop amid work), while the voltage does not fall, for a falling
    voltage means that something draws. Limits are common practice.

    >>> t = np.arange(0.0, 120.0, 2.0)
    >>> i = np.where(t < 60, 0.2, 15.0); v = np.where(t < 60, 54.0, 52.0)
    >>> round(quiet_stretches(t, i, v, 0.1, 0.1)[0].zero_a, 3)
    0.2
    """
    size = np.abs(current_a)
    high = high_level(current_a)
    limit = 0.5 if 0.005 <= current_step_a < 0.05 else 10 * current_step_a
    # A current into a pack at rest can only be a zero error; a small one out of it may be a controller's.
    inward = min(limit, 1.0, 0.12 * high)
    limit = min(limit, 1.0, 0.05 * high)
    if limit <= 0 or len(time_s) < _FEWEST:
        return ()
    out: list[Quiet] = []
    for start, end in runs(size <= np.where(current_a < 0, inward, limit)).tolist():
        # The first and last reading of a rest may still be work, unless the log begins or ends there.
        lo, hi = start and start + 1, end if end == len(time_s) else end - 1
        shortest = _SHORTEST_AT_ENDS_S if start == 0 or end == len(time_s) else _SHORTEST_S
        if hi - lo < _FEWEST or time_s[hi - 1] - time_s[lo] < shortest:
            continue
        i, v, t = current_a[lo:hi], voltage_v[lo:hi], time_s[lo:hi]
        if float(i.std()) > max(1.2 * current_step_a, min(0.06, 0.2 * limit)) or float(np.diff(t).max()) > 60:
            continue
        if _falls(v, voltage_step_v):
            continue
        spread = float(i.std()) / np.sqrt(len(i))
        out.append(
            Quiet(float(t[0]), float(t[-1]), len(i), float(i.mean()), max(spread, 0.3 * current_step_a))
        )
    return tuple(out)


def rest_to_record_s(step_s: float) -> int:
    """How long [s] a meter that reads every `step_s` [s] must record rest before or after work to be checked.

    The first and last reading of a rest may still be work.

    >>> [rest_to_record_s(step_s) for step_s in (0.2, 1, 3, 10)]
    [30, 30, 40, 70]
    """
    return 10 * math.ceil(max(_SHORTEST_AT_ENDS_S + 2 * step_s, (_FEWEST + 1) * step_s) / 10)


def _falls(v: Floats, step: float) -> bool:
    third = max(2, len(v) // 3)
    fall = float(v[:third].mean() - v[-third:].mean())
    noise = float(np.std(np.diff(v)) / np.sqrt(third))
    level = max(0.1 * step, 2e-5 * float(np.abs(v).mean()), 2.5 * noise)
    return not fall <= level  # missing volts (nan) may have fallen


def zero_error(
    time_s: Floats,
    current_a: Floats,
    voltage_v: Floats,
    *,
    current_step_a: float,
    voltage_step_v: float,
    assumed_std_a: float,
) -> Zero:
    """The zero error at each reading: a straight line between quiet stretches, level outside them.

    assumed_std_a : standard uncertainty [A] of the zero where there is no quiet stretch

    >>> t = np.arange(0.0, 600.0, 2.0); rest = (t < 40) | (t >= 560)
    >>> i = np.where(rest, 0.2, 15.0); v = np.where(rest, 54.0, 52.0)
    >>> zero = zero_error(t, i, v, current_step_a=0.1, voltage_step_v=0.1, assumed_std_a=0.15)
    >>> round(float(zero.zero_a[150]), 2), zero.std_a < 0.15, len(zero.quiet)
    (0.2, True, 2)
    """
    quiet = quiet_stretches(time_s, current_a, voltage_v, current_step_a, voltage_step_v)
    if not quiet:
        return Zero((), np.zeros(len(time_s)), assumed_std_a, False)
    at = np.array([(s.start_s + s.end_s) / 2 for s in quiet])
    zeros = np.array([s.zero_a for s in quiet])
    stds = np.array([s.std_a for s in quiet])
    line = np.interp(time_s, at, zeros)
    away = np.abs(time_s[:, None] - at[None, :]).min(axis=1) if len(at) < 30 else np.zeros(1)
    drift = min(1.0, float(away.mean()) / 1800.0)
    remaining = float(np.hypot(np.sqrt(np.mean(stds**2)), 0.5 * assumed_std_a * drift))
    if len(quiet) > 1:
        remaining = float(np.hypot(remaining, 0.3 * float(np.std(zeros))))
    # A controller's own current of some hundredths of an amp looks like a zero error.
    remaining = float(np.hypot(remaining, min(0.03, 0.3 * assumed_std_a)))
    applied = bool(np.max(np.abs(zeros)) >= 0.5 * current_step_a)
    return Zero(quiet, line, min(remaining, assumed_std_a), applied)


def take_zero_off(
    s: Series, step_a: float, step_v: float, error: MeterError, choices: Choices, decisions: list[Decision]
) -> tuple[MeterError, tuple[Quiet, ...], list[str]]:
    """Subtract the clamp's zero error from the amps, as the user gave it or as quiet stretches show it.

    error : what the meter may be wrong by; `decisions` gets one more. Returns the error that is left, the
    quiet stretches, and sentences.
    """
    told, before = choices.get("zero_a"), drawn_now(s)
    quiet: tuple[Quiet, ...] = ()
    zero_a: float | Floats
    if told is not None:
        zero_a, applied = told, bool(told)
        error = replace(error, current_zero_a=min(error.current_zero_a, max(0.3 * step_a, 0.002)))
        said = f"Zero error of {told:+.3g} A taken off as given."
        said = said if told else "Clamp zero left as read, as given."
    else:
        volts = np.where(s.volts_drawn, np.nan, s.voltage_v)
        zero = zero_error(
            s.time_s,
            s.current_a,
            volts,
            current_step_a=step_a,
            voltage_step_v=step_v,
            assumed_std_a=error.current_zero_a,
        )
        quiet, zero_a, applied = zero.quiet, zero.zero_a, zero.applied
        if not quiet:
            may = error.current_zero_a
            rest_s = rest_to_record_s(float(np.median(np.diff(s.time_s))))
            hours = float(s.time_s[-1] - s.time_s[0]) / 3600
            said = (
                f"No quiet stretch to check the clamp's zero: it may be wrong by {may:.2g} A "
                f"(standard uncertainty), {may * hours:.2g} Ah over this log. Let the meter run with the "
                f"motor off for {rest_s} s before mowing and for {rest_s} s after it."
            )
            low = float(np.percentile(thinned(s.current_a), 2))
            still = quiet_stretches(s.time_s, s.current_a - low, volts, step_a, step_v)
            if not still or not 0.5 < low <= 0.5 * high_level(s.current_a):  # less may be a controller
                return error, (), [said]
            stands_a = round(low + still[0].zero_a, 2)
            stands = f"Amps stay at {stands_a:+g} A for a while, with the volts level"
            mend = ("if the motor was off there, ", Give("zero_a", stands_a), " takes that off")
            return error, (), [said, Note(stands, mend)]
        error = replace(error, current_zero_a=zero.std_a)
        shown = [q.zero_a for q in quiet]
        level = f"{shown[0]:+.3g} A" if round(shown[0], 6) else "0 A"
        if max(shown) - min(shown) >= 0.5 * step_a and len(shown) > 1:
            level += f" to {shown[-1]:+.3g} A"
        said = f"Clamp shows {level} in {plural(len(quiet), 'quiet stretch')}: "
        said += "taken off." if applied else "left as read."
        taken = f"{level} taken off" if applied else "as read"
        decisions.append(Decision("zero of the clamp", taken, "zero_a"))
    if not applied:
        return error, quiet, [said]
    s.current_a = s.current_a - zero_a
    change = drawn_now(s).ah - before.ah
    where = np.array([[q.start_s, q.end_s] for q in quiet]).reshape(-1, 2)
    s.marks.append(Mark("zero", sum(q.count for q in quiet), where, change, f"{said} {change:+.3f} Ah."))
    return error, quiet, []
