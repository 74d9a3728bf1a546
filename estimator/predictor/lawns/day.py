"""One day of mowing on one or two packs, perhaps with a charging pause: which draws finish which lawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Array, Flags
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.predictor.simulation.peaks_apart import peaks_apart
from estimator.predictor.simulation.simulation import simulate


@dataclass(frozen=True)
class ChargingPause:
    """A break on the charger: after how many lawns (0: when the pack stops), minutes, charger's power [W]."""

    after: int
    minutes: float
    charger_w: float

    def __post_init__(self) -> None:
        if self.after < 0 or not self.minutes >= 0 or not self.charger_w > 0:
            raise InputError(
                f"charging pause after {self.after} lawns, {self.minutes:g} min, {self.charger_w:g} W",
                mend="give lawns and minutes from zero up and the charger's watts above zero",
            )


@dataclass(frozen=True)
class DayRun:
    """How each draw of the day went.

    finished (n, lawns); delivered_wh (n,) energy [Wh]; why (n,) it stopped, "" if it did not; charge_end (n,)
    """

    finished: Flags
    delivered_wh: Array
    why: NDArray[np.str_]
    charge_end: Array


def run_day(
    draws: PackDraws,
    pack: Pack,
    load: MowDraws,
    *,
    reserve_charge: float = 0.0,
    pause: ChargingPause | None = None,
    spare: tuple[PackDraws, Pack] | None = None,
) -> DayRun:
    """Mow the day's load on the pack, then on after a pause, or on a spare pack where the first one stops."""
    n, lawns = load.end_s.shape
    end = load.end_s
    limit = end[:, pause.after - 1] if pause and 0 < pause.after <= lawns else None
    now = _stretch(draws, pack, load, np.zeros(n), limit, reserve_charge)
    if pause is not None:
        charged = draws.starting_at(charged_to(pack, draws, now.charge, pause))
        now = _stretch(charged, pack, load, now.time_s, None, reserve_charge)
    if spare is not None:
        left = now.time_s < end[:, -1] - 1e-9
        again = _stretch(*spare, load, now.time_s, None, reserve_charge)
        now = _Reached(
            np.where(left, again.time_s, now.time_s),
            np.where(left, again.why, now.why),
            np.where(left, again.charge, now.charge),
        )
    reached, why, charge = now.time_s, now.why, now.charge
    finished = end <= reached[:, None] + 1e-9
    column = (np.arange(load.power_w.shape[1]) + 1) * load.step_s
    done = np.where(column <= reached[:, None] + 1e-9, load.power_w, 0.0).sum(1) * load.step_s / 3600
    return DayRun(finished, done, why, charge)


@dataclass(frozen=True)
class _Reached:
    """Where each draw (n,) stands: time of the day [s], why it stopped ("" if not), charge."""

    time_s: Array
    why: NDArray[np.str_]
    charge: Array


def _stretch(
    draws: PackDraws, pack: Pack, load: MowDraws, start_s: Array, limit_s: Array | None, reserve_charge: float
) -> _Reached:
    """Run from start_s (n,) to limit_s (n,) or to the end of the day."""
    last = load.end_s[:, -1] if limit_s is None else limit_s
    first = np.rint(start_s / load.step_s).astype(np.int64)
    steps = np.maximum(np.rint(last / load.step_s).astype(np.int64) - first, 0)
    k = int(steps.max()) if steps.size else 0
    if k == 0:
        return _Reached(start_s, np.zeros(len(start_s), "<U13"), draws.charge.copy())
    power = load.power_w[:, :k]
    if limit_s is not None or first.any():
        column = np.arange(k)
        there = np.minimum(first[:, None] + column, load.power_w.shape[1] - 1)
        power = np.where(column < steps[:, None], np.take_along_axis(load.power_w, there, 1), 0.0)
    apart = peaks_apart(power, load.step_s, pack.hold_s)
    ends = simulate(
        draws,
        apart.power_w,
        apart.turns,
        cut_off_v=pack.cut_off_v,
        hold_s=pack.hold_s,
        reserve_charge=reserve_charge,
        current_limit_a=_stops_at_a(pack),
    )
    reached = start_s + np.minimum(ends.end_s, steps * load.step_s)
    stopped = ends.end_s < steps * load.step_s - 1e-9
    return _Reached(reached, np.where(stopped, ends.why, ""), ends.charge_end)


def _stops_at_a(pack: Pack) -> float | None:
    """The current [A] that stops the motor: the pack's limit, or the most that earlier mows went on after."""
    if pack.current_limit_a is None or not isinstance(pack, FittedPack):
        return pack.current_limit_a
    return max(pack.current_limit_a, pack.pace.passed_a)


def charged_to(pack: Pack, draws: PackDraws, charge: Array, pause: ChargingPause) -> Array:
    """Charge (n,) after the pause, by the charging habits of this chemistry (`conversion.charging_habits`).

    >>> from estimator.fitting.pack.pack_draws import draw_pack
    >>> pack = Pack("nmc", 13, 10.0, 39.0)
    >>> draws = draw_pack(pack, 3, np.random.default_rng(1))
    >>> after = charged_to(pack, draws, np.array([0.2, 0.2, 0.95]), ChargingPause(1, 60, 120.0))
    >>> bool((after > [0.4, 0.4, 0.95]).all() and (after <= 1).all())
    True
    """
    from estimator.conversion.charging_habits import Charger, charge_after

    charger, rng = Charger(watts=pause.charger_w), np.random.default_rng(8)
    return charge_after(pack, charger, pause.minutes, charge, draws.capacity_ah, rng)


def choose_step(needs: MowNeeds) -> float:
    """Step [s] of the simulation: short days finely, long days coarsely."""
    seconds = float(np.median(needs.motor_s.sum(1)))
    return 1.0 if seconds < 8000 else 2.0 if seconds < 20000 else 4.0
