"""The load to come, by what is known about it: a log to follow, lawns to draw, or more of the log so far."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array, Flags, Single
from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.phases import motor_on
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.log_model import voltage_under
from estimator.predictor.simulation.future_load import draw_level, even_power, evenly, repeated, resampled
from estimator.predictor.simulation.load_memory import remember
from estimator.predictor.simulation.running import Follow

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile
    from estimator.fitting.pack.joint_fit import LogFit
    from estimator.importer.log import Log


STEP_S = 1.0
LONGEST_H = 24.0
"""No charge lasts longer on a mower; bounds the work."""
_HORIZON = int(LONGEST_H * 3600 / STEP_S)

BREAK_S = 300.0
"""Nobody stops for so long while mowing: it is a break, which does not come again (common practice)."""

STEPS_AHEAD = 150
"""The time that the charge should last is cut into this many blocks, none longer than those of a day's plan,
each with its highest power kept: the answer then changes by less than a hundredth (400 and 800 blocks give
the same band, at two and three times the cost)."""

STEPS_OF_A_LOG = 400
"""The same for a load that is followed exactly: no other futures average out what a long block adds to a
peak, and with 150 blocks the band near the end was a third too narrow."""


@dataclass(frozen=True, eq=False)
class LoadAhead:
    """A load to come.

    chunks : (n or 1, k) power [W] at steps of `STEP_S`, one after the other
    means_w : mean power [W] of the whole load or, where it is drawn, of every chunk taken so far
    ahead_s : how long [s] the charge lasts at the mean power
    blocks : number of blocks into which that time may be cut
    read : whether a meter read it, with the meter's error; a lawn's load has none
    follow, varied : how the power follows the voltage, and (n, 2) level and exponent of each draw; None for
        a load that is given
    """

    chunks: Iterator[Single]
    means_w: list[float]
    ahead_s: float
    blocks: int = STEPS_AHEAD
    read: bool = True
    follow: Follow | None = None
    varied: Array | None = None


def _lasts_s(left_wh: float, mean_w: float) -> float:
    return float(min(left_wh / max(mean_w, 1.0), LONGEST_H) * 3600)


def load_of_log(load: Log, left_wh: float) -> LoadAhead:
    """A log, followed exactly and then repeated."""
    power = even_power(load, STEP_S)
    mean_w = float(power.mean())
    return LoadAhead(repeated(power, _HORIZON), [mean_w], _lasts_s(left_wh, mean_w), STEPS_OF_A_LOG)


def load_of_lawns(
    profile: LoadProfile,
    left_wh: float,
    draws: int,
    rng: np.random.Generator,
    lawn: Lawn | None,
    grass: Grass | None,
    seen_w: float,
) -> LoadAhead:
    """Lawns drawn from a profile; seen_w : mean power [W] of the day so far, 0 for any day."""
    from estimator.fitting.load.load_draws import coming_power

    means_w: list[float] = []
    coming = coming_power(profile, draws, LONGEST_H * 3600, rng, lawn, grass, STEP_S, seen_w)
    first = next(coming)

    def noted() -> Iterator[Single]:
        for chunk in chain([first], coming):
            means_w.append(float(chunk.mean()))
            yield chunk

    return LoadAhead(noted(), means_w, _lasts_s(left_wh, float(first.mean())), read=False)


def without_breaks(time_s: Array, on: Flags, longest_step_s: float) -> tuple[Flags, Array]:
    """Which readings (n,) of a log are no part of a break, and the times [s] of these as if there were none.

    on : where the logger slept through no break; longest_step_s : the longest step that counts as measured

    >>> on = np.array([True, True, False, False, True, True])
    >>> [each.tolist() for each in without_breaks(np.array([0.0, 1, 2, 900, 901, 902]), on, 1000.0)]
    [[True, True, False, False, True, True], [0.0, 1.0, 2.0, 3.0]]
    """
    kept = np.ones(len(time_s), dtype=np.bool_)
    turns = np.flatnonzero(np.diff(np.concatenate([[True], on, [True]])))
    for start, stop in turns.reshape(-1, 2):
        kept[start:stop] = time_s[stop - 1] - time_s[start] < BREAK_S
    step = np.diff(time_s[kept], prepend=time_s[kept][:1])
    cut = np.diff(np.flatnonzero(kept), prepend=-1) > 1
    if not cut.any():
        return kept, time_s[kept]
    step[cut | (step > longest_step_s)] = STEP_S
    return kept, np.asarray(np.cumsum(step))


def more_of_log(
    log: Log, found: LogFit, after: FittedPack, left_wh: float, draws: int, rng: np.random.Generator
) -> LoadAhead:
    """The load of the log so far goes on; `after` is the pack as known after that log."""
    trace = found.trace
    read_w = trace.current_a * trace.voltage_v
    stands_s = np.gradient(trace.time_s)
    loaded = read_w >= read_w @ stands_s / stands_s.sum()  # the usual current is the mean of those above it
    usual_a = float(trace.current_a[loaded] @ stands_s[loaded] / max(stands_s[loaded].sum(), 1e-9))
    under_v = voltage_under(found.mean, after, found.surface, trace.temperature_c, usual_a)
    loaded_v = np.maximum(under_v, 1.0)
    asleep = ~motor_on(read_w) & (trace.weight == 0)  # rests that were read come again, as loads do
    kept, time_s = without_breaks(trace.time_s, ~asleep, log.longest_step_s)
    each_w = even_power(log, STEP_S) if kept.all() else evenly(time_s, read_w[kept], STEP_S)
    each_v = evenly(time_s, loaded_v[kept], STEP_S)
    memory = remember(each_w, each_v, STEP_S, time_s, read_w[kept], loaded_v[kept])
    ahead_s = _lasts_s(left_wh, memory.mean_w)
    levels = draw_level(memory.level_std(ahead_s), memory.freedom, draws, rng)
    chunks = resampled(memory, levels, _HORIZON, rng)
    exponent = np.clip(memory.follow + memory.follow_std * rng.standard_normal(draws), -0.2, 1.3)
    follow = Follow(exponent, usual_a, float(loaded_v[-1]), after.cut_off_v)
    varied = np.stack([levels, exponent], axis=1)
    return LoadAhead(chunks, [memory.mean_w], ahead_s, follow=follow, varied=varied)
