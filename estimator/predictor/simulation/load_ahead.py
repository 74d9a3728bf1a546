"""The load to come, by what is known about it: a log to follow, lawns to draw, or more of the log so far."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array, Single
from estimator.descriptions import Grass, Lawn
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
    each_w, each_v = even_power(log, STEP_S), evenly(trace.time_s, loaded_v, STEP_S)
    memory = remember(each_w, each_v, STEP_S, trace.time_s, read_w, loaded_v)
    ahead_s = _lasts_s(left_wh, memory.mean_w)
    levels = draw_level(memory.level_std(ahead_s), memory.freedom, draws, rng)
    chunks = resampled(memory, levels, _HORIZON, rng)
    exponent = np.clip(memory.follow + memory.follow_std * rng.standard_normal(draws), -0.2, 1.3)
    follow = Follow(exponent, usual_a, float(loaded_v[-1]), after.cut_off_v)
    varied = np.stack([levels, exponent], axis=1)
    return LoadAhead(chunks, [memory.mean_w], ahead_s, follow=follow, varied=varied)
