"""Power over time drawn from the load profile, in blocks cut out of past mows so that peaks survive."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Array, Flags, Single, Whole
from estimator.descriptions import Grass, Lawn
from estimator.fitting.by_hand.spot_power import stand_in_power
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.grass_effects import growth_column, height_mm
from estimator.fitting.load.mow_needs import MowNeeds, draw_needs
from estimator.fitting.load.peak_law import PeakLaw, peak_law, under_peak
from estimator.fitting.load.profile import LoadProfile

BLOCK_S = 30
"""Longer than a thick patch and shorter than a lawn: peaks survive within a block, not their order."""
SOURCES = 40
"""Past mows from which blocks are cut: more would not change the peaks and would take memory."""
CHUNK_BLOCKS = 20
"""Blocks laid out at a time, to bound the memory."""
LONGEST_DRAW_S = 6 * 3600.0
"""No charge lasts longer on a mower; bounds the memory."""


@dataclass(frozen=True)
class MowDraws:
    """Draws of a day's mows in a row.

    power_w (n, k) [W] at steps of step_s [s], zero after the last lawn; end_s (n, lawns) [s] when each lawn
    is finished; energy_wh (n, lawns) [Wh]
    """

    power_w: NDArray[np.floating]
    end_s: Array
    energy_wh: Array
    step_s: float


@dataclass(frozen=True)
class _Shapes:
    """Relative power of past mows laid end to end: 0 at idle, 1 at the mean.

    start, length : place of each mow in it; weight : chance that a draw takes the mow; mean_w, highest_w :
    [W] of each mow; by_hand : whether it was noted by hand
    """

    relative: Single
    start: Whole
    length: Whole
    weight: Array
    mean_w: Array
    highest_w: Array
    by_hand: Flags


def lay_out(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    needs: MowNeeds,
    rng: np.random.Generator,
    step_s: float = 1.0,
) -> MowDraws:
    """Turn drawn needs (n, lawns) into power over time: blocks of past mows, scaled to each draw's energy."""
    n, count = needs.energy_wh.shape
    steps = np.maximum(1, np.rint(np.minimum(needs.motor_s, LONGEST_DRAW_S) / step_s)).astype(np.int64)
    stop = np.cumsum(steps, axis=1)
    k = int(stop[:, -1].max()) if count else 0
    power = np.zeros((n, k), np.float32)
    law = peak_law(profile.loads)
    column = np.arange(k)
    for i in range(count):
        begin = stop[:, i] - steps[:, i]
        first, last = int(begin.min()), int(stop[:, i].max())
        shapes = _shapes(profile, lawns[i], grasses[i], step_s)
        pair = _pairs(shapes, n, rng)
        relative = _draw_relative(shapes, pair, last - first, rng, step_s)
        here = column[first:last]
        mine = (here >= begin[:, None]) & (here < stop[:, i, None])
        mean_w = 3600 * needs.energy_wh[:, i] / (steps[:, i] * step_s)
        highest_w = _highest(law, shapes, pair, mean_w, rng)
        power[:, first:last] += under_peak(_scaled(relative, mine, mean_w, profile.idle_w), highest_w, mean_w)
    return MowDraws(power, np.asarray(stop * step_s), needs.energy_wh, step_s)


def coming_power(
    profile: LoadProfile,
    n: int,
    seconds: float,
    rng: np.random.Generator,
    lawn: Lawn | None = None,
    grass: Grass | None = None,
    step_s: float = 1.0,
    seen_w: float = 0.0,
) -> Iterator[Single]:
    """Power [W] of mowing to come, (n, chunk) at a time, so that long horizons need no large array.

    seen_w : mean power [W] of the day so far, with which the draws agree; 0 where nothing was mown
    """
    usual_m2 = float(np.median([one.area_m2 for one in profile.mows])) if profile.mows else 300.0
    lawn = lawn or Lawn("any lawn", usual_m2)
    grass = grass or Grass()
    needs = draw_needs(profile, [lawn], [grass], n, rng, seen_w=seen_w)
    mean_w = 3600 * needs.energy_wh[:, 0] / needs.motor_s[:, 0]
    idle = np.minimum(profile.idle_w, 0.7 * mean_w)[:, None]
    above = (mean_w[:, None] - idle).astype(np.float32)
    shapes = _shapes(profile, lawn, grass, step_s)
    pair = _pairs(shapes, n, rng)
    highest_w = _highest(peak_law(profile.loads), shapes, pair, mean_w, rng)
    total = max(1, round(seconds / step_s))
    chunk = CHUNK_BLOCKS * _block(step_s)
    for first in range(0, total, chunk):
        relative = _draw_relative(shapes, pair, min(chunk, total - first), rng, step_s)
        power = np.maximum(idle.astype(np.float32) + relative * above, np.float32(0))
        yield under_peak(power, highest_w, mean_w)


def _scaled(relative: Single, mine: Flags, mean_w: Array, idle_w: float) -> Single:
    """Power with exactly the mean of each draw: idle stays as it is, and what lies above it is scaled."""
    mean = mean_w[:, None].astype(np.float32)
    idle = np.minimum(np.float32(idle_w), np.float32(0.7) * mean)
    power = np.maximum(relative, np.float32(-0.3))
    power *= mine
    count = mine.sum(1, keepdims=True, dtype=np.float32)
    power *= (mean - idle) / np.maximum(power.sum(1, keepdims=True) / count, np.float32(0.05))
    power += idle
    np.maximum(power, np.float32(0), out=power)
    power *= mine
    power *= mean * count / power.sum(1, keepdims=True)
    return power


def _highest(
    law: PeakLaw | None, shapes: _Shapes, pair: Whole, mean_w: Array, rng: np.random.Generator
) -> Array:
    """Highest power (n,) [W] of each draw: scaling to thicker grass would raise peaks as much as the mean.

    It is that of the draw's own past mows, lifted by the law. An independently drawn limit would only ever
    cut peaks that happen to be higher, and so lower them on average. Mows noted by hand have only a stand-in
    for peaks, so for them the law decides alone.
    """
    if law is None:
        return np.full(len(mean_w), np.inf)
    lifted = shapes.highest_w[pair] * (mean_w[:, None] / shapes.mean_w[pair]) ** law.exponent
    return np.where(shapes.by_hand[pair].any(1), law.draw(mean_w, rng), lifted.max(1))


def _block(step_s: float) -> int:
    return max(2, round(BLOCK_S / step_s))


def _pairs(shapes: _Shapes, n: int, rng: np.random.Generator) -> Whole:
    """The two past mows (n, 2) of each draw: only two, since what sets a mow apart lasts throughout it."""
    return rng.choice(len(shapes.start), size=(n, 2), p=shapes.weight)


def _draw_relative(shapes: _Shapes, pair: Whole, k: int, rng: np.random.Generator, step_s: float) -> Single:
    """Relative power (n, k): blocks from random places in the draw's own past mows."""
    block, n = _block(step_s), len(pair)
    blocks = -(-k // block)
    source = np.take_along_axis(pair, rng.integers(0, 2, (n, blocks)), axis=1)
    room = np.maximum(shapes.length[source] - block, 0)
    begin = np.floor(rng.random((n, blocks)) * (room + 1)).astype(np.int64)
    inside = (begin[:, :, None] + np.arange(block)) % shapes.length[source][:, :, None]
    drawn = shapes.relative[shapes.start[source][:, :, None] + inside]
    return np.asarray(drawn.reshape(n, blocks * block)[:, :k])


def _shapes(profile: LoadProfile, lawn: Lawn, grass: Grass, step_s: float) -> _Shapes:
    """The past mows most like the one to come: same lawn, moisture and growth, logs before spot notes."""
    likeness = np.array([_likeness(one, lawn, grass, profile) for one in profile.loads], float)
    alike = np.argsort(-likeness, kind="stable")
    # hand readings under 3 W have energy and minutes, but no second at which a motor ran
    chosen = [i for i in alike if profile.loads[i].trace.highest > 0][:SOURCES]
    loads, weight = [profile.loads[i] for i in chosen], likeness[chosen]
    pieces = [_coarser(_relative(one, profile.idle_w), step_s) for one in loads]
    if not loads:
        power = stand_in_power(80.0, 250.0, 500.0)
        pieces, weight = [_coarser((power - 80.0) / (power.mean() - 80.0), step_s)], np.ones(1)
    length = np.array([piece.size for piece in pieces], np.int64)
    return _Shapes(
        np.concatenate(pieces).astype(np.float32),
        np.cumsum(length) - length,
        length,
        weight / weight.sum(),
        np.array([one.mean_w for one in loads] or [1.0]),
        np.array([one.peak_1s_w for one in loads] or [np.inf]),
        np.array([one.spot for one in loads] or [False]),
    )


def _likeness(mow: MowFeatures, lawn: Lawn, grass: Grass, profile: LoadProfile) -> float:
    like = 3.0 if mow.lawn == lawn.name else 1.0
    if grass.moisture is not None and mow.moisture is not None:
        like *= 2.0 if mow.moisture == grass.moisture else 1.0
    there, here = (height_mm(one, profile.known.growth_mm_a_day) for one in (mow.grass, grass))
    if there is not None and here is not None:
        like *= float(np.exp(-abs(growth_column(there) - growth_column(here))))
    return like * (0.05 if mow.spot else 1.0)


def _relative(mow: MowFeatures, idle_w: float) -> Array:
    power = mow.trace.values()
    idle = min(mow.idle_w if mow.idle_w is not None else idle_w, 0.7 * float(power.mean()))
    return np.asarray((power - idle) / (power.mean() - idle))


def _coarser(relative: Array, step_s: float) -> Array:
    """One-second values at another step: means over longer steps, repeats over shorter ones."""
    if step_s == 1.0:
        return relative
    total = np.concatenate([[0.0], np.cumsum(relative)])
    edges = np.arange(0.0, relative.size + 1e-9, step_s)
    if edges.size < 3:
        return np.full(2, relative.mean())
    return np.asarray(np.diff(np.interp(edges, np.arange(total.size), total)) / step_s)
