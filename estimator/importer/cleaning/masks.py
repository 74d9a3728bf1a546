"""Mend flaws of a log, one kind at a time: count them, mark them on the time axis, say the change in Ah.

Nothing is left out or bridged without a sentence. Limits are common practice unless a source is named.
"""

from __future__ import annotations

import numpy as np

from estimator.importer.arrays import filled, runs, spans, thinned
from estimator.importer.cleaning.readings_in_work import (
    Mark,
    Series,
    drawn,
    drawn_now,
    high_level,
    leave_out,
    mark,
    plural,
)
from estimator.importer.cleaning.volt_holes import (
    cut_dead_ends,
    draw_volts,
    far_words,
    leaps,
    mend_voltage_spikes,
)

_LEAST_SAG = 2e-4
"""The least sag of any pack per amp, as a share of its volts: 10 milliohms at 50 V (common practice)."""
_FAILED_A = 500.0
"""Meters mark a reading that failed by amps beyond these (common practice)."""
# where the ranges of clamps end [A] (common practice)
_RANGE_ENDS = (2, 4, 6, 10, 20, 40, 50, 60, 80, 100, 200, 300, 400, 500, 600, 800, 1000)


def mend_missing(s: Series) -> None:
    """Leave out readings without amps; draw missing volts as straight lines between their neighbours."""
    _leave_out_failed(s)
    no_amps = ~np.isfinite(s.current_a)
    blank = no_amps & ~s.over_current
    if bool(s.over_current.any()):
        over = s.over_current
        where = spans(s.time_s, over)
        lasting = float(np.sum(np.maximum(where[:, 1] - where[:, 0], 0))) if len(where) else 0.0
        # The highest current, lone spikes excepted.
        seen = s.current_a[np.isfinite(s.current_a)]
        seen = seen[np.abs(seen) <= 4 * high_level(seen)]
        peak = float(seen.max()) if seen.size else 0.0
        at_peak = np.where(over, peak, s.current_a)
        volts = filled(s.voltage_v, s.time_s)
        low = drawn(s.time_s, s.current_a, volts, s.longest_step_s)
        high = drawn(s.time_s, at_peak, volts, s.longest_step_s)
        said = (
            f"{plural(over, 'reading')} over the meter's range ({plural(len(where), 'stretch')}, "
            f"{lasting:.0f} s) left out; at the highest reading {peak:.1f} A they would add "
            f"{high.ah - low.ah:.3f} Ah."
        )
        mark(s, "overload", over, said)
    if bool(blank.any()):
        mark(s, "missing", blank, f"{plural(blank, 'reading')} without amps left out.")
    no_volts = ~np.isfinite(s.voltage_v) & ~no_amps
    if bool(no_volts.any()):
        far = draw_volts(s, no_volts)
        said = f"{plural(no_volts, 'reading')} without volts: drawn straight across{far_words(s, far)}."
        mark(s, "missing", no_volts, said)
    s.keep(np.isfinite(s.current_a) & np.isfinite(s.voltage_v))


def _leave_out_failed(s: Series) -> None:
    """Take amps for failed that have one value far beyond all others, such as 32767 or -9999."""
    size = np.abs(s.current_a)
    top = float(np.nanmax(size, initial=0.0))
    failed = size == top
    others = float(np.nanmax(size[~failed], initial=0.0))
    if top > _FAILED_A and 0 < 10 * others < top and failed.mean() < 0.2:
        s.current_a = np.where(failed, np.nan, s.current_a)
        mark(
            s, "missing", failed, f"{plural(failed, 'reading')} of {top:g} A, far beyond all others: failed."
        )


def mend_lost_signs(s: Series) -> None:
    """Restore the sign of amps below zero that a 16-bit counter shows without it, such as 65.535 for -0.001:
    under such amps the volts do not sag."""
    i, v = s.current_a, s.voltage_v
    for whole in (65.536, 655.36, 6553.6):
        high = i > 0.75 * whole
        # The highest count alone marks a reading that failed.
        lost = np.count_nonzero(i[high] < 65534.5 / 65536 * whole) >= 3 and 0.95 * whole < i.max() < whole
        if lost and i[~high].max(initial=0.0) < 0.5 * whole and v[high].mean() >= v[~high].mean():
            before = drawn_now(s)
            s.current_a = np.where(high, i - whole, i)
            said = f"{plural(high, 'reading')} up to {i.max():g} A without any sag: a counter of 16 bits lost"
            mark(s, "reversed", high, f"{said} their sign, {whole:g} A taken off:", before=before)


def sag_resistance(s: Series) -> float:
    """Sag per amp [ohm] between neighbouring readings; 0.0 where the log shows none."""
    di, dv = np.diff(s.current_a), np.diff(s.voltage_v)
    size = np.abs(di)
    top = high_level(s.current_a)
    use = (size > 0.05 * top) & (size < 1.5 * top) & (np.diff(s.time_s) <= s.longest_step_s)
    use &= ~(s.volts_drawn[1:] | s.volts_drawn[:-1])
    used = di * use
    return max(0.0, -float(used @ dv) / float(used @ di)) if np.count_nonzero(use) >= 10 else 0.0


def mend_spikes(s: Series, current_step_a: float, voltage_step_v: float) -> None:
    """Mend single readings that no pack or motor can cause: amps leaping without sag, volts without amps."""
    n = len(s.time_s)
    if n < 7:
        return
    cut_dead_ends(s)
    _leave_out_glitches(s)
    ohm = sag_resistance(s)
    mend_voltage_spikes(s, ohm, voltage_step_v)
    i, v, n = s.current_a, s.voltage_v, len(s.time_s)
    size = np.abs(i)
    usual = float(np.percentile(thinned(size), 99))
    top = high_level(i)
    bad = np.zeros(n, dtype=np.bool_)
    candidates = np.flatnonzero(size > 1.5 * max(usual if n >= 300 else top, 1.0))
    leap = leaps(i, candidates)
    alone = np.abs(leap) > max(top, 5 * current_step_a)
    for k, jump in (
        zip(candidates[alone], leap[alone], strict=True) if alone.sum() <= max(3, 0.01 * n) else ()
    ):
        m = abs(float(jump))
        lo, hi = max(0, int(k) - 2), min(n, int(k) + 3)
        sag = (float(v[lo]) + float(v[hi - 1])) / 2 - v[lo:hi]
        answer = float(sag.max()) if jump > 0 else float(-sag.min())
        expected = max(ohm, _LEAST_SAG * float(v[k])) * m
        unseen = not s.volts_drawn[k] and expected > 6 * max(voltage_step_v, 0.01) and answer < 0.2 * expected
        bad[k] = unseen or m > 10 * top
    if bool(bad.any()):
        highest = float(np.abs(i[bad]).max())
        said = f"{plural(bad, 'spike')} of one reading left out (up to {highest:.1f} A, without any sag):"
        leave_out(s, "spike", bad, said)


def _leave_out_glitches(s: Series) -> None:
    """Leave out single amps far beyond all others, such as a converter's end of range, while volts stay."""
    size, n = np.abs(s.current_a), len(s.time_s)
    usual = max(float(np.percentile(thinned(size), 95)), 1.0)
    far = np.flatnonzero(size > 20 * usual)
    far = far[(far > 0) & (far < n - 1)]
    if far.size > 0.02 * n:
        return
    beside = np.maximum(size[far - 1], size[far + 1])
    sag = (s.voltage_v[far - 1] + s.voltage_v[far + 1]) / 2 - s.voltage_v[far]
    bad = np.zeros(n, dtype=np.bool_)
    bad[far] = (beside < 0.1 * size[far]) & (
        np.sign(s.current_a[far]) * sag < 0.02 * np.abs(s.voltage_v[far - 1])
    )
    if not bool(bad.any()):
        return
    highest = float(size[bad].max())
    said = f"{plural(bad, 'glitch')} of one reading left out (up to {highest:.0f} A, without any sag):"
    leave_out(s, "spike", bad, said)


def mark_saturation(s: Series, current_step_a: float) -> None:
    """Mark readings at the end of the meter's range: they are kept, but the true current may be higher."""
    i = s.current_a
    top = float(i.max())
    step = max(current_step_a, 1e-6)
    ends = [e for e in _RANGE_ENDS if abs(top - e) <= 1.5 * step]
    at = i >= top - 0.5 * step
    count = int(at.sum())
    below = int(np.count_nonzero((i < top - 0.5 * step) & (i > 0.9 * top)))
    fewest = max(4, 2 * below / max(1.0, 0.1 * top / step) + 3)
    if not ends or not fewest <= count <= 0.3 * len(i) or len(spans(s.time_s, at)) == count:
        return
    said = (
        f"{plural(count, 'reading')} are at {top:g} A, the end of the meter's range: the true current "
        f"may be higher, and so may the charge."
    )
    mark(s, "saturated", at, said)


def mend_stuck(s: Series) -> None:
    """Leave out stretches in which all values stay the same far longer than elsewhere; they become gaps."""
    n = len(s.time_s)
    if n < 100:
        return
    same = (np.diff(s.current_a) == 0) & (np.diff(s.voltage_v) == 0)
    changing = 1 - float(same.mean())
    if changing < 0.5:
        return
    stretches = runs(same)
    lengths = stretches[:, 1] - stretches[:, 0]
    if not lengths.size:
        return
    others = np.sort(lengths)[:-1]
    usual = float(np.percentile(others, 90)) if others.size else 1.0
    bad = np.zeros(n, dtype=np.bool_)
    top, way = high_level(s.current_a), np.sign(s.current_a.sum())  # a charger's amps may stand still
    for start, length in zip(stretches[:, 0], lengths, strict=True):
        seconds = s.time_s[start + length] - s.time_s[start]
        stands = float(s.current_a[start]) * way > 0.1 * top
        if length >= 20 and length > 10 * usual and seconds >= 20 and stands:
            bad[start + 1 : start + length + 1] = True
    if not bool(bad.any()):
        return
    where = f"{plural(bad, 'reading')} in {plural(len(runs(bad)), 'stretch')}"
    leave_out(s, "stuck", bad, f"{where} keep one value: left out as stuck,")


def mark_gaps(s: Series) -> None:
    """Mark steps longer than the longest that is joined; they are never integrated."""
    step = np.diff(s.time_s)
    gaps = np.flatnonzero(step > s.longest_step_s)
    if not gaps.size:
        return
    where = np.column_stack((s.time_s[gaps], s.time_s[gaps + 1]))
    across = float(np.dot(step[gaps], s.current_a[gaps] + s.current_a[gaps + 1])) / 7200
    said = (
        f"{plural(len(gaps), 'gap')} of more than {s.longest_step_s:g} s, {float(step[gaps].sum()):.0f} "
        f"s in all, not counted; straight lines across would add {across:.3f} Ah."
    )
    s.marks.append(Mark("gap", len(gaps), where, 0.0, said))
