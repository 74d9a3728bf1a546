"""Minutes left: the pack as it stands, run forward under the load to come until the cut-off."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from estimator.amounts import check_amount
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError, check_kind
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_now
from estimator.fitting.pack.pack_fit import fit_of_log
from estimator.importer.log import Log, since_leap
from estimator.predictor.narrowing import Doubt, doubts_by_cause
from estimator.predictor.simulation.future_load import corrected
from estimator.predictor.simulation.load_ahead import (
    LONGEST_H,
    STEP_S,
    load_of_lawns,
    load_of_log,
    more_of_log,
)
from estimator.predictor.simulation.peaks_apart import BLOCK_S, coarser
from estimator.predictor.simulation.simulation import simulate
from estimator.results import result

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile


FEWEST_DRAWS = 20  # with fewer, each end of a band would be a single draw
STOP_STD_S = 3.0
"""How far a real stop may lie from the simulated one [s]: readings are a second or more apart, and
controllers smooth the voltage before they compare it with the cut-off (common practice)."""


@result
class MinutesLeft:
    """Minutes until the motor stops.

    minutes : median of the simulated futures [min]
    low, high : band [min] that holds the truth with probability `level`
    charge : usable charge now (median)
    mean_power_w : mean power [W] of the load to come
    doubts : causes of the answer's uncertainty, the largest first, each with a measurement to narrow it
    ends_min : minutes left in 100 equally likely futures, rising, for plotting
    """

    minutes: float
    low: float
    high: float
    level: float
    charge: float
    mean_power_w: float
    doubts: tuple[Doubt, ...] = ()
    ends_min: tuple[float, ...] = ()


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
        the mow so far; where its volts leap because another pack went on, only what follows counts, and
        `start_charge` speaks of the first pack
    fitted : Pack or FittedPack
        the pack that runs the machine; a fitted one narrows the band
    start_charge : float, 0..1, default None
        usable charge at the log's first reading; None works it out from the voltage
    load : LoadProfile or Log, default None
        the load to come: None goes on as in the log so far; a LoadProfile is drawn from; a Log is followed
        exactly, then repeated
    level : float, 0.5..0.999, default 0.90
        how often the band should hold
    draws : int, from 20, default 2000
        simulated futures
    seed : int, default 1
        the same seed gives the same answer
    temperature_c : float, -40..70 [°C], default None
        pack temperature where the log has none; None takes 25 °C
    lawn : Lawn, default None
        with a LoadProfile: the lawn to come, on a day whose power is like the log so far; None for any
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
    if log.leaps_s:
        log, start_charge = since_leap(log), None
    if load is None or isinstance(load, Log):
        goes_on = log if load is None else load
        if (used_ah := charge_used(goes_on).ah) <= 0:  # such a load would never empty the pack
            did = f"charges the pack by {-used_ah:.3g} Ah on balance" if used_ah < 0 else "draws nothing"
            raise InputError(did, file=goes_on.name, mend="give the part that mows, or the load to come")
    else:
        from estimator.fitting.load.profile import LoadProfile

        check_kind("load", load, LoadProfile)
    if draws < FEWEST_DRAWS:
        raise InputError(f"{draws} draws are asked for", mend=f"take at least {FEWEST_DRAWS}")
    rng = np.random.default_rng(seed)
    known = fit_of_log(log, fitted, start_charge, temperature_c)
    found, trace = known.found, known.found.trace
    pack = draw_now(found, known.after, draws, rng)
    low_charge, half_charge = np.searchsorted(GRID, [0.1, 0.5])
    causes = {
        "clamp zero": pack.clamp_zero_a,
        "capacity": pack.capacity_ah,
        "charge": pack.capacity_ah
        * (1.0 - pack.charge),  # [Ah] missing from full: the Ah left would go with the capacity
        "open-circuit curve": pack.tables[:, low_charge, 0].astype(float),
        "resistance": pack.tables[:, [low_charge, half_charge], 1].astype(float),
    }
    left_wh = max(float(np.median(pack.charge * pack.capacity_ah)), 0.0) * float(found.emf_v[-1])
    if isinstance(load, Log):
        coming = load_of_log(load, left_wh)
    elif load is not None:
        from estimator.predictor.lawns.one_more import running

        seen_w = 0.0 if lawn is None else running(log).mean_w
        coming = load_of_lawns(load, left_wh, draws, rng, lawn, grass, seen_w)
    else:
        coming = more_of_log(log, found, known.after, left_wh, draws, rng)
    if coming.varied is not None:
        causes["load"] = coming.varied
    chunks: Iterator[NDArray[np.floating]] = coming.chunks
    if coming.read:  # take off what the meter reads too high, since the pack does not give it
        chunks = corrected(coming.chunks, -pack.clamp_zero_a * float(trace.voltage_v.mean()))
    turns: tuple[float, ...] = (STEP_S,)
    block_s = min(coming.ahead_s / coming.blocks, BLOCK_S)
    fine = block_s < 2 * max(STEP_S, fitted.hold_s)
    if not fine:
        coarse = coarser(chunks, STEP_S, fitted.hold_s, block_s)
        chunks, turns = coarse.chunks, coarse.turns
    futures = simulate(
        pack,
        chunks,
        turns,
        cut_off_v=fitted.cut_off_v,
        hold_s=fitted.hold_s,
        follow=coming.follow,
        ramps=fine and coming.read,
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
        mean_power_w=float(np.mean(coming.means_w)),
        doubts=doubts_by_cause(left, causes, under_way=True),
        ends_min=tuple(np.quantile(left, (np.arange(100) + 0.5) / 100).tolist()),
    )
