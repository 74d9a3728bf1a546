"""The clock of one meter aligned with another's by the voltage sag that follows the current.

First comes the lag of the highest normalised cross-correlation. It is then refined window by window: the lag
at which a resistance and two slower sags (10 s and 60 s) explain the volts best, so that slow recovery of the
pack does not bias it. Offset and drift are the straight line through the windows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.errors import InputError
from estimator.importer.arrays import Floats
from estimator.mends import Give

_SEARCH_S = 300.0
"""Clocks of two meters that were set by hand differ by minutes at most (common practice)."""
_TELL_OFFSET = ("say ", Give("offset_s", "SECONDS"))
_SMOOTH_S = 40.0
"""Width of the moving mean that is taken off before peaks are compared: slower than any peak, quicker than
the discharge (common practice)."""
_WEAKEST = 0.5
"""Below this correlation no offset is given; see tests/importer/test_pairing.py for unrelated pairs."""
_SECOND = 0.8
"""A second best that reaches this share of the best leaves the offset open, unless stretches rule it out."""
_STRETCH_S = 30.0  # chosen with the next by tests/importer/test_pairing.py
_AGAINST_SIGMAS = 3.0
"""A second best that is this many standard errors worse over stretches of the log is ruled out: rows of equal
length, with a turn at each end, make every shift by a row look alike, but not stretch by stretch. Amps and
volts of different mows reach 1.5 at most in tests/importer/test_pairing.py."""
_SLOW_S = (10.0, 60.0)
"""Time constants [s] of a pack's lag, quick and slow (common practice)."""
# Windows overlap by half, and nothing is known between two readings: residuals are far from independent.
_SHARED = 12.0


@dataclass(frozen=True)
class Alignment:
    """How the voltmeter's clock is aligned with the ammeter's.

    offset_s, offset_std_s : seconds to add to the voltmeter's clock at its first reading, with standard
        uncertainty; drift_ppm, drift_std_ppm : rate to add [ppm], with standard uncertainty
    correlation : of sag and current at that offset (1 is perfect), whichever way round the clamp sat
    told : whether the user gave the offset
    """

    offset_s: float
    offset_std_s: float
    drift_ppm: float
    drift_std_ppm: float
    correlation: float
    told: bool = False


def align(
    time_a: Floats, current_a: Floats, time_v: Floats, voltage_v: Floats, *, files: str = "the two logs"
) -> Alignment:
    """Offset and drift of the voltmeter's clock compared with the ammeter's, from two logs of one mow.

    time_a, current_a : (n,) of the ammeter; time_v, voltage_v : (m,) of the voltmeter, on its own clock [s]
    Raises InputError where the best correlation is weak or not unique.

    >>> rng = np.random.default_rng(1); t = np.arange(0.0, 900.0)
    >>> load = np.repeat(rng.uniform(5, 25, 180), 5); v = 54 - 0.1 * load
    >>> round(align(t, load, t + 20.0, v).offset_s, 1)
    -20.0
    """
    if len(time_a) < 30 or len(time_v) < 30:
        raise InputError(f"{files} have too few readings to be lined up", mend=_TELL_OFFSET)
    usual = min(float(np.median(np.diff(time_a))), float(np.median(np.diff(time_v))))
    span = max(float(time_a[-1]), float(time_v[-1])) - min(float(time_a[0]), float(time_v[0]))
    dt = max(min(1.0, max(0.25, usual / 2)), span / 200_000)
    grid_a = np.arange(time_a[0], time_a[-1], dt)
    grid_v = np.arange(time_v[0], time_v[-1], dt)
    if min(len(grid_a), len(grid_v)) < 60:
        raise InputError(f"{files} are too short to be lined up", mend=_TELL_OFFSET)
    width = max(3, round(_SMOOTH_S / dt))
    amps = _sharp(np.interp(grid_a, time_a, current_a), width)
    volts = _sharp(np.interp(grid_v, time_v, voltage_v), width)
    start = float(time_v[0] - time_a[0])
    lags, fit = _correlation(amps, -volts, dt, start)
    if not lags.size or not np.isfinite(fit).any():
        raise _refused(files, 0.0)
    # A clamp the wrong way round makes volts rise with amps: then both ways round are rivals.
    fit = np.abs(fit) if np.nanmax(-fit) > np.nanmax(fit) else fit
    best = int(np.nanargmax(fit))
    peak = float(fit[best])
    others = np.where(np.abs(lags - lags[best]) > 10.0, fit, -1.0)
    second = float(np.nanmax(others))
    rival = float(lags[int(np.nanargmax(others))])
    open_still = second > _SECOND * peak and not _ruled_out(
        amps, volts, round(_STRETCH_S / dt), *(round((lag - start) / dt) for lag in (lags[best], rival))
    )
    if peak < _WEAKEST or open_still:
        raise _refused(files, peak, second)
    return _refined(time_a, current_a, time_v, voltage_v, -float(lags[best]), peak, dt, files)


def _refused(files: str, peak: float, second: float = -1.0) -> InputError:
    why = f"sag and current agree only {peak:.2f} at best"
    if peak >= _WEAKEST:
        why = f"sag and current agree nearly as well at two offsets ({peak:.2f} and {second:.2f})"
    return InputError(
        f"{files} do not fit together: {why}", mend=("check that both are of one mow, or ", *_TELL_OFFSET)
    )


def _sharp(x: Floats, width: int) -> Floats:
    from scipy.ndimage import uniform_filter1d

    return np.asarray(x - uniform_filter1d(x, width, mode="nearest"))


def _correlation(a: Floats, b: Floats, dt: float, start: float) -> tuple[Floats, Floats]:
    """Lags [s], and the normalised correlation of a(t) and b(t + lag) where half the shorter one overlaps."""
    from scipy.signal import correlate, correlation_lags

    one_a, one_b = np.ones(len(a)), np.ones(len(b))
    norm = correlate(one_b, a * a, method="fft") * correlate(b * b, one_a, method="fft")
    rho = correlate(b, a, method="fft") / np.sqrt(np.maximum(norm, 1e-12))
    lags = correlation_lags(len(b), len(a)) * dt + start
    both = correlate(one_b, one_a, method="fft")
    enough = (both >= 0.5 * min(len(a), len(b))) & (np.abs(lags) <= _SEARCH_S)
    return lags[enough], rho[enough]


def _ruled_out(amps: Floats, volts: Floats, stretch: int, best: int, rival: int) -> bool:
    """Whether stretches show that volts fit amps worse at the shift `rival` [steps] than at `best`."""
    first, last = max(0, -best, -rival), min(len(amps), len(volts) - best, len(volts) - rival)
    stretches = (last - first) // stretch
    if stretches < 3:
        return False
    use = slice(first, first + stretches * stretch)
    a = amps[use]

    def missed(shift: int) -> Floats:
        v = volts[use.start + shift : use.stop + shift]
        return np.asarray(((v - (a @ v) / (a @ a) * a) ** 2).reshape(stretches, stretch).sum(axis=1))

    worse = missed(rival) - missed(best)
    return bool(worse.mean() > _AGAINST_SIGMAS * float(worse.std(ddof=1)) / np.sqrt(stretches))


def _slow(x: Floats, dt: float, tau: float) -> Floats:
    """A first-order lag of x (n,) with time constant tau [s], by a truncated exponential kernel."""
    from scipy.signal import fftconvolve

    kernel = np.exp(-np.arange(0, 5 * tau, dt) / tau)
    kernel[0] *= 0.5
    kernel /= kernel.sum()
    return np.asarray(fftconvolve(x - x[0], kernel)[: len(x)] + x[0])


def _refined(
    time_a: Floats,
    current_a: Floats,
    time_v: Floats,
    voltage_v: Floats,
    coarse: float,
    peak: float,
    dt: float,
    files: str,
) -> Alignment:
    grid = np.arange(time_a[0], time_a[-1], dt)
    amps = np.interp(grid, time_a, current_a)
    drives = [amps, *(_slow(amps, dt, tau) for tau in _SLOW_S)]
    lo, hi = (
        max(float(time_a[0]), float(time_v[0]) + coarse),
        min(float(time_a[-1]), float(time_v[-1]) + coarse),
    )
    length = max(120.0, (hi - lo) / 10)
    starts = np.arange(lo + 4, max(lo + 5, hi - 4 - 0.75 * length), length / 2)
    fine = 0.1
    tries = np.arange(-3.0, 3.0 + fine / 2, fine)
    at: list[float] = []
    found: list[float] = []
    weight: list[float] = []
    for start in starts:
        inside = np.flatnonzero((time_v + coarse >= start) & (time_v + coarse < start + length))
        inside = inside[:: max(1, len(inside) // 4000)]
        t, v = time_v[inside], voltage_v[inside]
        if len(t) < 20:
            continue
        trend = np.column_stack((np.ones(len(t)), t - t[0]))
        rest = np.empty(len(tries))
        for j, more in enumerate(tries):
            moved = t + coarse + more
            x = np.column_stack([trend, *(np.interp(moved, grid, d) for d in drives)])
            answer = np.linalg.lstsq(x, v, rcond=None)[0]
            rest[j] = float(np.sum((v - x @ answer) ** 2))
        k = int(np.argmin(rest))
        if not 0 < k < len(tries) - 1:
            continue
        curve = rest[k - 1] - 2 * rest[k] + rest[k + 1]
        shift = 0.5 * (rest[k - 1] - rest[k + 1]) / curve if curve > 0 else 0.0
        noise = max(rest[k] / max(1, len(t) - 5), 1e-12)
        at.append(float(t.mean()))
        found.append(float(tries[k] + shift * fine))
        weight.append(float(curve) / fine**2 / noise)
    if len(found) < 2:
        return Alignment(coarse, dt, 0.0, 100.0, peak)
    x, y, w = np.array(at), np.array(found), np.array(weight)
    begin = float(time_v[0])
    keep = np.ones(len(x), dtype=np.bool_)
    sheet = np.column_stack((np.ones(len(x)), x - begin))
    # Clocks of meters keep within some hundred ppm: a prior of 150 ppm steadies short logs.
    prior = np.diag([0.0, 1 / 150e-6**2])
    for _ in range(4):
        scale = w[keep] / _SHARED
        normal = sheet[keep].T @ (sheet[keep] * scale[:, None]) + prior
        line = np.linalg.solve(normal, sheet[keep].T @ (scale * y[keep]))
        off = np.abs(y - sheet @ line)
        keep = off <= max(0.3, 3 * float(np.median(off)))
    if float(np.mean(off <= 1.0)) < 0.6:
        raise _refused(files, peak * float(np.mean(off <= 1.0)))
    spread = float(np.sqrt(np.average((y[keep] - sheet[keep] @ line) ** 2, weights=w[keep])))
    inverse = np.linalg.inv(normal)
    inflate = max(1.0, spread**2 * float(np.mean(w[keep])) / _SHARED)
    std = np.sqrt(np.diag(inverse) * inflate)
    return Alignment(
        offset_s=coarse + float(line[0]),
        offset_std_s=float(np.hypot(std[0], 0.03)),
        drift_ppm=float(line[1]) * 1e6,
        drift_std_ppm=float(min(std[1] * 1e6, 150.0)),
        correlation=peak,
    )
