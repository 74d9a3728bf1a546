"""Minutes left: the pack as it stands, run forward under the load to come until the cut-off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from estimator.amounts import check_amount, check_kind
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.log_model import voltage_under
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_now
from estimator.fitting.pack.pack_fit import fit_of_log, posterior
from estimator.importer.log import Log
from estimator.predictor.narrowing import Doubt, doubts_by_cause
from estimator.predictor.simulation.future_load import (
    corrected,
    draw_level,
    even_power,
    evenly,
    repeated,
    resampled,
)
from estimator.predictor.simulation.load_memory import remember
from estimator.predictor.simulation.peaks_apart import BLOCK_S, coarser
from estimator.predictor.simulation.running import Follow
from estimator.predictor.simulation.simulation import simulate
from estimator.results import shown

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile

Array = NDArray[np.float64]
Single = NDArray[np.float32]

LONGEST_H = 24.0
"""No charge lasts longer on a mower; bounds the work."""
STEPS_AHEAD = 150
"""Into so many blocks the time that the charge should last is cut, none longer than those of a day's plan and
each with its highest power kept: the answer then moves by less than a hundredth (400 and 800 of them give the
same band, at two and three times the cost)."""

STEPS_OF_A_LOG = 400
"""The same of a load that is followed exactly: no other future averages what a long block adds to a peak, and
of 150 the band near the end was a third too narrow."""

FEWEST_DRAWS = 20  # of fewer the ends of a band are single draws
STOP_STD_S = 3.0
"""By so many seconds a real stop may miss the simulated one: readings are a second or more apart, and
controllers smooth the voltage before they judge it (common practice)."""


@shown
@dataclass(frozen=True)
class MinutesLeft:
    """Minutes until the motor stops.

    minutes : median of the simulated futures [min]
    low, high : band [min] that holds the truth with probability `level`
    charge : usable charge now (median)
    mean_power_w : mean power [W] of the load to come
    doubts : what the answer owes its doubt to, the largest first, each with the measurement that would
    narrow it
    ends_min : minutes of 100 evenly likely futures, rising, for drawing
    """

    minutes: float
    low: float
    high: float
    level: float
    charge: float
    mean_power_w: float
    doubts: tuple[Doubt, ...] = ()
    ends_min: tuple[float, ...] = ()


def _noting_mean(chunks: Iterator[Single], mean_w: list[float]) -> Iterator[Single]:
    """The same chunks; the mean power [W] of each that is used goes into `mean_w`."""
    for chunk in chunks:
        mean_w.append(float(chunk.mean()))
        yield chunk


def minutes_left(
    log: Log,
    fitted: Pack,
    start_charge: float | None = None,
    load: LoadProfile | Log | None = None,
    level: float = 0.90,
    *,
    draws: int = 2000,
    seed: int = 1,
    temperature_c: float | None = None,
    lawn: Lawn | None = None,
    grass: Grass | None = None,
) -> MinutesLeft:
    """Minutes left at the end of a log.

    Parameters
    ----------
    log : Log
        the mow so far
    fitted : Pack or FittedPack
        the pack that runs the machine; a fitted one narrows the band
    start_charge : float, 0..1, default None
        usable charge at the log's first reading; None works it out from the voltage
    load : LoadProfile or Log, default None
        what is still to be mown: None goes on as in the log so far; a LoadProfile is drawn from; a Log is
        followed exactly, then repeated
    level : float, 0.5..0.999, default 0.90
        how often the band should hold
    draws : int, from 20, default 2000
        simulated futures
    seed : int, default 1
        the same seed gives the same answer
    temperature_c : float, -40..70 [°C], default None
        pack temperature where the log has none; None takes 25 °C
    lawn : Lawn, default None
        with a LoadProfile: the lawn to come, at the power of a day like the log so far; None for any
    grass : Grass, default None
        of that lawn today; None for unknown

    Returns
    -------
    MinutesLeft
        median and band [min], at most 1440 min

    Raises
    ------
    InputError
        for a log that charges the pack or draws nothing, for one without volts, and for amounts out of range

    Source: constant power, V = (E + √(E² − 4PR))/2; Plett 2004, J. Power Sources 134, 252.

    >>> import pandas as pd
    >>> steady = pd.DataFrame({"time_s": [0.0, 600, 1200], "current_a": 9.0, "voltage_v": [52.6, 51, 50]})
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> left = minutes_left(Log(steady, longest_step_s=900.0), pack, start_charge=1.0, draws=100)
    >>> [round(each, -1) for each in (left.low, left.minutes, left.high)]
    [30.0, 40.0, 50.0]
    """
    check_kind("log", log, Log)
    check_amount("level", level, needed=True)
    if load is None or isinstance(load, Log):
        goes_on = log if load is None else load
        if (used_ah := charge_used(goes_on).ah) <= 0:  # taken on, it would never empty the pack
            did = f"charges the pack by {-used_ah:.3g} Ah on balance" if used_ah < 0 else "draws nothing"
            raise InputError(did, file=goes_on.name, mend="give the part that mows, or the load to come")
    else:
        from estimator.fitting.load.profile import LoadProfile

        check_kind("load", load, LoadProfile)
    if draws < FEWEST_DRAWS:
        raise InputError(f"{draws} draws are asked for", mend=f"take at least {FEWEST_DRAWS}")
    rng = np.random.default_rng(seed)
    found = fit_of_log(log, fitted, start_charge, temperature_c)
    trace = found.trace
    after = posterior([found])
    pack = draw_now(found, after, draws, rng)
    step_s = 1.0
    follow = None
    low_charge, half_charge = np.searchsorted(GRID, [0.1, 0.5])
    causes = {
        "clamp zero": pack.clamp_zero_a,
        "capacity": pack.capacity_ah,
        "charge": pack.capacity_ah
        * (1.0 - pack.charge),  # at the log's start: the rest goes with the capacity
        "open-circuit curve": pack.tables[:, low_charge, 0].astype(float),
        "resistance": pack.tables[:, [low_charge, half_charge], 1].astype(float),
    }
    drawn_w: list[float] = []

    def ahead(mean_w: float) -> float:
        """Seconds [s] that the charge lasts at a mean power."""
        left_wh = max(float(np.median(pack.charge * pack.capacity_ah)), 0.0) * found.emf_v[-1]
        return float(min(left_wh / max(mean_w, 1.0), LONGEST_H) * 3600)

    horizon = int(LONGEST_H * 3600 / step_s)
    if isinstance(load, Log):
        power = even_power(load, step_s)
        mean_w = float(power.mean())
        coming, ahead_s = repeated(power, horizon), ahead(mean_w)
    elif load is not None:
        from estimator.fitting.load.load_draws import coming_power
        from estimator.predictor.lawns.one_more import running

        seen_w = 0.0 if lawn is None else running(log).mean_w
        like_today = coming_power(load, draws, LONGEST_H * 3600, rng, lawn, grass, step_s, seen_w)
        first = next(like_today)
        ahead_s = ahead(float(first.mean()))
        coming = _noting_mean(chain([first], like_today), drawn_w)
    else:
        read_w = trace.current_a * trace.voltage_v
        stands_s = np.gradient(trace.time_s)
        loaded = read_w >= read_w @ stands_s / stands_s.sum()  # the usual current is that above the mean load
        usual_a = float(trace.current_a[loaded] @ stands_s[loaded] / max(stands_s[loaded].sum(), 1e-9))
        under = voltage_under(found.mean, after, found.surface, trace.temperature_c, usual_a)
        loaded_v = np.maximum(under, 1.0)
        memory = remember(
            even_power(log, step_s),
            evenly(trace.time_s, loaded_v, step_s),
            step_s,
            trace.time_s,
            read_w,
            loaded_v,
        )
        mean_w = memory.mean_w
        ahead_s = ahead(mean_w)
        levels = draw_level(memory.level_std(ahead_s), memory.freedom, draws, rng)
        coming = resampled(memory, levels, horizon, rng)
        exponent = np.clip(memory.follow + memory.follow_std * rng.standard_normal(draws), -0.2, 1.3)
        causes["load"] = np.stack([levels, exponent], axis=1)
        follow = Follow(exponent, usual_a, float(loaded_v[-1]), fitted.cut_off_v)
    if load is None or isinstance(load, Log):  # what the meter reads too high, the pack does not give
        coming = corrected(coming, -pack.clamp_zero_a * float(trace.voltage_v.mean()))
    lasts_s: float | tuple[float, ...] = step_s
    block_s = min(ahead_s / (STEPS_OF_A_LOG if isinstance(load, Log) else STEPS_AHEAD), BLOCK_S)
    fine = block_s < 2 * max(step_s, fitted.hold_s)
    if not fine:
        coarse = coarser(coming, step_s, fitted.hold_s, block_s)
        coming, lasts_s = coarse.chunks, coarse.turns
    futures = simulate(
        pack,
        coming,
        lasts_s,
        cut_off_v=fitted.cut_off_v,
        hold_s=fitted.hold_s,
        follow=follow,
        ramps=fine and (load is None or isinstance(load, Log)),
    )
    end_s = futures.end_s + STOP_STD_S * rng.standard_normal(draws)
    left = np.clip(end_s, 0.0, LONGEST_H * 3600) / 60
    low, middle, high = np.quantile(left, [(1 - level) / 2, 0.5, (1 + level) / 2])
    return MinutesLeft(
        minutes=float(middle),
        low=float(low),
        high=float(high),
        level=level,
        charge=float(np.median(pack.charge)),
        mean_power_w=float(np.mean(drawn_w)) if drawn_w else mean_w,
        doubts=doubts_by_cause(left, causes),
        ends_min=tuple(np.quantile(left, (np.arange(100) + 0.5) / 100).tolist()),
    )
