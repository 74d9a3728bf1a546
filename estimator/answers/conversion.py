"""Cable, limits, motor and blade care, answered from the logbook's own mows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from estimator.answers.figures.mow_figures import features_of_mows, with_care
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.keeping.typed import the_machine, the_pack
from estimator.answers.why import Part, Why
from estimator.descriptions import Machine
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, mows

if TYPE_CHECKING:
    from estimator.conversion.care import CareAdvice
    from estimator.conversion.current_limits import CurrentLimits
    from estimator.conversion.load_trace import LoadTrace
    from estimator.conversion.motor import MotorLoad
    from estimator.conversion.wiring import FeedCable
    from estimator.fitting.load.features import MowFeatures

Figures = TypeVar("Figures")
MOST_MOWS = 40
"""How many of the latest mows give their loads: enough for any band, and quick."""


@dataclass(frozen=True)
class ConversionAnswer(Generic[Figures]):
    """Figures about the conversion, how many mows they come from, and what stands behind them.

    pack : the one whose mows alone count, since another pack's volts make other amps; None where all do
    """

    figures: Figures
    mows: int
    why: Why
    pack: str | None = None


def cable_of_mows(
    logbook: Logbook,
    size: str,
    one_way_m: float,
    *,
    pack: str | None = None,
    limit_a: float | None = None,
    copper_c: float = 40.0,
) -> ConversionAnswer[FeedCable]:
    """What a cable of this size ("6 mm2", "8 AWG") and one-way length [m] costs with the measured loads."""
    from estimator.conversion.wiring import feed_cable

    mown = latest_mows(logbook, pack)
    loads = _loads(mown)
    usable_wh = fit_of_pack(logbook, the_pack(logbook, pack)).usable_ah * mean_v(mown)
    found = feed_cable(loads, size, one_way_m, usable_wh=usable_wh, copper_c=copper_c, limit_a=limit_a)
    return answer_of(
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
    """Measured peaks by duration compared with the limits given; `management_a` defaults to the pack's own.

    management_s : for how long [s] the management allows its limit; None compares it, like the controller's,
    with the highest current over 1 s
    """
    from estimator.conversion.cautions import for_pack
    from estimator.conversion.current_limits import HIGHEST_S, Limit, current_limits

    chosen = the_pack(logbook, pack)
    managed_a = management_a if management_a is not None else chosen.current_limit_a
    given = (
        ("fuse", fuse_a, None),
        ("battery management", managed_a, HIGHEST_S if management_s is None else management_s),
        ("controller", controller_a, HIGHEST_S),
    )
    limits = [Limit(name, amps, seconds) for name, amps, seconds in given if amps is not None]
    loads = _loads(latest_mows(logbook, chosen.name))
    found = current_limits(loads, limits, clamp_highest_a=clamp_highest_a)
    answer = answer_of(found, len(loads), cautions=for_pack(chosen.chemistry)[:1])
    return replace(answer, pack=chosen.name)


def motor_of_mows(
    logbook: Logbook,
    *,
    machine: str | None = None,
    rated_w: float | None = None,
    engine_hp: float | None = None,
    among: Sequence[MowRecord] | None = None,
) -> ConversionAnswer[MotorLoad]:
    """Measured power compared with the ratings of the motor (as described, unless given) and the old engine.

    among : all mows of the logbook, where they have been listed already
    """
    from estimator.conversion.motor import motor_load

    described = the_machine(logbook, machine)
    rating = rated_w if rated_w is not None else described.motor_rated_w if described else None
    loads = _loads(latest_mows(logbook, machine=described.name if described else None, among=among))
    return answer_of(motor_load(loads, rated_w=rating, engine_hp=engine_hp), len(loads))


def care_of_machine(logbook: Logbook, *, machine: str | None = None) -> ConversionAnswer[CareAdvice]:
    """What to look at on the blades, judged by idle power and energy per area since the last blade care."""
    from estimator.conversion.care import care_advice
    from estimator.fitting.seasons.measure_model import at_usual_circumstances
    from estimator.fitting.seasons.measures import ENERGY, energy_observed, idle_of_one_kind

    described = the_machine(logbook, machine)
    chosen = [
        mow
        for mow in mows(logbook)
        if mow.started is not None and (described is None or mow.machine in (described.name, None))
    ]
    features = list(features_of_mows(logbook, chosen).values())
    dated = [each for each in features if each.day is not None and each.whole]
    if not dated:
        raise InputError("there are no dated mows", mend="add one, or give a mow its date")
    advice = care_advice(
        [date.fromisoformat(each.day or "") for each in dated],
        idle_of_one_kind(dated),
        at_usual_circumstances(ENERGY, energy_observed(dated)),
        blade_care=with_care(described or Machine(), logbook).blade_care,
        kind=described.kind if described else None,
    )
    return answer_of(advice, len(dated))


def latest_mows(
    logbook: Logbook,
    pack: str | None = None,
    machine: str | None = None,
    among: Sequence[MowRecord] | None = None,
) -> list[MowFeatures]:
    """Figures of the latest mows with this pack, or any, and this machine, or any; InputError without any.

    among : all mows of the logbook, where they have been listed already
    """
    listed = mows(logbook, pack=pack) if among is None else among
    chosen = [mow for mow in listed if machine is None or mow.machine in (machine, None)]
    found = [
        each for each in features_of_mows(logbook, chosen[-MOST_MOWS:]).values() if each.trace.values().size
    ]
    if not found:
        whose = f"with {pack or machine}" if pack or machine else "in the logbook"
        raise InputError(f"there are no mows {whose}", mend="add one first")
    return found


def _loads(mown: Sequence[MowFeatures]) -> list[LoadTrace]:
    from estimator.conversion.load_trace import trace_from_features

    return [trace_from_features(each) for each in mown]


def mean_v(mown: Sequence[MowFeatures]) -> float:
    """Mean voltage [V] under load."""
    return sum(each.typical_v for each in mown) / len(mown)


def answer_of(figures: Any, count: int, *parts: Part, cautions: Sequence[str] = ()) -> ConversionAnswer[Any]:
    """An answer from `count` mows, with the assumptions, sources and cautions that its figures carry."""
    behind = Why(
        parts=(Part("mows looked at", str(count)), *parts),
        assumptions=tuple(figures.assumptions),
        sources=tuple(getattr(figures, "sources", ())),
        cautions=(*(figures.cautions if hasattr(figures, "cautions") else ()), *cautions),
    )
    return ConversionAnswer(figures, count, behind)
