"""Charging and cost from the logbook: refilling after some lawns, and what mowing them costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.answers.conversion import ConversionAnswer, answer_of, latest_mows, mean_v
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.keeping.typed import the_lawns, the_pack
from estimator.answers.why import Part, Why
from estimator.conversion.bands import Band, of_draws
from estimator.conversion.charging import BreakCharge, Refill, break_gives, refill
from estimator.conversion.charging_habits import Charger
from estimator.conversion.running_cost import (
    CYCLES,
    Petrol,
    RunningCost,
    running_cost,
    wear_of_cycles,
    wear_of_fade,
)
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.logbook import Logbook


@dataclass(frozen=True)
class ChargingFigures:
    """Refilling after the lawns: what they take [Ah], the refill, what a break gives (None if not asked).

    warmer_k [K] : how much warmer than the air the pack is when the lawns are done; None without lawns
    """

    lawns: tuple[str, ...]
    used_ah: float
    refill: Refill
    pause: BreakCharge | None
    warmer_k: Band | None


def charging_after(
    logbook: Logbook,
    lawns: Sequence[str] = (),
    *,
    pack: str | None = None,
    charger_w: float | None = None,
    charger_a: float | None = None,
    pause_minutes: float | None = None,
    used_ah: float | None = None,
) -> ConversionAnswer[ChargingFigures]:
    """Minutes and energy to refill after these lawns or after `used_ah` [Ah]; what a break gives back."""

    fitted = fit_of_pack(logbook, the_pack(logbook, pack))
    charger = Charger(watts=charger_w, amps=charger_a)
    need = _need_of(logbook, lawns, fitted.name) if used_ah is None else None
    used = used_ah if used_ah is not None else need.ah if need else 0.0
    if used > fitted.usable_ah:
        raise InputError(
            f"the lawns take about {used:.1f} Ah; {fitted.name} holds {fitted.usable_ah:.1f} Ah",
            mend="name fewer lawns",
        )
    std, mowing_w, pause = need.ah_std if need else 0.0, need.power_w if need else None, None
    if pause_minutes is not None:
        pause = break_gives(fitted, used, charger, pause_minutes, used_ah_std=std, mowing_w=mowing_w)
    figures = ChargingFigures(
        lawns=need.lawns if need else (),
        used_ah=used,
        refill=refill(fitted, used, charger, used_ah_std=std),
        pause=pause,
        warmer_k=None if need is None else _warmer(fitted, need),
    )
    part = Part("charge used", used, "Ah", "of the lawns named" if need else "as given")
    why = Why((part,), figures.refill.assumptions, (), figures.refill.cautions)
    return ConversionAnswer(figures, need.mows if need else 0, why)


def _warmer(fitted: FittedPack, need: _Need) -> Band:
    """How warm mowing the lawns makes the pack [K above the air], by the mean square current of past mows."""

    heat_w = need.mean_square_a2 * (fitted.resistance_ohm or 0.0)
    rng, rated_ah = np.random.default_rng(5), fitted.rated.capacity_ah
    return of_draws(fitted.warming.rise(heat_w, 60 * need.minutes, fitted.series, rated_ah, rng))


def cost_of_mowing(
    logbook: Logbook,
    lawns: Sequence[str] = (),
    *,
    price_per_kwh: float,
    pack: str | None = None,
    mows_per_season: float | None = None,
    petrol_price_per_l: float | None = None,
    petrol_l_per_mow: float | None = None,
    petrol_l_per_hour: float | None = None,
    pack_price: float | None = None,
    cycles: float | None = None,
) -> ConversionAnswer[RunningCost]:
    """The cost of mowing these lawns once and for a season, compared with petrol at the user's own figures.

    pack_price : of a new pack, for its wear; cycles : full discharges that it lasts, None takes the fade that
        its mows show, or what is usual for its chemistry where they show none
    """

    fitted = fit_of_pack(logbook, the_pack(logbook, pack))
    need = _need_of(logbook, lawns, fitted.name)
    charges = max(1.0, need.ah / (0.9 * fitted.usable_ah))
    once = refill(fitted, need.ah / charges, Charger(watts=200.0), used_ah_std=need.ah_std / charges)
    mains, petrol = once.mains_wh.times(charges), None
    if petrol_price_per_l is not None:
        petrol = Petrol(petrol_price_per_l, l_per_mow=petrol_l_per_mow, l_per_hour=petrol_l_per_hour)
    found = running_cost(
        mains, price_per_kwh, area_m2=need.area_m2, mows_per_season=mows_per_season, petrol=petrol,
        minutes=need.minutes,
        wear=None if pack_price is None else _wear(logbook, fitted, pack_price, cycles, need.ah),
    )  # fmt: skip
    part = Part("energy from the socket", mains.value, "Wh", "for these lawns once")
    return answer_of(found, need.mows, part)


def _wear(logbook: Logbook, fitted: FittedPack, price: float, cycles: float | None, used_ah: float) -> Band:
    """The share of the pack's price that mowing these lawns once wears off."""
    from estimator.answers.figures.pack_curves import capacity_seen
    from estimator.fitting.seasons.fade import fade_draws
    from estimator.predictor.fade_forecast import shows_fade

    if not price >= 0:
        raise InputError(f"the price of the pack is {price}", mend="give a number from zero up")
    if cycles is not None and not cycles >= 1:
        raise InputError(f"the pack lasts {cycles:g} discharges", mend="give a number from 1 up")
    share = used_ah / fitted.rated.capacity_ah
    if cycles is not None:
        return wear_of_cycles(price, share, Band(cycles, cycles, cycles))
    history = capacity_seen(logbook, fitted.rated)
    if history.observed:
        seen = history.series()
        future = fade_draws(seen, horizon=1)
        if shows_fade(future):
            return wear_of_fade(price, of_draws(future.faded.clip(0.0) / float(seen.number[-1])))
    return wear_of_cycles(price, share, CYCLES[fitted.chemistry])


@dataclass(frozen=True)
class _Need:
    lawns: tuple[str, ...]
    area_m2: float
    ah: float
    ah_std: float
    minutes: float
    power_w: Band
    mean_square_a2: float
    mows: int


def _need_of(logbook: Logbook, names: Sequence[str], pack: str) -> _Need:
    """What mowing these lawns once takes, as the load profile expects it."""

    from estimator.answers.figures.load_profile import profile_of
    from estimator.conversion.load_trace import trace_from_features
    from estimator.fitting.load.mow_needs import draw_needs

    lawns = the_lawns(logbook, names)
    profile = profile_of(logbook)
    needs = draw_needs(profile, lawns, [Grass()] * len(lawns), 400, np.random.default_rng(3))
    mown = latest_mows(logbook, pack)
    volts, amps = mean_v(mown), [trace_from_features(each).current_a for each in mown]
    energy, seconds = needs.energy_wh.sum(1), needs.motor_s.sum(1)
    return _Need(
        lawns=tuple(lawn.name for lawn in lawns),
        area_m2=sum(lawn.area_m2 for lawn in lawns),
        ah=float(energy.mean()) / volts,
        ah_std=float(energy.std()) / volts,
        minutes=float(np.median(seconds)) / 60,
        power_w=of_draws(3600 * energy / seconds),
        mean_square_a2=float(np.mean([(each**2).mean() for each in amps])),
        mows=len(profile.mows),
    )
