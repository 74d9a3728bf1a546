"""Minutes left from a few hand readings instead of a log: start charge, amps, minutes and perhaps volts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array, Single
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import check_kind
from estimator.fitting.by_hand.hand_circuit import rates_after, shown
from estimator.fitting.by_hand.spot_power import stand_in_of
from estimator.fitting.by_hand.weighing import Weighed
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.open_circuit import GRID
from estimator.importer.log import SpotNotes
from estimator.predictor.lawns.one_more import OneMoreLawn, SoFar, lawns_that_fit, weighed_so_far
from estimator.predictor.minutes import MinutesLeft
from estimator.predictor.narrowing import doubts_by_cause
from estimator.predictor.simulation.future_load import CHUNK
from estimator.predictor.simulation.load_ahead import LONGEST_H, STEP_S
from estimator.predictor.simulation.load_memory import FOLLOW, FOLLOW_STD, MOST_ELSEWHERE
from estimator.predictor.simulation.peaks_apart import BLOCK_S, coarser
from estimator.predictor.simulation.running import Follow
from estimator.predictor.simulation.simulation import simulate
from estimator.results import shown as shown_plainly

STRETCH_MIN, STRETCH_STD = 3.0, 0.15
"""Mean power of stretches this long within one mow scatters by this share (common practice): the fewer
stretches were read so far, the less they say about those to come."""


@shown_plainly
@dataclass(frozen=True, kw_only=True)
class MinutesByHand(MinutesLeft):
    """Minutes until the motor stops if the load so far goes on, and what was used so far.

    charge_low, charge_high : 90 % band of the usable charge now (0..1)
    used_ah, used_ah_low, used_ah_high [Ah], used_wh [Wh] : used so far, with a 90 % band
    more : each lawn asked about, with the chance that the charge lasts for it too
    """

    charge_low: float
    charge_high: float
    used_ah: float
    used_ah_low: float
    used_ah_high: float
    used_wh: float
    more: tuple[OneMoreLawn, ...]


def minutes_left_by_hand(
    notes: SpotNotes,
    pack: Pack,
    start_charge: float | None = None,
    level: float = 0.90,
    *,
    load: LoadProfile | None = None,
    lawns: Sequence[Lawn] = (),
    grass: Grass | None = None,
    temperature_c: float | None = None,
) -> MinutesByHand:
    """Minutes left where no meter logged.

    Parameters
    ----------
    notes : SpotNotes
        amps [A] and minutes [min] so far; volts at rest and under load, a gauge, where they were read
    pack : Pack or FittedPack
        the pack that runs the machine
    start_charge : float, 0..1, default None
        usable charge at the start; None takes full nine times in ten, as far as volts at rest before agree
    level : float, 0.5..0.999, default 0.90
        how often the band should hold
    load : LoadProfile, default None
        of earlier mows: how this person's typical current compares with the mean
    lawns : sequence of Lawn, default ()
        each is answered with the chance that the charge lasts for it too; needs `load`
    grass : Grass, default None
        of those lawns today
    temperature_c : float, -40..70 [°C], default None
        None takes 25 °C

    Returns
    -------
    MinutesByHand
        minutes left [min] with their band, charge now, and what was used

    Raises
    ------
    InputError
        for readings that cannot be, or too few of them: amps and minutes are the least

    Source: constant power, V = (E + √(E² − 4PR))/2; Plett 2004, J. Power Sources 134, 252.

    >>> crate = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> left = minutes_left_by_hand(SpotNotes(typical_a=10.0, minutes=20.0), crate, 1.0)
    >>> left.low < left.minutes < left.high, 0.6 < left.charge < 0.8
    (True, True)
    """
    check_kind("notes", notes, SpotNotes)
    check_kind("pack", pack, Pack)
    check_amount("level", level, needed=True)
    if load is not None:
        check_kind("load", load, LoadProfile)
    now = weighed_so_far(notes, pack, load, start_charge, temperature_c)
    rng = np.random.default_rng(1)
    left, level_of = _run_on(now, notes, pack, rng)
    low, middle, high = np.quantile(left, [(1 - level) / 2, 0.5, (1 + level) / 2])
    low_charge, half_charge = np.searchsorted(GRID, [0.1, 0.5])
    causes = {
        "mean current": now.mean_a,
        "capacity": now.pack.capacity_ah,
        "charge": now.before,
        "open-circuit curve": now.pack.tables[:, low_charge, 0].astype(float),
        "resistance": now.pack.tables[:, [low_charge, half_charge], 1].astype(float),
        "load": level_of,
    }
    more: tuple[OneMoreLawn, ...] = ()
    if load is not None and lawns:
        so_far = SoFar(now.pack, float(np.median(now.power_w)))
        more = lawns_that_fit(load, so_far, pack, lawns, grass, temperature_c=temperature_c)
    charge_low, charge, charge_high = np.quantile(now.after, [0.05, 0.5, 0.95]).clip(0.0, 1.0)
    ah_low, ah, ah_high = np.quantile(now.ah, [0.05, 0.5, 0.95])
    return MinutesByHand(
        minutes=float(middle),
        low=float(low),
        high=float(high),
        level=level,
        charge=float(charge),
        charge_low=float(charge_low),
        charge_high=float(charge_high),
        used_ah=float(ah),
        used_ah_low=float(ah_low),
        used_ah_high=float(ah_high),
        used_wh=float(np.median(now.wh)),
        mean_power_w=float(np.median(now.power_w)),
        doubts=doubts_by_cause(left, causes, by_hand=True, under_way=True),
        more=more,
        ends_min=tuple(np.quantile(left, (np.arange(100) + 0.5) / 100).tolist()),
    )


def _run_on(now: Weighed, notes: SpotNotes, pack: Pack, rng: np.random.Generator) -> tuple[Array, Array]:
    """Minutes left (n,) as the mow goes on at each draw's own power, and the level (n,) of that load."""
    n = now.pack.n
    so_far = max((notes.minutes or 0.0) / STRETCH_MIN, 1.0)
    spread = math.hypot(MOST_ELSEWHERE, STRETCH_STD / math.sqrt(so_far))
    level = np.exp(spread * rng.standard_normal(n) - spread**2 / 2)
    shape = stand_in_of(notes, float(np.median(now.wh / now.ah)), float(np.median(now.power_w)))
    shape = (shape / shape.mean()).astype(np.float32)
    power_w = (now.power_w * level).astype(np.float32)[:, None]
    offset = rng.integers(0, len(shape), n)[:, None]

    def coming() -> Iterator[Single]:
        for first in range(0, int(LONGEST_H * 3600), CHUNK):
            yield shape[(offset + first + np.arange(CHUNK)) % len(shape)] * power_w

    usual_a = float(np.median(now.mean_a))
    rates = rates_after(now.mean_a, now.pack, 3600 * now.hours)
    loaded_v = float(np.median(shown(now.pack, now.after, rates, usual_a).volts))
    exponent = np.clip(FOLLOW + FOLLOW_STD * rng.standard_normal(n), -0.2, 1.3)
    coarse = coarser(coming(), STEP_S, pack.hold_s, BLOCK_S)
    ends = simulate(
        now.pack,
        coarse.chunks,
        coarse.turns,
        cut_off_v=pack.cut_off_v,
        hold_s=pack.hold_s,
        follow=Follow(exponent, usual_a, max(loaded_v, pack.cut_off_v), pack.cut_off_v),
    )
    return np.clip(ends.end_s, 0.0, LONGEST_H * 3600) / 60, level
