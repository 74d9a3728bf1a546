"""Lawns per charge: which of today's lawns finish, with the odds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from estimator.answers.figures.load_profile import profile_of
from estimator.answers.figures.mow_figures import days_since_care_on, latest_day
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.typed import the_lawns, the_machine, the_pack
from estimator.answers.track_record import cited_record
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import BLADES, PLUGGING_IN, for_pack
from estimator.descriptions import Grass
from estimator.logbook import Logbook, mows

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.predictor.lawns.lawns_per_charge import LawnOdds, LawnsPerCharge, StopChance
    from estimator.predictor.narrowing import Doubt


@dataclass(frozen=True)
class Pause:
    """A break on the charger: after how many lawns, how long [min], with how many watts [W]."""

    after: int
    minutes: float
    charger_w: float


@dataclass(frozen=True)
class PlanQuestion:
    """Today's lawns and what is known of the day.

    lawns : names in mowing order, none for all; grass : one for all lawns, or one each
    start_charge, reserve : 0..1; order : "given" or "best", which makes most of `aim` ("lawns" or "area")
    spare : name of a second full pack that takes over
    """

    lawns: tuple[str, ...] = ()
    grass: Grass | Sequence[Grass] = field(default_factory=Grass)
    pack: str | None = None
    machine: str | None = None
    sure: float = 0.95
    start_charge: float | None = None
    temperature_c: float | None = None
    reserve: float = 0.0
    order: str = "given"
    aim: str = "lawns"
    pause: Pause | None = None
    spare: str | None = None


@dataclass(frozen=True)
class PlanAnswer:
    """How many of the lawns finish on this charge.

    count : lawns, from the first on, that finish with at least `sure`
    minutes [min] : mowing time of those lawns; expected : mean number of lawns finished
    lawns : details in mowing order, each with the odds of finishing it and all before it
    stops : why the motor would stop before the last lawn, with the chance of each
    doubts : what makes it uncertain, the largest cause first
    """

    count: int
    sure: float
    minutes: float
    expected: float
    lawns: tuple[LawnOdds, ...]
    stops: tuple[StopChance, ...]
    doubts: tuple[Doubt, ...]
    pack: str
    pack_now: PackNow
    start_charge: float
    reserve: float
    why: Why


def plan_of_day(logbook: Logbook, question: PlanQuestion) -> PlanAnswer:
    """Which of the lawns finish, from the mows so far and the pack as they know it."""
    from estimator.predictor.lawns.day import ChargingPause
    from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge

    lawns = the_lawns(logbook, question.lawns)
    known = mows(logbook)
    pack = fit_of_pack(logbook, the_pack(logbook, question.pack))
    machine = the_machine(logbook, question.machine)
    found = lawns_per_charge(
        profile_of(logbook, question.machine, among=known),
        pack,
        lawns,
        question.grass,
        question.sure,
        start_charge=question.start_charge,
        temperature_c=question.temperature_c,
        reserve=question.reserve,
        order=question.order,
        aim=question.aim,
        pause=ChargingPause(question.pause.after, question.pause.minutes, question.pause.charger_w)
        if question.pause
        else None,
        spare=fit_of_pack(logbook, the_pack(logbook, question.spare)) if question.spare else None,
        days_since_care=days_since_care_on(logbook, machine, latest_day(known)),
    )
    return PlanAnswer(
        count=found.count,
        sure=found.sure,
        minutes=found.minutes,
        expected=found.expected,
        lawns=found.lawns,
        stops=found.stops,
        doubts=found.doubts,
        pack=pack.name,
        pack_now=pack_now(pack),
        start_charge=1.0 if question.start_charge is None else question.start_charge,
        reserve=question.reserve,
        why=_why(found, pack, cited_record(logbook), question.order == "best" and found.exact_order),
    )


def _why(found: LawnsPerCharge, pack: FittedPack, record: tuple[Part, ...], exact_best: bool) -> Why:
    known = sum(lawn.mows_known for lawn in found.lawns)
    return Why(
        parts=(
            *record,
            *pack_now(pack).parts(),
            Part("cut-off", pack.cut_off_v, "V", f"counts when held for {pack.hold_s:g} s under load"),
            Part("mows of these lawns", str(known), "", "the others count too, for grass and pace"),
            Part(
                "standard error of the odds", 100 * found.odds_std, "%", "from the number of simulated days"
            ),
            *(
                Part(f"why uncertain: {one.cause}", 100 * one.share, "%", one.measure or "of the variance")
                for one in found.doubts
            ),
            *(Part(f"chance of a stop by {stop.why}", 100 * stop.chance, "%") for stop in found.stops),
        ),
        assumptions=found.assumptions,
        sources=("Order of lawns: Held & Karp 1962, doi 10.1137/0110015.",) if exact_best else (),
        cautions=(for_pack(pack.chemistry)[0], BLADES, PLUGGING_IN),
    )
