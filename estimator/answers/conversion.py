"""Cable, limits, motor, charging, cost and care, asked of the logbook's own mows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from estimator.answers.mow_figures import features_of_mows, with_care
from estimator.answers.names import the_lawns, the_machine, the_pack
from estimator.answers.pack_chain import fit_of_pack
from estimator.answers.why import Part, Why
from estimator.errors import InputError
from estimator.logbook import Logbook, mows

if TYPE_CHECKING:
    from estimator.conversion.bands import Band
    from estimator.conversion.care import CareAdvice
    from estimator.conversion.charging import BreakCharge, Refill
    from estimator.conversion.current_limits import CurrentLimits
    from estimator.conversion.load_trace import LoadTrace
    from estimator.conversion.motor import MotorLoad
    from estimator.conversion.running_cost import RunningCost
    from estimator.conversion.wiring import FeedCable
    from estimator.fitting.features import MowFeatures

Figures = TypeVar("Figures")
MOST_MOWS = 40
"""Loads of the latest so many mows are looked at: enough for any band, and quick."""


@dataclass(frozen=True)
class ConversionAnswer(Generic[Figures]):
    """Figures about the conversion, from so many mows, with what stands behind them."""

    figures: Figures
    mows: int
    why: Why


@dataclass(frozen=True)
class ChargingFigures:
    """Refilling after the lawns: what they take [Ah], the refill, what a break gives (None if not asked)."""

    lawns: tuple[str, ...]
    used_ah: float
    refill: Refill
    pause: BreakCharge | None


def cable_of_mows(
    logbook: Logbook,
    size: str,
    one_way_m: float,
    *,
    pack: str | None = None,
    limit_a: float | None = None,
    copper_c: float = 40.0,
) -> ConversionAnswer[FeedCable]:
    """What a cable of that size ("10 AWG", "6 mm2") and length [m] one way costs with the measured loads."""
    from estimator.conversion.wiring import feed_cable

    loads = _loads(logbook, pack)
    fitted = fit_of_pack(logbook, the_pack(logbook, pack))
    usable_wh = fitted.capacity_ah * _mean_v(logbook, pack)
    found = feed_cable(loads, size, one_way_m, usable_wh=usable_wh, copper_c=copper_c, limit_a=limit_a)
    return _answer(
        found, len(loads), Part("usable energy of the pack", usable_wh, "Wh", "for the minutes lost")
    )


def limits_of_mows(
    logbook: Logbook,
    *,
    pack: str | None = None,
    fuse_a: float | None = None,
    management_a: float | None = None,
    management_s: float | None = None,
    controller_a: float | None = None,
    clamp_highest_a: float | None = None,
) -> ConversionAnswer[CurrentLimits]:
    """Measured peaks by duration beside the limits given; the pack's own limit stands for its management.

    management_s : how long [s] the management lets its limit last; None sets it, as the controller's, beside
    the highest current over 1 s
    """
    from estimator.conversion.current_limits import HIGHEST_S, Limit, current_limits

    chosen = the_pack(logbook, pack)
    managed_a = management_a if management_a is not None else chosen.current_limit_a
    given = (
        ("fuse", fuse_a, None),
        ("battery management", managed_a, HIGHEST_S if management_s is None else management_s),
        ("controller", controller_a, HIGHEST_S),
    )
    limits = [Limit(name, amps, seconds) for name, amps, seconds in given if amps is not None]
    loads = _loads(logbook, chosen.name)
    return _answer(current_limits(loads, limits, clamp_highest_a=clamp_highest_a), len(loads))


def motor_of_mows(
    logbook: Logbook,
    *,
    machine: str | None = None,
    rated_w: float | None = None,
    engine_hp: float | None = None,
) -> ConversionAnswer[MotorLoad]:
    """Measured power beside the motor's rating (as described, unless given) and the old engine's."""
    from estimator.conversion.motor import motor_load

    described = the_machine(logbook, machine)
    rating = rated_w if rated_w is not None else described.motor_rated_w if described else None
    loads = _loads(logbook, machine=described.name if described else None)
    return _answer(motor_load(loads, rated_w=rating, engine_hp=engine_hp), len(loads))


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
    """Minutes and energy to refill after these lawns, or after so many Ah; what a break gives back."""
    from estimator.conversion.charging import Charger, break_gives, refill

    fitted = fit_of_pack(logbook, the_pack(logbook, pack))
    charger = Charger(watts=charger_w, amps=charger_a)
    need = _need_of(logbook, lawns, fitted.name) if used_ah is None else None
    used = used_ah if used_ah is not None else need.ah if need else 0.0
    if used > fitted.capacity_ah:
        raise InputError(
            f"the lawns take about {used:.1f} Ah; {fitted.name} holds {fitted.capacity_ah:.1f} Ah",
            mend="name fewer lawns",
        )
    std = need.ah_std if need else 0.0
    mowing_w = need.power_w if need else None
    figures = ChargingFigures(
        lawns=need.lawns if need else (),
        used_ah=used,
        refill=refill(fitted, used, charger, used_ah_std=std),
        pause=None
        if pause_minutes is None
        else break_gives(fitted, used, charger, pause_minutes, used_ah_std=std, mowing_w=mowing_w),
    )
    behind = figures.refill
    return ConversionAnswer(
        figures,
        need.mows if need else 0,
        Why(
            (Part("charge used", used, "Ah", "of the lawns named" if need else "as given"),),
            behind.assumptions,
            (),
            behind.cautions,
        ),
    )


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
) -> ConversionAnswer[RunningCost]:
    """Money for mowing these lawns once, and a season of it, beside petrol at the user's own figures."""
    from estimator.conversion.charging import Charger, refill
    from estimator.conversion.running_cost import Petrol, running_cost

    fitted = fit_of_pack(logbook, the_pack(logbook, pack))
    need = _need_of(logbook, lawns, fitted.name)
    charges = max(1.0, need.ah / (0.9 * fitted.capacity_ah))
    mains = refill(
        fitted, need.ah / charges, Charger(watts=200.0), used_ah_std=need.ah_std / charges
    ).mains_wh
    petrol = (
        None
        if petrol_price_per_l is None
        else Petrol(petrol_price_per_l, l_per_mow=petrol_l_per_mow, l_per_hour=petrol_l_per_hour)
    )
    found = running_cost(
        mains.times(charges),
        price_per_kwh,
        area_m2=need.area_m2,
        mows_per_season=mows_per_season,
        petrol=petrol,
        minutes=need.minutes,
    )
    return _answer(
        found, need.mows, Part("energy from the socket", mains.value * charges, "Wh", "for these lawns once")
    )


def care_of_machine(
    logbook: Logbook, *, machine: str | None = None, cutter: str = "reel"
) -> ConversionAnswer[CareAdvice]:
    """What idle power and energy per area since the last blade care suggest looking at."""
    from estimator.conversion.care import care_advice
    from estimator.fitting.measures import ENERGY, energy_observed
    from estimator.fitting.trends import trend

    described = the_machine(logbook, machine)
    chosen = [
        mow
        for mow in mows(logbook)
        if mow.started is not None and (described is None or mow.machine in (described.name, None))
    ]
    features = list(features_of_mows(logbook, chosen).values())
    dated = [each for each in features if each.day is not None and each.energy_wh > 0]
    if not dated:
        raise InputError("there are no dated mows", mend="add one first")
    advice = care_advice(
        [date.fromisoformat(each.day or "") for each in dated],
        [each.idle_w for each in dated],
        [point.value for point in trend(ENERGY, energy_observed(dated)).points],
        blade_care=with_care(described, logbook).blade_care if described else (),
        cutter=cutter,
    )
    return _answer(advice, len(dated))


@dataclass(frozen=True)
class _Need:
    lawns: tuple[str, ...]
    area_m2: float
    ah: float
    ah_std: float
    minutes: float
    power_w: Band
    mows: int


def _need_of(logbook: Logbook, names: Sequence[str], pack: str) -> _Need:
    """What mowing these lawns once takes, as the load profile expects it."""
    import numpy as np

    from estimator.answers.load import profile_of
    from estimator.conversion.bands import of_draws
    from estimator.descriptions import Grass
    from estimator.fitting.mow_needs import draw_needs

    lawns = the_lawns(logbook, names)
    profile = profile_of(logbook)
    needs = draw_needs(profile, lawns, [Grass()] * len(lawns), 400, np.random.default_rng(3))
    volts = _mean_v(logbook, pack)
    energy, seconds = needs.energy_wh.sum(1), needs.motor_s.sum(1)
    return _Need(
        lawns=tuple(lawn.name for lawn in lawns),
        area_m2=sum(lawn.area_m2 for lawn in lawns),
        ah=float(energy.mean()) / volts,
        ah_std=float(energy.std()) / volts,
        minutes=float(np.median(seconds)) / 60,
        power_w=of_draws(3600 * energy / seconds),
        mows=len(profile.mows),
    )


def _features(logbook: Logbook, pack: str | None, machine: str | None) -> list[MowFeatures]:
    chosen = [mow for mow in mows(logbook, pack=pack) if machine is None or mow.machine in (machine, None)]
    found = [
        each for each in features_of_mows(logbook, chosen[-MOST_MOWS:]).values() if each.trace.watts().size
    ]
    if not found:
        whose = f"with {pack or machine}" if pack or machine else "in the logbook"
        raise InputError(f"there are no mows {whose}", mend="add one first")
    return found


def _loads(logbook: Logbook, pack: str | None = None, machine: str | None = None) -> list[LoadTrace]:
    from estimator.conversion.load_trace import trace_from_features

    return [trace_from_features(each) for each in _features(logbook, pack, machine)]


def _mean_v(logbook: Logbook, pack: str | None) -> float:
    found = _features(logbook, pack, None)
    return sum(each.typical_v for each in found) / len(found)


def _answer(figures: Any, count: int, *parts: Part) -> ConversionAnswer[Any]:
    behind = Why(
        parts=(Part("mows looked at", str(count)), *parts),
        assumptions=tuple(figures.assumptions),
        sources=tuple(getattr(figures, "sources", ())),
        cautions=tuple(figures.cautions if hasattr(figures, "cautions") else ()),
    )
    return ConversionAnswer(figures, count, behind)
