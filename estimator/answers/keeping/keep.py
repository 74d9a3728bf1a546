"""Keep a mow: read its files, look at what they hold, and keep all of it at once, or nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from estimator import logbook as kept
from estimator.answers.figures.mow_figures import FEATURES, FEATURES_VERSION, USED, USED_VERSION, plain_used
from estimator.answers.figures.pack_chain import fit_of_pack, fitted_ahead, keep_ahead, one_step
from estimator.answers.figures.pack_curves import CURVE, CURVE_VERSION, plain_curve
from estimator.answers.keeping.read_files import remember_meters
from estimator.answers.keeping.read_mow import MowFigures, figures_of, read_mow
from estimator.answers.keeping.typed import the_pack_of_a_mow
from estimator.descriptions import DOUBTFUL, Grass
from estimator.logbook import Logbook
from estimator.mends import settled
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log, SpotNotes


@dataclass(frozen=True)
class Circumstances:
    """What the user says of a mow besides its files; pack and machine can be left out if there is only one.

    start_charge : 0..1, 1 straight from the charger
    decisions : what overrules the importer; meters : names of the meters that the files come from
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
class LookedAt:
    """A mow that was read but not kept: its figures, and for drawing its log and what was mended in it."""

    log: Log
    examined: Examined
    figures: MowFigures


def look_at_mow(logbook: Logbook, files: Sequence[tuple[str, bytes]], said: Circumstances) -> LookedAt:
    """Read a mow's files (name, bytes) and work out what they hold, without keeping anything."""
    read = read_mow(logbook, files, said)
    fitted = fit_of_pack(logbook, the_pack_of_a_mow(logbook, said.pack))
    number = next(
        filter(None, (kept.mow_of_bytes(logbook, data, read.decisions.get("sheet")) for _, data in files)),
        None,
    )
    if number is None:
        day = day_of(read.mow.started)
        fitted = one_step(fitted, read.log, read.mow.start_charge, said.temperature_c, day)
    else:
        log = replace(read.log, notes=(*read.log.notes, f"Already kept as mow {number}, and counted once."))
        read = replace(read, log=log, twins=tuple(each for each in read.twins if each != number))
    return LookedAt(read.log, read.examined, figures_of(None, read, fitted))


def add_mow(
    logbook: Logbook,
    files: Sequence[tuple[str, bytes]],
    said: Circumstances,
    progress: Callable[[str], None] = lambda _: None,
) -> MowFigures:
    """Read a mow's files and keep them, their figures and the new fit of the pack in one transaction.

    Where later mows of the pack are already kept, the fits after them follow when an answer needs them.
    Raises InputError for files or words that cannot be taken; the logbook then stays as it was.
    """
    progress(f"reading {', '.join(name for name, _ in files)}")
    read = read_mow(logbook, files, said)
    pack = the_pack_of_a_mow(logbook, said.pack)
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
            start_charge=read.mow.start_charge,
            temperature_c=said.temperature_c,
            tags=read.mow.tags,
            notes="\n".join(map(settled, read.log.notes)),
            decisions=read.decisions,
            derived={
                FEATURES: (FEATURES_VERSION, asdict(read.features)),
                USED: (USED_VERSION, plain_used(read.used)),
                CURVE: (CURVE_VERSION, plain_curve(read.log, read.mow.start_charge, said.temperature_c)),
            },
        )
        remember_meters(logbook, read.learned)
        if ahead is not None:
            keep_ahead(logbook, pack, ahead, record)
    logbook.settle()
    if ahead is not None:
        figures = figures_of(record.id, read, ahead.fitted, ahead.later)
    else:
        figures = figures_of(record.id, read, fit_of_pack(logbook, pack, progress))
    return replace(figures, notes=(*figures.notes, *kept.back_up_today(logbook)))


def spot_file(spot: SpotNotes, noted: datetime | None = None) -> tuple[str, bytes]:
    """The file that is kept for hand readings: one line for each reading.

    noted : when they were noted; the same round figures at another time are another mow

    >>> from estimator.importer.log import SpotNotes
    >>> spot_file(SpotNotes(typical_a=6.5, minutes=22))
    ('by hand.csv', b'reading,value\\ntypical_a,6.5\\nminutes,22\\n')
    """
    name = "by hand.csv" if noted is None else f"by hand {noted:%Y-%m-%d %H%M}.csv"
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["reading", "value"])
    if noted is not None:
        rows.writerow([f"# by hand {noted:%Y-%m-%d %H%M%S}"])
    rows.writerows([key, value] for key, value in asdict(spot).items() if value is not None)
    return name, text.getvalue().encode()
