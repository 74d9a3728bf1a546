"""Forward simulation: thousands of draws at once under given power, each until its cut-off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Array
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.predictor.simulation.running import Follow, Running

NEVER, CUT_OFF, RESERVE, CURRENT = "", "cut-off", "reserve", "current limit"
_WHY = np.array([NEVER, CUT_OFF, RESERVE, CURRENT])


@dataclass(frozen=True, eq=False)
class Futures:
    """How each draw ended.

    end_s : (n,) seconds until the motor stopped or the reserve was reached; infinite where neither happened
    why : (n,) "cut-off", "reserve", "current limit", or "" where the draw did not end
    charge_end : (n,) usable charge at the end
    """

    end_s: Array
    why: NDArray[np.str_]
    charge_end: Array


def simulate(
    draws: PackDraws,
    power_w: NDArray[np.floating] | Iterable[NDArray[np.floating]],
    step_s: float | tuple[float, ...],
    *,
    cut_off_v: float,
    hold_s: float = 0.0,
    reserve_charge: float = 0.0,
    current_limit_a: float | None = None,
    follow: Follow | None = None,
    ramps: bool = False,
) -> Futures:
    """Run every draw forward under its own load until the first touch of the cut-off that lasts `hold_s` [s].

    power_w : (n, k) or (1, k) power [W] taken from the pack for `step_s` [s] each, negative for charging; or
        several such arrays one after the other, so that long horizons need no large array
    step_s : how long [s] each value lasts; several are taken in turn
    reserve_charge : usable charge at which a draw ends whatever its voltage; 0 leaves the end to the cut-off
    current_limit_a : current [A] that ends a draw when it lasts `hold_s`
    follow : how the power follows the voltage; None holds the power whatever the voltage
    ramps : whether the load changes within each step, as between a log's readings, so that the voltage at the
        end of a step is lower than in its middle by half of its fall since the step before

    A touch counts from the start of its step: a `hold_s` of at most one step ends the draw at the first
    touch, a longer one when that time is up.

    Each step solves V = (E + sqrt(E² − 4PR))/2, where E is open circuit minus both pairs and R is voltage
    over current of the ohmic part (two iterations), then moves on charge and pairs.

    >>> from estimator.descriptions import Pack
    >>> from estimator.fitting.pack.pack_draws import draw_pack
    >>> draws = draw_pack(Pack("nmc", 13, 10.0, 39.0), 200, np.random.default_rng(1))
    >>> ends = simulate(draws, np.full((1, 7200), 400.0), 1.0, cut_off_v=39.0)
    >>> 50 < float(np.median(ends.end_s)) / 60 < 80
    True
    """
    chunks = [power_w] if isinstance(power_w, np.ndarray) else power_w
    n = draws.n
    end_s = np.full(n, np.inf)
    why = np.zeros(n, np.intp)
    charge_end = np.empty(n)
    turns = step_s if isinstance(step_s, tuple) else (step_s,)
    run, turn = Running(draws, turns, follow), 0
    lasting = hold_s > min(turns)
    limit = np.float32(np.inf if current_limit_a is None else current_limit_a)
    reserve = np.float32(reserve_charge if reserve_charge > 0 else -np.inf)
    now = 0.0
    for chunk in chunks:
        power = np.asarray(chunk)
        columns = power.shape[1]
        shared = power.shape[0] == 1
        steps = np.ascontiguousarray(power.T, dtype=np.float32)
        for j in range(columns):
            row = steps[j] if shared else steps[j][run.who]
            lasts_s = turns[turn]
            voltage, current = run.step(row, turn)
            turn = (turn + 1) % len(turns)
            reached = voltage
            if ramps:
                reached = voltage - np.float32(0.5) * np.maximum(run.last_v - voltage, 0)
                run.last_v = voltage
            low, over = reached <= cut_off_v, current > limit
            if lasting:
                run.below = np.where(low, run.below + np.float32(lasts_s), np.float32(0))
                run.above = np.where(over, run.above + np.float32(lasts_s), np.float32(0))
                low, over = run.below >= hold_s - 1e-6, run.above >= hold_s - 1e-6
            spare = run.charge <= reserve
            stop = low | over | spare
            if stop.any():
                gone = run.who[stop]
                end_s[gone] = now + np.where(spare[stop] | lasting, lasts_s, 0.0)
                why[gone] = np.where(spare[stop], 2, np.where(low[stop], 1, 3))
                run.leave(stop, charge_end)
                if not len(run.who):
                    break
            now += lasts_s
        if not len(run.who):
            break
    charge_end[run.who] = run.charge
    return Futures(end_s, _WHY[why], charge_end)
