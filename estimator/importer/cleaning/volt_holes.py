"""Volts that fail while the clamp goes on reading: draw straight lines in their place, and keep the amps.

Charge needs no volts, so readings of a clamp are kept across a hole in the volts. Volts drawn across a hole
longer than the log's gap length are marked (`volts_drawn`): nothing about the pack is learned from them.
"""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import Bools, Floats, Ints, spans, thinned
from estimator.importer.cleaning.readings_in_work import (
    Series,
    drawn_now,
    high_level,
    leave_out,
    mark,
    plural,
)

_DEAD, _STEADY = 0.1, 0.6
"""With under a tenth of the usual volts no pack is connected; a pack's volts stay above 60 % of their highest
(common practice)."""
_FADING_S = 30.0
"""Behind a battery that has switched itself off, a controller's capacitors hold their volts for no longer [s]
(common practice)."""


def draw_volts(s: Series, bad: Bools) -> Bools:
    """Draw volts as straight lines across the readings of a mask (n,), level at the ends of the log.

    Returns a mask (n,) of those in holes longer than the log's gap length; `volts_drawn` holds them too.

    >>> time_s = np.arange(0.0, 300.0, 10.0)
    >>> s = Series(time_s, np.full(30, 5.0), 54 - time_s / 100, None, np.zeros(30, bool), 30.0, np.arange(30))
    >>> bad = (time_s >= 100) & (time_s < 200)
    >>> s.voltage_v[bad] = np.nan
    >>> far = draw_volts(s, bad)
    >>> round(float(s.voltage_v[15]), 2), int(far.sum()), bool((s.volts_drawn == bad).all())
    (52.5, 10, True)
    """
    good = np.flatnonzero(~bad)
    s.voltage_v = np.interp(s.time_s, s.time_s[good], s.voltage_v[good])
    at = np.searchsorted(good, np.arange(len(bad)))
    left = np.where(at > 0, s.time_s[good][np.maximum(at - 1, 0)], s.time_s[0])
    right = np.where(at < good.size, s.time_s[good][np.minimum(at, good.size - 1)], s.time_s[-1])
    far: Bools = bad & (right - left > 2 * s.longest_step_s)
    s.volts_drawn |= far
    return far


def far_words(s: Series, far: Bools) -> str:
    """A clause about volts that had to be drawn across long holes; empty where there are none."""
    if not bool(far.any()):
        return ""
    where = spans(s.time_s, far)
    longest = float((where[:, 1] - where[:, 0]).max())
    return f" (for up to {longest:.0f} s at a time); their amps count, but the pack is not judged by them"


def cut_dead_ends(s: Series) -> None:
    """Leave out readings from before the leads were on, or from after the pack switched itself off.

    Where amps flow there, the voltmeter failed instead, and `mend_voltage_spikes` draws the volts.
    """
    v = s.voltage_v
    live = np.flatnonzero(v > _DEAD * float(np.percentile(thinned(v), 98)))
    if not live.size or len(live) < 7 or live[-1] - live[0] == len(v) - 1:
        return
    first, last = int(live[0]), int(live[-1])
    own = np.flatnonzero(v > _STEADY * float(np.percentile(thinned(v), 98)))
    if last < len(v) - 1 and s.time_s[last] - s.time_s[own[-1]] < _FADING_S:
        last = int(own[-1])
    lead, tail = slice(0, first), slice(last + 1, len(v))
    dead = np.zeros(len(v), dtype=np.bool_)
    for end in (lead, tail):
        amps = np.abs(s.current_a[end])
        dead[end] = not amps.size or float(np.median(amps)) <= 0.1 * high_level(s.current_a)
    if not bool(dead.any()):
        return
    ends = "start and end" if dead[0] and dead[-1] else "start" if dead[0] else "end"
    leave_out(s, "dead", dead, f"{plural(dead, 'reading')} without volts at the {ends} left out:")


def leaps(x: Floats, at: Ints) -> Floats:
    """How far the values of x (n,) at indices `at` (m,) stand out from both neighbours; 0 at the ends of x.

    >>> leaps(np.array([1.0, 1.0, 9.0, 2.0]), np.array([1, 2, 3])).tolist()
    [0.0, 7.0, 0.0]
    """
    inner = np.clip(at, 1, len(x) - 2)
    back, on = x[inner] - x[inner - 1], x[inner] - x[inner + 1]
    out = np.where(back * on > 0, np.where(np.abs(back) < np.abs(on), back, on), 0.0)
    return np.asarray(np.where(inner == at, out, 0.0))


def mend_voltage_spikes(s: Series, ohm: float, voltage_step_v: float) -> None:
    """Mend volts that no pack can show: lost, as with a loose contact, or leaping without amps.

    ohm : sag per amp [ohm] between neighbouring readings
    """
    v = s.voltage_v
    some = thinned(v)
    live = some[some >= _DEAD * float(np.percentile(some, 98))]
    low_v, usual, high_v = (float(x) for x in np.percentile(live, [5, 50, 95]))
    low_a, high_a = (float(x) for x in np.percentile(np.abs(thinned(s.current_a)), [2, 98]))
    # Where amps stay the same and volts swing, the columns may be swapped.
    steady = low_v > _STEADY * high_v and low_a < _STEADY * high_a
    if not steady:
        usual = float(np.median(some))
    bad = v < _DEAD * usual
    steep = np.flatnonzero(np.abs(np.diff(v)) > 0.15 * usual) + 1
    leap, with_amps = np.abs(leaps(v, steep)), np.abs(leaps(s.current_a, steep))
    alone = steep[(leap > 0.15 * usual) & (leap > 3 * ohm * with_amps + 10 * voltage_step_v)]
    alone = alone[~bad[alone]]
    if len(alone) + (0 if steady else np.count_nonzero(bad)) > 0.2 * len(v):
        return
    bad[alone] = True
    if not bool(bad.any()) or bool(bad.all()):
        return  # with no reading left there is nothing to draw between
    before = drawn_now(s)
    low, high = float(v[bad].min()), float(v[bad].max())
    far = draw_volts(s, bad)
    found = f"{low:.1f} V" if high - low < 0.05 else f"down to {low:.1f} V, up to {high:.1f} V"
    said = (
        f"{plural(bad, 'reading')} with impossible volts ({found}) drawn straight across"
        f"{far_words(s, far)}: {drawn_now(s).wh - before.wh:+.2f} Wh."
    )
    mark(s, "spike", bad, said)
