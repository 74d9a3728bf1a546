"""A mow read from its files: what its log holds, and what that says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.answers.figures.load_profile import tall_doubts
from estimator.answers.figures.mow_figures import used_in_mow, with_habit
from estimator.answers.figures.mow_log import doubts, others_of, set_aside
from estimator.answers.figures.pack_now import PackNow, pack_doubts, pack_now
from estimator.answers.keeping.changing import check_day
from estimator.answers.keeping.proposal import begins_full
from estimator.answers.keeping.read_files import read_with_meters
from estimator.answers.keeping.twins import twins_caution, twins_of
from estimator.answers.keeping.typed import care_noted, the_machine, the_pack_of_a_mow, the_tags
from estimator.answers.why import Part, Why, within
from estimator.contradictions import check_date
from estimator.conversion.cautions import MEASURING, PROBES, for_pack
from estimator.descriptions import DOUBTFUL, RAN_OUT
from estimator.logbook import Logbook
from estimator.mends import Give, Note
from estimator.mow import Mow

if TYPE_CHECKING:
    from estimator.answers.keeping.keep import Circumstances
    from estimator.fitting.charge_used import ChargeUsed
    from estimator.fitting.load.features import MowFeatures
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log

NEW = 0  # no mow of the logbook has this number
FULL = Note("Begins with a full pack, by its first volts", (Give("start_charge"), " overrules it"))


@dataclass(frozen=True)
class MowFigures:
    """What one mow holds.

    mow : its number, None where it was only looked at; ah, wh : with standard uncertainties
    gap_minutes [min] : without readings; peaks [W] : over 1, 5 and 30 s, None where the readings are too far
        apart to show them
    pack_now : the pack as known with this mow, but without the later ones
    later : how many later mows of the pack are kept
    twins : mows of the pack that may be the same one, kept from other files
    """

    mow: int | None
    lawn: str
    pack: str
    started: datetime | None
    minutes: float
    gap_minutes: float
    ah: float
    ah_std: float
    wh: float
    wh_std: float
    wh_per_m2: float
    mean_w: float
    idle_w: float | None
    peak_1s_w: float | None
    peak_5s_w: float | None
    peak_30s_w: float | None
    pack_now: PackNow
    later: int
    notes: tuple[str, ...]
    twins: tuple[int, ...]
    why: Why


@dataclass(frozen=True)
class ReadMow:
    """A mow as it was read from its files, before it is kept: its log, figures, decisions, twins and doubts.

    features : from its own files, to be kept; shown : as known together with the other mows of the logbook
    doubts : what is unlikely about it, a sentence each
    """

    log: Log
    examined: Examined
    mow: Mow
    features: MowFeatures
    shown: MowFeatures
    used: ChargeUsed
    decisions: Mapping[str, Any]
    learned: Mapping[str, Mapping[str, Any]]
    twins: tuple[int, ...]
    doubts: tuple[str, ...]


def read_mow(logbook: Logbook, files: Sequence[tuple[str, bytes]], said: Circumstances) -> ReadMow:
    """Read the files of a mow and check them against its pack, its date and the other mows."""
    from estimator.fitting.by_hand.spot_volts import with_usual_volts
    from estimator.fitting.load.features import mow_features

    check_day(said.started, "start of the mow")
    lawn = kept.lawn(logbook, said.lawn)
    pack = the_pack_of_a_mow(logbook, said.pack)
    machine = the_machine(logbook, said.machine)
    found = read_with_meters(logbook, files, said.decisions, said.meters)
    tags = the_tags(said.tags)
    log = with_usual_volts(replace(found.log, ran_out=RAN_OUT in tags), pack, said.start_charge)
    check_date(log, said.started)
    start_charge = said.start_charge
    if start_charge is None and log.spot is None and begins_full(logbook, log, pack):
        start_charge = 1.0
        log = replace(log, notes=(*log.notes, FULL))
    aside = set_aside(log, pack)
    mow = Mow(
        log=log, lawn=lawn, grass=said.grass, pack=pack, machine=machine, start_charge=start_charge,
        temperature_c=said.temperature_c, started=_began(log, said.started),
        tags=tuple(dict.fromkeys((*tags, *((DOUBTFUL,) if aside else ())))),
    )  # fmt: skip
    features = mow_features(mow)
    others = others_of(logbook, features)
    shown = with_habit({**others, NEW: features}, NEW, features)
    used = used_in_mow(log, shown)
    twins = twins_of(logbook, pack.name, mow.started, used.ah)
    unlikely = doubts(log, pack, features, others.values())
    if machine is None or machine.kind != "flail":
        unlikely += tall_doubts(said.grass.growth_mm, others.values())
    log = replace(log, notes=(*log.notes, *unlikely, *aside))
    return ReadMow(
        log, found.examined, mow, features, shown, used, found.decisions, found.learned, twins, unlikely
    )


def _began(log: Log, said: datetime | None) -> datetime | None:
    """When a mow began; a day that is said without an hour keeps the time of day of an undated log."""
    if said is not None and said.time() == time():
        return said + timedelta(seconds=log.clock_s or 0.0)
    return said or log.started


def figures_of(mow: int | None, read: ReadMow, fitted: FittedPack, later: int = 0) -> MowFigures:
    """What a mow holds, and the pack as known with this mow."""
    features, used, now = read.shown, read.used, pack_now(fitted)
    return MowFigures(
        mow=mow,
        lawn=read.mow.lawn.name,
        pack=fitted.name,
        started=read.mow.started,
        minutes=features.motor_s / 60,
        gap_minutes=used.gap_s / 60,
        ah=used.ah,
        ah_std=used.ah_std,
        wh=used.wh,
        wh_std=used.wh_std,
        wh_per_m2=features.energy_per_area(),
        mean_w=features.mean_w,
        idle_w=features.idle_w,
        peak_1s_w=features.seen_peak_w(1),
        peak_5s_w=features.seen_peak_w(5),
        peak_30s_w=features.seen_peak_w(30),
        pack_now=now,
        later=later,
        notes=(*read.log.notes, *pack_doubts(fitted), *care_noted(read.mow.tags)),
        twins=read.twins,
        why=_why(read, fitted.chemistry, now),
    )


def _why(read: ReadMow, chemistry: str, now: PackNow) -> Why:
    used, error = read.used, read.log.error
    by_hand = read.log.spot is not None
    gaps = f"{len(used.gaps)} gaps left out" if used.gaps else "no gaps"
    how = "all readings weighed together" if by_hand else "trapezoid between readings"
    meter = (
        Part("time measured", used.measured_s / 60, "min", gaps),
        Part("clamp zero", within(error.current_zero_a, "A"), note="it does not average out"),
        Part("clamp gain", within(100 * error.current_gain, "%"), note="of the reading"),
    )
    parts = (
        Part("charge used", used.ah, "Ah", f"{how}, {within(used.ah_std, 'Ah')}"),
        *(() if by_hand else meter),
        *now.parts(),
    )
    assumed = []
    if read.mow.start_charge is None:
        assumed.append("The charge at the start was worked out from the voltage.")
    if by_hand:
        assumed.append(
            "Readings by hand: the mean current is weighed from all of them together, hence the wide bands."
        )
    return Why(
        parts=parts,
        assumptions=tuple(assumed),
        sources=("Uncertainties combined by JCGM 100:2008 (GUM).",),
        cautions=(*twins_caution(read.twins), MEASURING, PROBES, for_pack(chemistry)[0]),
    )
