"""Mending as masks: each kind of flaw is counted, marked on the time axis and costed in Ah and Wh.

Nothing is dropped or bridged without a sentence. Limits are common practice unless a source is named.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from estimator.importer.rows import Bools
from estimator.importer.stamps import Floats, Ints

_RANGE_ENDS = (
    2.0,
    4.0,
    6.0,
    10.0,
    20.0,
    40.0,
    50.0,
    60.0,
    80.0,
    100.0,
    200.0,
    300.0,
    400.0,
    500.0,
    600.0,
    800.0,
    1000.0,
)


@dataclass(frozen=True)
class Mark:
    """One kind of flaw: how many readings, where (m, 2) from and to [s], what mending it changed [Ah, Wh],
    in words."""

    kind: str
    count: int
    spans_s: Floats
    effect_ah: float
    effect_wh: float
    said: str


@dataclass
class Series:
    """Readings on their way through the masks; all arrays (n,), nan where there is no number."""

    time_s: Floats
    current_a: Floats
    voltage_v: Floats
    temperature_c: Floats | None
    over_current: Bools
    longest_step_s: float
    rows: np.ndarray[tuple[int], np.dtype[np.int64]]
    marks: list[Mark] = field(default_factory=list)

    def keep(self, mask: Bools) -> None:
        """Keep the readings where mask (n,) is true."""
        self.time_s, self.current_a, self.voltage_v = (
            self.time_s[mask],
            self.current_a[mask],
            self.voltage_v[mask],
        )
        self.over_current, self.rows = self.over_current[mask], self.rows[mask]
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


def high_level(current_a: Floats) -> float:
    """The 95th percentile of the size of a current (n,) [A]; of a part of them where there are very many."""
    if not len(current_a):
        return 0.0
    return float(np.percentile(np.abs(current_a[:: max(1, len(current_a) // 50_000)]), 95))


def _now(s: Series) -> Drawn:
    return drawn(s.time_s, s.current_a, s.voltage_v, s.longest_step_s)


def spans(time_s: Floats, mask: Bools) -> Floats:
    """The stretches (m, 2) [s] in which a mask (n,) is true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    if not edges.size:
        return np.zeros((0, 2))
    return np.column_stack((time_s[edges[::2]], time_s[edges[1::2] - 1]))


def _mark(
    s: Series, kind: str, mask: Bools, before: Drawn, after: Drawn, said: str, where: Floats | None = None
) -> None:
    s.marks.append(
        Mark(
            kind,
            int(np.count_nonzero(mask)),
            spans(s.time_s, mask) if where is None else where,
            after.ah - before.ah,
            after.wh - before.wh,
            said,
        )
    )


def _plural(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}{'es' if word.endswith('ch') else 's'}"


def mend_missing(s: Series) -> None:
    """Readings without amps are left out; volts missing for one or a few readings are drawn straight
    between neighbours."""
    no_amps = ~np.isfinite(s.current_a)
    blank = no_amps & ~s.over_current
    if bool(s.over_current.any()):
        over = s.over_current
        where = spans(s.time_s, over)
        lasting = float(np.sum(np.maximum(where[:, 1] - where[:, 0], 0))) if len(where) else 0.0
        peak = _highest(s.current_a)
        filled = np.where(over, peak, s.current_a)
        volts = _filled(s.time_s, s.voltage_v)
        low = drawn(s.time_s, s.current_a, volts, s.longest_step_s)
        high = drawn(s.time_s, filled, volts, s.longest_step_s)
        said = (
            f"{_plural(int(over.sum()), 'reading')} over the meter's range "
            f"({_plural(len(where), 'stretch')}, "
            f"{lasting:.0f} s) left out; at the highest reading {peak:.1f} A they would add "
            f"{high.ah - low.ah:.3f} Ah."
        )
        _mark(s, "overload", over, low, low, said)
    if bool(blank.any()):
        said = f"{_plural(int(blank.sum()), 'reading')} without amps left out."
        now = _now(s)
        _mark(s, "missing", blank, now, now, said)
    no_volts = ~np.isfinite(s.voltage_v) & ~no_amps
    if bool(no_volts.any()):
        before = _now(s)
        filled, far = _bridged(s.time_s, s.voltage_v, s.longest_step_s)
        s.voltage_v = filled
        lost = no_volts & far
        s.current_a = np.where(lost, np.nan, s.current_a)
        after = _now(s)
        said = (
            f"{_plural(int(no_volts.sum()), 'reading')} without volts: drawn straight between their "
            f"neighbours"
        )
        said += f", {int(lost.sum())} too far from any left out." if bool(lost.any()) else "."
        _mark(s, "missing", no_volts, before, after, said)
    s.keep(np.isfinite(s.current_a) & np.isfinite(s.voltage_v))


def _highest(current_a: Floats) -> float:
    """The highest current [A] that is no lone spike."""
    seen = current_a[np.isfinite(current_a)]
    seen = seen[np.abs(seen) <= 4 * high_level(seen)]
    return float(seen.max()) if seen.size else 0.0


def _filled(time_s: Floats, values: Floats) -> Floats:
    good = np.isfinite(values)
    if bool(good.all()) or not bool(good.any()):
        return values
    return np.interp(time_s, time_s[good], values[good])


def _bridged(time_s: Floats, values: Floats, longest_step_s: float) -> tuple[Floats, Bools]:
    good = np.flatnonzero(np.isfinite(values))
    if not good.size:
        return values, np.ones(len(values), dtype=np.bool_)
    at = np.searchsorted(time_s[good], time_s)
    left = time_s[good][np.clip(at - 1, 0, good.size - 1)]
    right = time_s[good][np.clip(at, 0, good.size - 1)]
    near = np.minimum(np.abs(time_s - left), np.abs(right - time_s))
    far = (near > longest_step_s) | ((right - left) > 2 * longest_step_s)
    return np.interp(time_s, time_s[good], values[good]), far


def sag_resistance(s: Series) -> float:
    """Sag per amp [ohm] between neighbouring readings, 0.0 where the log shows none."""
    di, dv = np.diff(s.current_a), np.diff(s.voltage_v)
    size = np.abs(di)
    top = high_level(s.current_a)
    use = (size > 0.05 * top) & (size < 1.5 * top) & (np.diff(s.time_s) <= s.longest_step_s)
    if np.count_nonzero(use) < 10:
        return 0.0
    return max(0.0, -float(np.dot(di[use], dv[use]) / np.dot(di[use], di[use])))


def mend_spikes(s: Series, current_step_a: float, voltage_step_v: float) -> None:
    """Single readings that no pack and motor can make: amps that leap without any sag, volts that leap
    without amps."""
    n = len(s.time_s)
    if n < 7:
        return
    ohm = sag_resistance(s)
    _mend_voltage_spikes(s, ohm, voltage_step_v)
    i, v, n = s.current_a, s.voltage_v, len(s.time_s)
    size = np.abs(i)
    usual = float(np.percentile(size[:: max(1, n // 50_000)], 99))
    top = high_level(i)
    bad = np.zeros(n, dtype=np.bool_)
    candidates = np.flatnonzero(size > 1.5 * max(usual if n >= 300 else top, 1.0))
    leap = _leaps(i, candidates)
    alone = np.abs(leap) > max(top, 5 * current_step_a)
    for k, jump in (
        zip(candidates[alone], leap[alone], strict=True) if alone.sum() <= max(3, 0.01 * n) else ()
    ):
        m = abs(float(jump))
        lo, hi = max(0, int(k) - 2), min(n, int(k) + 3)
        sag = (float(v[lo]) + float(v[hi - 1])) / 2 - v[lo:hi]
        answer = float(sag.max()) if jump > 0 else float(-sag.min())
        expected = ohm * m
        unseen = expected > 6 * max(voltage_step_v, 0.01) and answer < 0.2 * expected
        bad[k] = unseen or m > 10 * top
    if bool(bad.any()):
        before = _now(s)
        where = spans(s.time_s, bad)
        after = drawn(s.time_s, np.where(bad, np.nan, i), v, s.longest_step_s)
        said = (
            f"{_plural(int(bad.sum()), 'spike')} of one reading left out (up to "
            f"{float(np.abs(i[bad]).max()):.1f} A, "
            f"without any sag): {after.ah - before.ah:+.3f} Ah."
        )
        _mark(s, "spike", bad, before, after, said, where)
        s.keep(~bad)


def _leaps(x: Floats, at: Ints) -> Floats:
    """How far the readings at indices `at` (m,) stand out from both neighbours, 0 at the ends of x (n,)."""
    inner = np.clip(at, 1, len(x) - 2)
    back, on = x[inner] - x[inner - 1], x[inner] - x[inner + 1]
    out = np.where(back * on > 0, np.where(np.abs(back) < np.abs(on), back, on), 0.0)
    return np.asarray(np.where(inner == at, out, 0.0))


def _mend_voltage_spikes(s: Series, ohm: float, voltage_step_v: float) -> None:
    v = s.voltage_v
    usual = float(np.median(v[:: max(1, len(v) // 50_000)]))
    bad = v < 0.1 * usual
    steep = np.flatnonzero(np.abs(np.diff(v)) > 0.15 * usual) + 1
    leap, with_amps = np.abs(_leaps(v, steep)), np.abs(_leaps(s.current_a, steep))
    bad[steep[(leap > 0.15 * usual) & (leap > 3 * ohm * with_amps + 10 * voltage_step_v)]] = True
    if not bool(bad.any()) or float(bad.mean()) > 0.2:
        return
    before = _now(s)
    filled, far = _bridged(s.time_s, np.where(bad, np.nan, v), s.longest_step_s)
    where = spans(s.time_s, bad)
    count = int(bad.sum())
    s.voltage_v = filled
    after = _now(s)
    said = (
        f"{_plural(count, 'reading')} with volts that cannot be (down to {float(v[bad].min()):.1f} V, up to "
        f"{float(v[bad].max()):.1f} V) drawn straight between their neighbours: "
        f"{after.wh - before.wh:+.2f} Wh."
    )
    lost = bad & far
    _mark(s, "spike", bad, before, after, said, where)
    if bool(lost.any()):
        s.keep(~lost)


def mark_saturation(s: Series, current_step_a: float) -> None:
    """Readings that stand at the end of the meter's range: kept, but the true current may be higher."""
    i = s.current_a
    if len(i) < 30:
        return
    top = float(i.max())
    step = max(current_step_a, 1e-6)
    ends = [e for e in _RANGE_ENDS if abs(top - e) <= 1.5 * step]
    at = i >= top - 0.5 * step
    count = int(at.sum())
    if not ends or count < 4 or len(spans(s.time_s, at)) == count:
        return
    below = int(np.count_nonzero((i < top - 0.5 * step) & (i > 0.9 * top)))
    spread = float(np.std(i[i < top - 0.5 * step])) if count < len(i) else 0.0
    if count < 2 * below / max(1.0, 0.1 * top / step) + 3 or spread < 0.05 * top or count > 0.3 * len(i):
        return
    now = _now(s)
    said = (
        f"{_plural(count, 'reading')} stand at {top:g} A, the end of the meter's range: the true current "
        f"may be higher, "
        f"so the charge is at least what is said."
    )
    _mark(s, "saturated", at, now, now, said)


def mend_stuck(s: Series) -> None:
    """Stretches in which all values stand still far longer than they ever do elsewhere: left out, a gap
    remains."""
    n = len(s.time_s)
    if n < 100:
        return
    same = (np.diff(s.current_a) == 0) & (np.diff(s.voltage_v) == 0)
    changing = 1 - float(same.mean())
    if changing < 0.5:
        return
    edges = np.flatnonzero(np.diff(np.concatenate(([False], same, [False])).astype(np.int8)))
    lengths = edges[1::2] - edges[::2]
    if not lengths.size:
        return
    others = np.sort(lengths)[:-1]
    usual = float(np.percentile(others, 90)) if others.size else 1.0
    bad = np.zeros(n, dtype=np.bool_)
    top = high_level(s.current_a)
    for start, length in zip(edges[::2], lengths, strict=True):
        seconds = s.time_s[start + length] - s.time_s[start]
        stands = abs(float(s.current_a[start])) > 0.1 * top
        if length >= 20 and length > 10 * usual and seconds >= 20 and stands:
            bad[start + 1 : start + length + 1] = True
    if not bool(bad.any()):
        return
    before = _now(s)
    after = drawn(s.time_s[~bad], s.current_a[~bad], s.voltage_v[~bad], s.longest_step_s)
    where = spans(s.time_s, bad)
    said = (
        f"{_plural(int(bad.sum()), 'reading')} in {_plural(len(where), 'stretch')} stand still at one "
        f"value: left out as stuck, {after.ah - before.ah:+.3f} Ah."
    )
    _mark(s, "stuck", bad, before, after, said, where)
    s.keep(~bad)


def mark_gaps(s: Series) -> None:
    """Steps longer than the longest that is joined: marked, and never integrated."""
    step = np.diff(s.time_s)
    gaps = np.flatnonzero(step > s.longest_step_s)
    if not gaps.size:
        return
    where = np.column_stack((s.time_s[gaps], s.time_s[gaps + 1]))
    across = float(np.dot(step[gaps], s.current_a[gaps] + s.current_a[gaps + 1])) / 7200
    said = (
        f"{_plural(len(gaps), 'gap')} of more than {s.longest_step_s:g} s, {float(step[gaps].sum()):.0f} "
        f"s in all, not counted; "
        f"straight lines across would add {across:.3f} Ah."
    )
    s.marks.append(Mark("gap", len(gaps), where, 0.0, 0.0, said))


@dataclass(frozen=True)
class Sense:
    """Whether the clamp sits the wrong way round: the verdict and a sentence, empty where there is nothing
    to say."""

    reverse: bool
    said: str


def sense_of_clamp(s: Series, voltage_step_v: float) -> Sense:
    """Decide by sag whether the current has the wrong sign; amps above zero on the whole are never turned."""
    i, v = s.current_a, s.voltage_v
    if len(i) < 3:
        return Sense(False, "")
    di, dv, step = np.diff(i), np.diff(v), np.diff(s.time_s)
    use = step <= s.longest_step_s
    di, dv = di[use], dv[use]
    noise = max(voltage_step_v, 1e-6)
    norm = float(np.sqrt(np.dot(di, di) * np.dot(dv, dv)))
    agree = float(np.dot(di, dv)) / norm if norm > 0 and float(np.abs(dv).max(initial=0)) > 2 * noise else 0.0
    net = float(np.mean(i))
    if net >= 0:
        said = "Volts rise as amps rise, as when charging: signs are left as they are." if agree > 0.5 else ""
        return Sense(False, said)
    if agree > 0.3:
        return Sense(True, "The clamp sat the wrong way round (volts rise as amps rise): signs turned.")
    if agree > -0.3:
        tenth = max(1, len(v) // 10)
        fall = float(v[:tenth].mean() - v[-tenth:].mean())
        if fall > 3 * noise and float(i.max()) <= 0.05 * float(-i.min()):
            return Sense(
                True, "All amps are below zero while the volts fall: signs turned, discharge counts positive."
            )
    return Sense(False, "More charge goes in than out: signs are left as they are.")
