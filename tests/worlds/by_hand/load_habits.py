"""How a machine loads its pack in five kinds of mowing, second by second for one lawn.

`patchy` is the walk of the rest of this world. The others are different: grass with rare tall tufts, strokes
with stops between obstacles, a reel that slowly clogs and is cleared, a drive on rolling ground. All figures
are invented. Every kind gives power [W] and area done [m²] in each second, as `patchy_mowing.walk` does.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from half_cells import Array
from patchy_mowing import OFF_W, Crew, Day, Field, _slow_noise, walk, work_factor
from scipy.signal import lfilter

Walk = Callable[[np.random.Generator, Crew, Field, Day], tuple[Array, Array]]
HERTZ = 10
"""How many instants a second the load is followed at, for a clamp that holds the highest."""


def _mean_cut(crew: Crew, field: Field, day: Day) -> tuple[float, float]:
    """Mean area cut in a second [m²/s], and the mean power of cutting it [W]."""
    heavy = work_factor(crew, field, day)
    rate = crew.width_m * (1 - crew.overlap) * crew.pace_m_s * float(np.clip(heavy, 0.3, 4)) ** -crew.slowing
    return rate, crew.cut_j_m2 * heavy * rate


def _finished(crew: Crew, field: Field, power: Array, busy: Array, rate: float) -> tuple[Array, Array]:
    """Power and area up to where the lawn is done, with `busy` (0..1) as the speed in each second."""
    area = np.cumsum(busy) * rate
    upto = int(np.searchsorted(area, field.area_m2)) + 1
    return np.clip(power[:upto], OFF_W, crew.most_w), np.minimum(area[:upto], field.area_m2)


def tufts(rng: np.random.Generator, crew: Crew, field: Field, day: Day) -> tuple[Array, Array]:
    """Thin grass with tall tufts, whose heights have a heavy tail, and a turn now and then."""
    rate, cut_w = _mean_cut(crew, field, day)
    n = int(1.6 * field.area_m2 / rate) + 120
    tail, often, mean_size = rng.uniform(1.5, 2.4), rng.uniform(0.03, 0.08), 0.4
    size = np.zeros(n)
    each = mean_size / (often * 2.5) * (tail - 1) / tail  # the smallest tuft
    for at in np.flatnonzero(rng.random(n) < often):
        size[at : at + rng.integers(1, 5)] += each * (1 + rng.pareto(tail))
    cut = cut_w * (0.6 * np.exp(0.08 * _slow_noise(rng, n, 15.0)) + size)
    power = crew.idle_w + crew.drive_j_m * crew.pace_m_s + cut
    busy = np.ones(n)
    at = 0
    while at < n:
        at += int(rng.uniform(20, 70))
        stop = at + max(int(rng.normal(crew.turn_s, 1)), 1)
        power[at:stop], busy[at:stop] = crew.idle_w, 0.0
        at = stop
    return _finished(crew, field, power, busy, rate)


def strokes(rng: np.random.Generator, crew: Crew, field: Field, day: Day) -> tuple[Array, Array]:
    """Short strokes between beds and trees; some people release the lever at turns, some only push round."""
    rate, cut_w = _mean_cut(crew, field, day)
    lets_go = rng.random() < 0.5
    power, busy = [], []
    done, row = 0.0, field.area_m2
    while done < row:
        length = int(rng.integers(4, 26))
        gap = int(rng.integers(2, 9))
        level = np.full(length, cut_w * rng.lognormal(-0.02, 0.2))
        level[0] *= 0.4
        stroke = crew.idle_w + crew.drive_j_m * crew.pace_m_s + level
        if lets_go:
            stroke[0] += 1.2 * crew.idle_w  # the blades spin up again
        power += [stroke, np.full(gap, OFF_W if lets_go else 0.97 * crew.idle_w)]
        busy += [np.ones(length), np.zeros(gap)]
        done += length * rate
    return _finished(crew, field, np.concatenate(power), np.concatenate(busy), rate)


def clogging(rng: np.random.Generator, crew: Crew, field: Field, day: Day) -> tuple[Array, Array]:
    """A reel that clogs for minutes, taking more and more power, until somebody clears it."""
    rate, cut_w = _mean_cut(crew, field, day)
    rise = rng.uniform(0.3, 1.0) * (0.6 + 0.8 * day.wetness)
    power, busy = [], []
    done = 0.0
    while done < field.area_m2:
        length, stop = int(rng.uniform(90, 400)), int(rng.uniform(8, 25))
        slowly = 1 + rise * (np.expm1(np.arange(length) / length) / np.expm1(1)) ** rng.uniform(0.7, 1.6)
        swing = np.exp(0.10 * _slow_noise(rng, length, 40.0))
        drag = crew.idle_w * (0.3 + 0.7 * slowly) + crew.drive_j_m * crew.pace_m_s
        power += [drag + 0.85 * cut_w * slowly * swing, np.full(stop, OFF_W)]
        busy += [np.ones(length), np.zeros(stop)]
        done += length * rate
    return _finished(crew, field, np.concatenate(power), np.concatenate(busy), rate)


def hills(rng: np.random.Generator, crew: Crew, field: Field, day: Day) -> tuple[Array, Array]:
    """A self-propelled machine on rolling ground, without stops: uphill it works hard, downhill hardly."""
    rate, cut_w = _mean_cut(crew, field, day)
    n = int(field.area_m2 / rate) + 2
    second = np.arange(n)
    steep = max(field.grade, rng.uniform(0.03, 0.09))
    ground = sum(
        share * np.sin(2 * np.pi * second / rng.uniform(20, 100) + rng.uniform(0, 2 * np.pi))
        for share in (0.8, 0.5)
    )
    climb = max(crew.mass_kg, 35.0) * 9.81 * steep * ground * crew.pace_m_s / 0.6
    cut = 0.85 * cut_w * np.exp(0.15 * _slow_noise(rng, n, 6.0) - 0.011)
    drive = np.maximum(1.2 * crew.drive_j_m * crew.pace_m_s + climb, -0.5 * crew.idle_w)
    return _finished(crew, field, crew.idle_w + cut + drive, np.ones(n), rate)


HABITS: dict[str, Walk] = {
    "patchy": walk,
    "tufts": tufts,
    "strokes": strokes,
    "clogging": clogging,
    "hills": hills,
}


def ripple(rng: np.random.Generator, seconds: int, sigma: float) -> Array:
    """Swings of the load within each second (seconds, `HERTZ`): a memory of about 0.15 s and a mean of 1."""
    keep = np.exp(-1 / (0.15 * HERTZ))
    noise = lfilter([np.sqrt(1 - keep**2)], [1, -keep], rng.normal(size=seconds * HERTZ))
    swing = np.exp(sigma * np.asarray(noise)).reshape(seconds, HERTZ)
    return swing / swing.mean(1, keepdims=True)


def clamp_shows(amps: Array, tau_s: float) -> Array:
    """What a clamp with time constant `tau_s` shows at each instant of `amps`, starting at zero."""
    keep = np.exp(-1 / (HERTZ * tau_s))
    return np.asarray(lfilter([1 - keep], [1, -keep], amps))
