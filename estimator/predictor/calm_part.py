"""The first part of a day, during which not even its highest peak could stop the pack: coarse steps do there.

How low the charge may go for that is asked of the simulation itself, draw by draw: warmed up by more than the
day's mean power, the pack is put under the day's highest power at a few charges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.circuit import LAG_S
from estimator.fitting.ocv import GRID
from estimator.fitting.pack_draws import PackDraws
from estimator.predictor.simulation import simulate

Array = NDArray[np.float64]

COARSE_S = 12.0
CHARGES = np.array([0.08, 0.15, 0.22, 0.3, 0.4, 0.55, 0.75])
WARM_UP, PROBE_S = 1.3, 10.0
ROOM_V, ROOM_A, ROOM_CHARGE = 1.015, 0.97, 0.03
"""The probe is harder than the day: warmed up by 1.3 times its mean power, its peak lasting ten seconds, and
short of the cut-off, the current limit and the reserve by these."""


@dataclass(frozen=True)
class Calm:
    """For each draw (n,) how many of its steps are calm, and how many of them may be run as one.

    left : how many steps come after them until its load is over
    used_wh : (n, k) energy [Wh] of its load up to each step's end
    """

    steps: NDArray[np.int64]
    left: NDArray[np.int64]
    ratio: int
    used_wh: NDArray[np.float32]


def calm_charge(draws: PackDraws, pack: Pack, mean_w: Array, peak_w: Array, reserve_charge: float) -> Array:
    """Charge (n,) down to which no peak stops a draw; infinite where one may at any charge."""
    power = np.stack(
        [WARM_UP * mean_w, WARM_UP * mean_w, WARM_UP * mean_w, np.maximum(peak_w, mean_w)], axis=1
    )
    rate = WARM_UP * mean_w / draws.tables[:, :, 0].mean(1) / draws.capacity_ah
    lowest, calm = np.full(draws.n, np.inf), np.ones(draws.n, bool)
    for charge in CHARGES[::-1]:
        there = replace(draws.starting_at(charge), rates_c=np.tile(rate, (len(LAG_S), 1)))
        ends = simulate(there, power, PROBE_S, cut_off_v=0.0)
        calm &= ends.lowest_v > ROOM_V * pack.cut_off_v
        if pack.current_limit_a is not None:
            calm &= ends.highest_a < ROOM_A * pack.current_limit_a
        lowest = np.where(calm, charge, lowest)
        if not calm.any():
            break
    return np.asarray(np.maximum(lowest, reserve_charge) + ROOM_CHARGE)


def calm_part(
    draws: PackDraws, pack: Pack, power_w: NDArray[np.floating], step_s: float, reserve_charge: float
) -> Calm:
    """Which part of loads (n, k) [W] at steps of `step_s` [s] is calm, from the draws' present charge."""
    ratio = max(1, round(COARSE_S / step_s))
    used_wh = np.cumsum(power_w, axis=1, dtype=np.float32) * (step_s / 3600)
    running = np.maximum((power_w > 0).sum(1), 1)
    mean_w = used_wh[:, -1] / running * (3600 / step_s)
    down_to = calm_charge(draws, pack, mean_w, power_w.max(1).astype(float), reserve_charge)
    volts = 0.93 * draws.tables[:, (GRID >= 0) & (GRID <= 1), 0].mean(1)
    room_wh = np.maximum(draws.charge - down_to, 0.0) * draws.capacity_ah * volts
    load = np.minimum((used_wh < used_wh[:, -1:]).sum(1) + 1, power_w.shape[1])
    whole = used_wh[:, -1] <= room_wh
    steps = np.where(whole, -(-load // ratio), (used_wh <= room_wh[:, None]).sum(1) // ratio) * ratio
    return Calm(steps, np.maximum(load - steps, 0), ratio, used_wh)


def after_calm(draws: PackDraws, step_s: float, calm: Calm, charge: Array) -> PackDraws:
    """The draws after their calm part, at that charge (n,), with the rates that its last minutes left.

    A low-passed rate is about the mean over the last two time constants.
    """

    def used(steps: NDArray[np.int64]) -> Array:
        last = np.clip(steps - 1, 0, calm.used_wh.shape[1] - 1)
        upto = np.take_along_axis(calm.used_wh, last[:, None], 1)[:, 0]
        return np.where(steps > 0, upto, 0.0).astype(float)

    per_wh = 1.0 / draws.tables[:, (GRID >= 0) & (GRID <= 1), 0].mean(1) / draws.capacity_ah
    rates = np.empty((len(LAG_S), draws.n))
    for row, tau_s in zip(rates, LAG_S, strict=True):
        since = np.maximum(calm.steps - round(2 * tau_s / step_s), 0)
        hours = np.maximum(calm.steps - since, 1) * step_s / 3600
        filled = 1 - np.exp(-calm.steps * step_s / tau_s)
        row[:] = (used(calm.steps) - used(since)) / hours * per_wh * filled
    same = calm.steps == 0
    return replace(
        draws,
        charge=np.where(same, draws.charge, charge),
        rates_c=np.where(same, draws.rates_c, rates),
        quick_v=np.where(same, draws.quick_v, 0.0),
    )
