"""Lawns per charge: which of today's lawns finish, in which order, with the odds after each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.amounts import check_amount
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError, check_kind
from estimator.fitting.load.load_draws import lay_out
from estimator.fitting.load.mow_needs import MowNeeds, check_lawns, draw_needs, grasses_for
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.predictor.lawns.day import ChargingPause, DayRun, choose_step, run_day
from estimator.predictor.lawns.day_plan import AIMS, best_order
from estimator.predictor.lawns.day_unknowns import day_assumptions, day_temperature, left_over, pack_causes
from estimator.predictor.lawns.one_more import SoFar
from estimator.predictor.narrowing import Doubt, doubts_by_cause
from estimator.results import result

DRAWS = 500
"""Odds from this many draws are off by at most 0.022 (one sigma, at even odds)."""


@dataclass(frozen=True)
class LawnOdds:
    """One lawn of the day, in mowing order.

    odds : chance that it is finished, mown after those before it; minutes, energy_wh : medians of its own
    motor time [min] and energy [Wh], with bands (low, high) that hold with chance `sure`; mows_known : number
    of its mows so far
    """

    lawn: str
    area_m2: float
    odds: float
    minutes: float
    minutes_low: float
    minutes_high: float
    energy_wh: float
    energy_low_wh: float
    energy_high_wh: float
    mows_known: int


@result
class LawnsPerCharge:
    """How many lawns finish on the charge.

    count : lawns, from the first on, that finish with chance `sure` at least
    odds : (lawns,) chance that each is finished, in mowing order
    minutes : median motor time [min] of the counted lawns
    expected : mean number of lawns finished
    lawns : details in mowing order; stops : chance of each reason to stop early
    odds_std : standard error of the odds due to the number of draws, at its largest
    doubts : why what is left at the end is uncertain, the largest cause first
    """

    count: int
    odds: tuple[float, ...]
    minutes: float
    sure: float
    expected: float
    lawns: tuple[LawnOdds, ...]
    stops: tuple[StopChance, ...]
    exact_order: bool
    odds_std: float
    doubts: tuple[Doubt, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class StopChance:
    """A reason to stop before the last lawn is done, its chance, and the charge (0..1) usually left then."""

    why: str
    chance: float
    charge: float


def lawns_per_charge(
    profile: LoadProfile,
    fitted: Pack,
    lawns: Sequence[Lawn],
    grass: Grass | Sequence[Grass] | None = None,
    sure: float = 0.95,
    *,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    reserve: float = 0.0,
    order: str = "given",
    aim: str = "lawns",
    pause: ChargingPause | None = None,
    spare: Pack | None = None,
    days_since_care: float | None = None,
    so_far: SoFar | None = None,
    draws: int = DRAWS,
    seed: int = 1,
) -> LawnsPerCharge:
    """Odds of finishing each of the lawns, mown one after the other.

    Parameters
    ----------
    profile : LoadProfile
        what mowing takes from the pack, from `fit_profile`
    fitted : Pack or FittedPack
        the pack in use
    lawns : sequence of Lawn, (n,)
        in the order of mowing
    grass : Grass, or one a lawn, default None
        None for unknown
    sure : float, 0.5..0.999, default 0.95
        how surely a lawn must be finished to count
    start_charge : float, 0..1, default None
        None for full
    temperature_c : float, -40..70 [°C], default None
        of air and pack at the start; None takes those of the mows so far, 25 °C where they have none
    reserve : float, 0..0.9, default 0
        charge that should be left
    order : "given" or "best", default "given"
        "best" chooses the order that assures most lawns or area, then finishes most on average
    aim : "lawns" or "area", default "lawns"
        what "best" counts
    pause : ChargingPause, default None
        a break on the charger
    spare : Pack or FittedPack, default None
        a second full pack that takes over where the first stops
    days_since_care : float, from 0, default None
        days since blade care; None takes that of the latest mow
    so_far : SoFar, default None
        a day that has begun: its pack replaces `fitted` and `start_charge`, its power counts for today
    draws : int, default 500
        simulated days
    seed : int, default 1
        the same seed gives the same answer

    Returns
    -------
    LawnsPerCharge
        `count`, `odds` (n,) [0..1] and `minutes` [min]

    Raises
    ------
    InputError
        for no lawn, and for amounts out of range

    Source: order of lawns by Held & Karp 1962, doi 10.1137/0110015.

    >>> from estimator.fitting.load.profile import fit_profile
    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> plan = lawns_per_charge(fit_profile([]), pack, [Lawn("a", 60), Lawn("b", 9000)])
    >>> plan.count, plan.odds[1] < 0.5 < plan.odds[0]
    (1, True)
    """
    check_kind("profile", profile, LoadProfile)
    _check(lawns, order, aim, sure, reserve)
    check_amount("temperature_c", temperature_c)
    rng = np.random.default_rng(seed)
    grasses: Sequence[Grass] = grasses_for(lawns, grass)
    needs = draw_needs(
        profile, lawns, grasses, draws, rng,
        days_since_care=days_since_care, temperature_c=temperature_c, seen_w=so_far.seen_w if so_far else 0.0,
    )  # fmt: skip
    around_c = day_temperature(profile, temperature_c, draws, rng)
    if so_far:
        first = so_far.pack.taken(np.arange(draws) % so_far.pack.n)
    else:
        first = draw_pack(fitted, draws, rng, start_charge).at_temperature(around_c)
    second = (draw_pack(spare, draws, rng).at_temperature(around_c), spare) if spare is not None else None
    step_s, exact, shape_rng = choose_step(needs), True, np.random.default_rng(seed + 1)

    def mown() -> DayRun:
        load = lay_out(profile, lawns, grasses, needs, shape_rng, step_s)
        return run_day(first, fitted, load, reserve_charge=reserve, pause=pause, spare=second)

    run = mown()
    if order == "best" and len(lawns) > 1:
        budget = np.where(run.finished[:, -1], np.inf, run.delivered_wh)
        worth = np.ones(len(lawns)) if aim == "lawns" else np.array([lawn.area_m2 for lawn in lawns])
        found = best_order(needs.energy_wh, budget, worth, sure)
        places, exact = found.places, found.exact
        lawns, grasses = [lawns[i] for i in places], [grasses[i] for i in places]
        needs = MowNeeds(needs.energy_wh[:, places], needs.motor_s[:, places], needs.causes)
        run = mown()
    odds, day = run.finished.mean(0), [*zip(lawns, grasses, strict=True)]
    count = int((odds >= sure).sum())
    total_min = needs.motor_s[:, :count].sum(1) / 60
    return LawnsPerCharge(
        count=count,
        odds=tuple(float(value) for value in odds),
        minutes=float(np.median(total_min)) if count else 0.0,
        sure=sure,
        expected=float(odds.sum()),
        lawns=tuple(
            _lawn_odds(profile, lawn, needs, [each == day[i] for each in day], float(odds[i]), sure)
            for i, lawn in enumerate(lawns)
        ),
        stops=tuple(
            StopChance(str(why), float(then.mean()), max(float(np.median(run.charge_end[then])), 0.0))
            for why in np.unique(run.why[run.why != ""])
            if (then := run.why == why).any()
        ),
        exact_order=exact,
        odds_std=0.5 / math.sqrt(draws),
        doubts=doubts_by_cause(
            left_over(run, needs),
            {**needs.causes, **pack_causes(first)},
            by_hand={one.spot for one in profile.loads} == {True},
            grasses=grasses,
        ),
        assumptions=day_assumptions(
            profile, lawns, grasses, start_charge is None and so_far is None, temperature_c, spare, exact
        ),
    )


def _lawn_odds(
    profile: LoadProfile, lawn: Lawn, needs: MowNeeds, alike: list[bool], odds: float, sure: float
) -> LawnOdds:
    """A lawn with its odds; minutes and energy from all places in the day where it is mown in this grass."""
    at = [(1 - sure) / 2, 0.5, (1 + sure) / 2]
    minutes = np.quantile(needs.motor_s[:, alike] / 60, at)
    energy = np.quantile(needs.energy_wh[:, alike], at)
    return LawnOdds(
        lawn=lawn.name,
        area_m2=lawn.area_m2,
        odds=odds,
        minutes=float(minutes[1]),
        minutes_low=float(minutes[0]),
        minutes_high=float(minutes[2]),
        energy_wh=float(energy[1]),
        energy_low_wh=float(energy[0]),
        energy_high_wh=float(energy[2]),
        mows_known=sum(one.lawn == lawn.name for one in profile.mows),
    )


def _check(lawns: Sequence[Lawn], order: str, aim: str, sure: float, reserve: float) -> None:
    check_lawns(lawns)
    check_amount("sure", sure, needed=True)
    check_amount("reserve", reserve, needed=True)
    if order not in ("given", "best"):
        raise InputError(f"order is {order!r}", mend="choose given or best")
    if aim not in AIMS:
        raise InputError(f"aim is {aim!r}", mend=f"choose {' or '.join(AIMS)}")
