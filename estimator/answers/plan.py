"""Lawns per charge: which of today's lawns finish, with the odds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from estimator.answers.figures.load_profile import profile_of, rests_on
from estimator.answers.figures.mow_figures import days_since_care_on, latest_day
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.read_files import read_with_meters
from estimator.answers.keeping.typed import machine_in_use, the_lawns, the_pack
from estimator.answers.looking_back.track_record import cited_record
from estimator.answers.why import Part, Why, doubt_parts
from estimator.contradictions import check_log_of_pack
from estimator.conversion.cautions import BLADES, PLUGGING_IN, for_pack
from estimator.descriptions import Grass
from estimator.logbook import Logbook, machines, mows

if TYPE_CHECKING:
    from estimator.fitting.load.profile import LoadProfile
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.importer.log import SpotNotes
    from estimator.predictor.lawns.day import ChargingPause
    from estimator.predictor.lawns.lawns_per_charge import LawnOdds, LawnsPerCharge, StopChance
    from estimator.predictor.lawns.one_more import OneMoreLawn, SoFar
    from estimator.predictor.narrowing import Doubt


@dataclass(frozen=True)
class MownSoFar:
    """What was mown on this charge already: a log so far (files as name and bytes), or hand readings."""

    files: tuple[tuple[str, bytes], ...] = ()
    notes: SpotNotes | None = None
    decisions: Mapping[str, Any] = field(default_factory=dict)
    meters: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanQuestion:
    """Today's lawns and what is known of the day.

    lawns : names in mowing order, none for all; grass : one for all lawns, or one for each
    start_charge, reserve : 0..1; order : "given", or "best", which finishes most of `aim` ("lawns" or "area")
    spare : name of a second, full pack that takes over
    so_far : what was already mown, beginning at `start_charge`; `lawns` are those that should still follow
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
    pause: ChargingPause | None = None
    spare: str | None = None
    so_far: MownSoFar | None = None


@dataclass(frozen=True)
class PlanAnswer:
    """How many of the lawns finish on this charge.

    count : lawns, from the first on, that finish with at least `sure`
    minutes [min] : mowing time of those lawns; expected : mean number of lawns finished
    lawns : details in mowing order, each with the odds of finishing it and all before it
    stops : reasons why the motor would stop before the last lawn is done, with the chance of each
    doubts : what makes the answer uncertain, the largest cause first
    start_charge [0..1] : at the start of the first of the lawns; pause, spare : as asked
    notes : what it rests on where that is not plain
    more : where `so_far` is given, each lawn by itself with the chance that the charge left finishes it
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
    pause: ChargingPause | None
    spare: str | None
    more: tuple[OneMoreLawn, ...]
    notes: tuple[str, ...]
    why: Why


def plan_of_day(logbook: Logbook, question: PlanQuestion) -> PlanAnswer:
    """Which of the lawns finish, from the mows so far and the pack as they show it."""
    from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
    from estimator.predictor.lawns.one_more import lawns_that_fit

    lawns = the_lawns(logbook, question.lawns)
    known = mows(logbook)
    pack = fit_of_pack(logbook, the_pack(logbook, question.pack))
    machine = machine_in_use(logbook, question.machine)
    profile = profile_of(logbook, machine.name if machine else None, among=known)
    taken = question.machine is None and len(machines(logbook)) > 1
    so_far = None if question.so_far is None else _stands(logbook, question, question.so_far, profile, pack)
    more: tuple[OneMoreLawn, ...] = ()
    if so_far is not None:
        more = lawns_that_fit(
            profile, so_far, pack, lawns, question.grass,
            temperature_c=question.temperature_c, reserve=question.reserve,
        )  # fmt: skip
    found = lawns_per_charge(
        profile,
        pack,
        lawns,
        question.grass,
        question.sure,
        start_charge=question.start_charge,
        temperature_c=question.temperature_c,
        reserve=question.reserve,
        order=question.order,
        aim=question.aim,
        pause=question.pause,
        spare=fit_of_pack(logbook, the_pack(logbook, question.spare)) if question.spare else None,
        days_since_care=days_since_care_on(logbook, machine, latest_day(known)),
        so_far=so_far,
    )
    full, now = 1.0 if question.start_charge is None else question.start_charge, pack_now(pack)
    return PlanAnswer(
        count=found.count,
        sure=found.sure,
        minutes=found.minutes,
        expected=found.expected,
        lawns=found.lawns,
        stops=found.stops,
        doubts=found.doubts,
        pack=pack.name,
        pack_now=now,
        start_charge=full if so_far is None else min(1.0, max(0.0, float(np.median(so_far.pack.charge)))),
        reserve=question.reserve,
        pause=question.pause,
        spare=question.spare,
        more=more,
        notes=(
            *rests_on(profile, question.grass),
            *((f"With {machine.name}, the machine of the latest mow.",) if taken and machine else ()),
        ),
        why=_why(found, pack, now, cited_record(logbook), question.order == "best" and found.exact_order),
    )


def _stands(
    logbook: Logbook, question: PlanQuestion, mown: MownSoFar, profile: LoadProfile, pack: FittedPack
) -> SoFar:
    """The pack after what was mown so far, and the power that this took."""
    from estimator.predictor.lawns.one_more import SoFar, so_far_of_log, weighed_so_far

    notes = mown.notes
    if notes is None:
        log = read_with_meters(logbook, mown.files, mown.decisions, mown.meters).log
        if log.spot is None:
            check_log_of_pack(log, pack.rated)
            return so_far_of_log(log, pack, question.start_charge, question.temperature_c)
        notes = log.spot
    now = weighed_so_far(notes, pack, profile, question.start_charge, question.temperature_c)
    return SoFar(now.pack, float(np.median(now.power_w)))


def _why(
    found: LawnsPerCharge, pack: FittedPack, now: PackNow, record: tuple[Part, ...], exact_best: bool
) -> Why:
    known = sum(lawn.mows_known for lawn in found.lawns)
    return Why(
        parts=(
            *record,
            *now.parts(),
            Part("cut-off", pack.cut_off_v, "V", f"counts when held for {pack.hold_s:g} s under load"),
            Part("mows of these lawns", str(known), "", "the others count too, for grass and pace"),
            Part(
                "standard error of the odds", 100 * found.odds_std, "%", "from the number of simulated days"
            ),
            *doubt_parts(found.doubts),
            *(Part(f"chance of a stop by {stop.why}", 100 * stop.chance, "%") for stop in found.stops),
        ),
        assumptions=found.assumptions,
        sources=("Order of lawns: Held & Karp 1962, doi 10.1137/0110015.",) if exact_best else (),
        cautions=(for_pack(pack.chemistry)[0], BLADES, PLUGGING_IN),
    )
