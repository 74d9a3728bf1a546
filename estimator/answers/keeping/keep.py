"""Keeping a mow: read its files, look at what they hold, and store all of it at once or nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import (
    FEATURES,
    FEATURES_VERSION,
    USED,
    USED_VERSION,
    plain_used,
    used_in_mow,
)
from estimator.answers.figures.mow_log import with_doubts
from estimator.answers.figures.pack_ahead import fitted_ahead, keep_ahead
from estimator.answers.figures.pack_chain import fit_of_pack, one_step
from estimator.answers.figures.pack_curves import CURVE, CURVE_VERSION, plain_curve
from estimator.answers.keeping.changing import check_day
from estimator.answers.keeping.read_files import read_with_meters, remember_meters
from estimator.answers.keeping.twins import twins_caution, twins_of
from estimator.answers.keeping.typed import the_machine, the_pack
from estimator.answers.why import Part, Why, within
from estimator.conversion.cautions import MEASURING, PROBES, for_pack
from estimator.descriptions import DOUBTFUL, Grass
from estimator.logbook import Logbook
from estimator.mow import Mow, day_of

if TYPE_CHECKING:
    from estimator.fitting.charge_used import ChargeUsed
    from estimator.fitting.load.features import MowFeatures
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log, SpotNotes


ASIDE = f"Kept aside as {DOUBTFUL}: no answer rests on this mow until its tag {DOUBTFUL!r} is taken off."


@dataclass(frozen=True)
class Circumstances:
    """What the user says of a mow besides its files; pack and machine may be left out if there is one.

    start_charge : 0..1, 1 straight from the charger
    decisions : what the importer is told about the files; meters : names of the meters they come from
    """

    lawn: str
    pack: str | None = None
    machine: str | None = None
    grass: Grass = field(default_factory=Grass)
    start_charge: float | None = None
    temperature_c: float | None = None
    started: datetime | None = None
    tags: tuple[str, ...] = ()
    decisions: Mapping[str, Any] = field(default_factory=dict)
    meters: tuple[str, ...] = ()


@dataclass(frozen=True)
class MowFigures:
    """What one mow holds.

    mow : its number, None where it was only looked at; ah, wh : with standard uncertainties
    gap_minutes [min] : without readings; peaks [W] : over 1, 5 and 30 s
    capacity_ah, usable_ah [Ah] : of the pack as known with this mow: of a slow discharge at 25 °C, and at the
        pace of its mows; known_from : in words
    later : how many later mows of the pack are kept; what it changes in the pack after them is not in it yet
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
    peak_1s_w: float
    peak_5s_w: float
    peak_30s_w: float
    capacity_ah: float
    capacity_std_ah: float
    usable_ah: float
    known_from: str
    later: int
    notes: tuple[str, ...]
    twins: tuple[int, ...]
    why: Why


@dataclass(frozen=True)
class LookedAt:
    """A mow read but not kept: its log and what was mended in it, for drawing, and its figures."""

    log: Log
    examined: Examined
    figures: MowFigures


def look_at_mow(logbook: Logbook, files: Sequence[tuple[str, bytes]], said: Circumstances) -> LookedAt:
    """Read a mow's files (name, bytes) and work out what they hold, without keeping anything."""
    read = _read(logbook, files, said)
    known = fit_of_pack(logbook, the_pack(logbook, said.pack))
    day = day_of(read.mow.started)
    fitted = one_step(known, read.log, said.start_charge, said.temperature_c, day)
    return LookedAt(read.log, read.examined, _figures(None, read, fitted))


def add_mow(
    logbook: Logbook,
    files: Sequence[tuple[str, bytes]],
    said: Circumstances,
    progress: Callable[[str], None] = lambda _: None,
) -> MowFigures:
    """Read a mow's files and keep them with their figures and the pack's fit with it, in one transaction.

    Where mows of the pack that came later are kept already, their fits follow when an answer needs them.
    Raises InputError for files or words that cannot be taken; the logbook then is as it was.
    """
    progress(f"reading {', '.join(name for name, _ in files)}")
    read = _read(logbook, files, said)
    pack = the_pack(logbook, said.pack)
    progress(f"fitting {pack.name}")
    aside = DOUBTFUL in read.mow.tags
    ahead = None if aside else fitted_ahead(logbook, pack, read.mow, progress)
    with logbook.writing():
        record = kept.add_mow(
            logbook,
            files,
            lawn=said.lawn,
            grass=said.grass,
            pack=pack.name,
            machine=read.mow.machine.name if read.mow.machine else None,
            started=read.mow.started,
            start_charge=said.start_charge,
            temperature_c=said.temperature_c,
            tags=read.mow.tags,
            notes="\n".join(read.log.notes),
            decisions=read.decisions,
            derived={
                FEATURES: (FEATURES_VERSION, read.features.as_plain()),
                USED: (USED_VERSION, plain_used(read.used)),
                CURVE: (CURVE_VERSION, plain_curve(read.log, said.start_charge, said.temperature_c)),
            },
        )
        remember_meters(logbook, read.learned)
        kept_too = ahead is not None and keep_ahead(logbook, pack, ahead, record)
    logbook.settle()
    if ahead is not None and kept_too:
        figures = _figures(record.id, read, ahead.fitted, len(ahead.joined.again))
    else:
        figures = _figures(record.id, read, fit_of_pack(logbook, pack, progress))
    return replace(figures, notes=(*figures.notes, *kept.back_up_today(logbook)))


def spot_file(spot: SpotNotes, name: str = "by hand.csv") -> tuple[str, bytes]:
    """Hand readings as the file that is kept for them: one line a reading.

    >>> from estimator.importer.log import SpotNotes
    >>> spot_file(SpotNotes(typical_a=6.5, minutes=22))
    ('by hand.csv', b'reading,value\\ntypical_a,6.5\\nminutes,22\\n')
    """
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["reading", "value"])
    rows.writerows([key, value] for key, value in asdict(spot).items() if value is not None)
    return name, text.getvalue().encode()


@dataclass(frozen=True)
class _Read:
    log: Log
    examined: Examined
    mow: Mow
    features: MowFeatures
    used: ChargeUsed
    decisions: Mapping[str, Any]
    learned: Mapping[str, Mapping[str, Any]]
    twins: tuple[int, ...]


def _read(logbook: Logbook, files: Sequence[tuple[str, bytes]], said: Circumstances) -> _Read:
    from estimator.contradictions import check_date
    from estimator.fitting.by_hand.spot_volts import with_usual_volts
    from estimator.fitting.load.features import mow_features

    check_day(said.started, "start of the mow")
    lawn = kept.lawn(logbook, said.lawn)
    pack = the_pack(logbook, said.pack)
    machine = the_machine(logbook, said.machine)
    found = read_with_meters(logbook, files, said.decisions, said.meters)
    log = with_usual_volts(found.log, pack, said.start_charge)
    check_date(log, said.started)
    mow = Mow(
        log=log, lawn=lawn, grass=said.grass, pack=pack, machine=machine, start_charge=said.start_charge,
        temperature_c=said.temperature_c, started=said.started or log.started,
        tags=tuple(dict.fromkeys((*said.tags, *((DOUBTFUL,) if log.doubts else ())))),
    )  # fmt: skip
    features = mow_features(mow)
    used = used_in_mow(log, features)
    twins = twins_of(logbook, pack.name, mow.started, used.ah)
    log = with_doubts(log, pack, features)
    if log.doubts:
        log = replace(log, notes=(*log.notes, ASIDE))
    return _Read(log, found.examined, mow, features, used, found.decisions, found.learned, twins)


def _figures(mow: int | None, read: _Read, fitted: FittedPack, later: int = 0) -> MowFigures:
    features, used = read.features, read.used
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
        peak_1s_w=features.peak_1s_w,
        peak_5s_w=features.peak_5s_w,
        peak_30s_w=features.peak_30s_w,
        capacity_ah=fitted.capacity_ah,
        capacity_std_ah=fitted.capacity_std_ah,
        usable_ah=fitted.usable_ah,
        known_from=fitted.known_from,
        later=later,
        notes=tuple(read.log.notes),
        twins=read.twins,
        why=_why(read, fitted),
    )


def _why(read: _Read, fitted: FittedPack) -> Why:
    used, error = read.used, read.log.error
    by_hand = read.log.spot is not None
    how = "amps, rest voltages and gauge weighed together" if by_hand else "trapezoid between readings"
    parts = (
        Part("charge used", used.ah, "Ah", f"{how}, {within(used.ah_std, 'Ah')}"),
        Part(
            "time measured",
            used.measured_s / 60,
            "min",
            f"{len(used.gaps)} gaps left out" if used.gaps else "no gaps",
        ),
        Part("clamp zero", within(error.current_zero_a, "A"), note="it does not average out"),
        Part("clamp gain", within(100 * error.current_gain, "%"), note="of the reading"),
        Part("pack", fitted.capacity_ah, "Ah", f"of a slow discharge at 25 °C, {fitted.known_from}"),
        Part("usable", fitted.usable_ah, "Ah", "at the pace of its mows"),
    )
    assumed = (
        []
        if read.mow.start_charge is not None
        else ["The charge at the start was worked out from the voltage."]
    )
    if read.log.spot is not None:
        assumed.append(
            "Readings by hand: the current between them is a three-point estimate, hence the wide bands."
        )
    return Why(
        parts=parts,
        assumptions=tuple(assumed),
        sources=("Uncertainties combined by JCGM 100:2008 (GUM).",),
        cautions=(*twins_caution(read.twins), MEASURING, PROBES, for_pack(fitted.chemistry)[0]),
    )
