"""Recommended capacity: the pack to buy, and what its margin is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from estimator.answers.conversion import motor_of_mows
from estimator.answers.figures.kept_sizing import sized
from estimator.answers.figures.load_profile import profile_of, rests_on
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.typed import the_lawns, the_pack
from estimator.answers.looking_back.track_record import cited_record
from estimator.answers.why import Part, Why, doubt_parts
from estimator.conversion.cautions import BUILDING, FULL_DISCHARGE, MOTOR, PLUGGING_IN, for_pack
from estimator.descriptions import Grass, Pack
from estimator.errors import InputError
from estimator.logbook import Logbook, MowRecord, mows

if TYPE_CHECKING:
    from estimator.conversion.motor import MotorLoad
    from estimator.predictor.narrowing import Doubt
    from estimator.predictor.sizing.margin import Saving
    from estimator.predictor.sizing.recommend import MarginPart, RecommendedCapacity, SizeOdds


@dataclass(frozen=True)
class CapacityQuestion:
    """The lawns that one charge should finish, with what certainty, and under which circumstances.

    lawns : names, none for all; sure, reserve, capacity_at_end : 0..1; resistance_at_end : multiple of new
    coldest_c : temperature [°C] on the coldest mowing day, None takes the coldest of the mows so far
    sizes_ah : sizes [Ah] that can be bought
    """

    lawns: tuple[str, ...] = ()
    grass: Grass | Sequence[Grass] = field(default_factory=Grass)
    pack: str | None = None
    machine: str | None = None
    sure: float = 0.95
    reserve: float = 0.10
    capacity_at_end: float = 0.80
    resistance_at_end: float | None = None
    coldest_c: float | None = None
    sizes_ah: tuple[float, ...] = ()


@dataclass(frozen=True)
class CapacityAnswer:
    """The smallest pack that finishes the lawns with the certainty wanted.

    capacity_ah [Ah] : rated capacity needed, the sum of the parts
    sizes : every size on offer with its chance of finishing all lawns; choice : the smallest one that is sure
        enough, None where none is; new_pack : a pack of that size, else one that could be built
    coldest_c [°C] : the coldest mowing day, coldest_assumed : whether it is
        neither given nor that of a mow; doubts : what makes the need uncertain, the largest cause first
    saving : the one measurement that would save most, None where none would
    now_ah [Ah] : rated capacity of the pack in use; now_guessed : whether that is a guess
    in_use : its chances, were it new again; cut_off : what a lower one would save, None where that is little
    energy_wh [Wh] : mean need of the lawns; peak_w [W] : the highest second, not exceeded on 95 % of the days
    notes : what it rests on where that is not plain
    motor : its measured load; None without mows, or where several machines are described and none is named
    """

    capacity_ah: float
    sure: float
    parts: tuple[MarginPart, ...]
    sizes: tuple[SizeOdds, ...]
    choice: SizeOdds | None
    new_pack: Pack
    coldest_c: float
    coldest_assumed: bool
    doubts: tuple[Doubt, ...]
    saving: Saving | None
    now_ah: float
    now_guessed: bool
    in_use: SizeOdds
    cut_off: Saving | None
    pack: str
    pack_now: PackNow
    lawns: tuple[str, ...]
    energy_wh: float
    peak_w: float
    motor: MotorLoad | None
    notes: tuple[str, ...]
    why: Why

    @property
    def rated(self) -> str:
        """The capacity of the pack in use, as its label says it or as it was guessed."""
        return f"about {self.now_ah:g} Ah, guessed" if self.now_guessed else f"{self.now_ah:g} Ah rated"


def capacity_to_buy(logbook: Logbook, question: CapacityQuestion) -> CapacityAnswer:
    """The pack that finishes the lawns, of the kind of the pack in use."""
    from estimator.predictor.sizing.new_pack import coldest_is_assumed

    lawns = the_lawns(logbook, question.lawns)
    pack = the_pack(logbook, question.pack)
    listed = mows(logbook)
    fitted = fit_of_pack(logbook, pack)
    profile = profile_of(logbook, question.machine, among=listed)
    found = sized(
        logbook,
        profile,
        fitted,
        lawns,
        question.grass,
        question.sure,
        capacity_at_end=question.capacity_at_end,
        resistance_at_end=question.resistance_at_end,
        coldest_c=question.coldest_c,
        reserve=question.reserve,
        sizes_ah=question.sizes_ah,
    )
    motor = _motor(logbook, question.machine, listed)
    return CapacityAnswer(
        capacity_ah=found.capacity_ah,
        sure=found.sure,
        parts=found.parts,
        sizes=found.sizes,
        choice=found.choice,
        new_pack=found.pack,
        coldest_c=found.coldest_c,
        coldest_assumed=question.coldest_c is None and coldest_is_assumed(profile),
        doubts=found.doubts,
        saving=found.saving,
        now_ah=pack.capacity_ah,
        now_guessed=pack.capacity_guessed,
        in_use=found.in_use,
        cut_off=found.cut_off,
        pack=pack.name,
        pack_now=pack_now(fitted),
        lawns=tuple(lawn.name for lawn in lawns),
        energy_wh=found.energy_wh,
        peak_w=found.peak_w,
        motor=motor,
        notes=rests_on(profile, question.grass),
        why=_why(found, question, pack, cited_record(logbook), motor),
    )


def _motor(logbook: Logbook, machine: str | None, listed: Sequence[MowRecord]) -> MotorLoad | None:
    try:
        return motor_of_mows(logbook, machine=machine, among=listed).figures
    except InputError:
        return None


def _why(
    found: RecommendedCapacity,
    question: CapacityQuestion,
    pack: Pack,
    record: tuple[Part, ...],
    motor: MotorLoad | None,
) -> Why:
    from estimator.predictor.sizing.new_pack import rise_at_end

    rise = question.resistance_at_end or rise_at_end(pack.chemistry, question.capacity_at_end)
    return Why(
        parts=(
            *record,
            *(Part(part.name, part.ah, "Ah", part.note) for part in found.parts),
            *doubt_parts(found.doubts),
        ),
        assumptions=(
            f"At end of life {100 * question.capacity_at_end:.0f} % of the capacity is left and the "
            f"resistance is {rise:.3g} times that of a new pack (common practice).",
            f"The coldest mowing day finds the pack at {found.coldest_c:g} °C; under load it warms itself.",
            *found.assumptions,
        ),
        sources=("Constant power through the fitted circuit: Plett, J. Power Sources 134 (2004) 252-292.",),
        cautions=(
            *for_pack(pack.chemistry),
            BUILDING,
            PLUGGING_IN,
            FULL_DISCHARGE,
            *((MOTOR,) if motor is not None and motor.rated_w is not None else ()),
        ),
    )
