"""Minutes left on the pack, from a log so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from estimator.answers.keeping.read_files import read_with_meters
from estimator.answers.keeping.typed import the_lawns, the_pack
from estimator.answers.why import Part, Why
from estimator.contradictions import check_log_of_pack
from estimator.conversion.cautions import FULL_DISCHARGE, for_pack
from estimator.descriptions import Grass
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.importer.log import Log
    from estimator.predictor.lawns.one_more import OneMoreLawn
    from estimator.predictor.narrowing import Doubt

MOST_DRAWN = 400
"""Points of a drawn curve; a screen could not show more of them apart."""


@dataclass(frozen=True)
class ChargeTrace:
    """Charge over time, with a band of the answer's level: time_s [s], charge, low and high [0..1]."""

    time_s: tuple[float, ...]
    charge: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class MinutesAnswer:
    """Minutes of mowing left until the motor stops.

    minutes, low, high [min] : median, and the band that holds with probability `level`
    charge, charge_low, charge_high [0..1] : charge at the last reading
    used_ah [Ah], used_wh [Wh], measured_minutes [min] : what the log so far holds while the motor ran
    ends_min [min] : evenly spaced quantiles of the minutes left, for drawing
    doubts : what makes the band wide, the largest cause first; remarks : what a reader may wonder at
    more : where asked, each described lawn with the chance that the charge left finishes it
    """

    minutes: float
    low: float
    high: float
    level: float
    charge: float
    charge_low: float
    charge_high: float
    used_ah: float
    used_wh: float
    measured_minutes: float
    pack: str
    trace: ChargeTrace
    ends_min: tuple[float, ...]
    doubts: tuple[Doubt, ...]
    more: tuple[OneMoreLawn, ...]
    remarks: tuple[str, ...]
    notes: tuple[str, ...]
    why: Why


@dataclass(frozen=True)
class MinutesQuestion:
    """A log so far (files as name and bytes) and what is known of it.

    pack : its name, None where there is only one
    start_charge : 0..1 at the first reading, None works it out from the voltage
    lawn : go on as on this lawn in this grass, instead of as in the log so far
    grass : today's grass, for `lawn` and for one more lawn
    one_more : True also asks which of the described lawns could still be mown
    level : probability with which the band should hold
    """

    files: tuple[tuple[str, bytes], ...]
    pack: str | None = None
    start_charge: float | None = None
    temperature_c: float | None = None
    lawn: str | None = None
    grass: Grass = field(default_factory=Grass)
    one_more: bool = False
    level: float = 0.90
    decisions: Mapping[str, Any] = field(default_factory=dict)
    meters: tuple[str, ...] = ()


LITTLE_OF_IT = 0.75
"""The share of the charge left below which a reader wonders why it lasts so few minutes."""


def gives_little(minutes: float, mean_power_w: float, left_ah: float, volts: float) -> tuple[str, ...]:
    """Why few minutes follow from much charge: the volts reach the cut-off before the pack is empty.

    >>> gives_little(5.0, 500.0, 7.1, 35.8)
    ('A slow discharge would still give 7.1 Ah; at this rate the volts reach the cut-off after 1.2 Ah.',)
    """
    gives_ah = minutes / 60 * mean_power_w / volts
    if not gives_ah < LITTLE_OF_IT * left_ah:
        return ()
    return (
        f"A slow discharge would still give {left_ah:.1f} Ah; at this rate the volts reach the cut-off "
        f"after {gives_ah:.1f} Ah.",
    )


def minutes_of_files(logbook: Logbook, question: MinutesQuestion) -> MinutesAnswer:
    """Minutes left at the end of the files read so far."""
    read = read_with_meters(logbook, question.files, question.decisions, question.meters)
    return minutes_of_log(logbook, read.log, question)


def minutes_of_log(logbook: Logbook, log: Log, question: MinutesQuestion) -> MinutesAnswer:
    """Minutes left at the end of a log that was already read; `question.files` is not looked at."""
    if log.spot is not None:
        from estimator.answers.minutes_by_hand import minutes_of_notes

        return minutes_of_notes(logbook, log.spot, question)

    from estimator.answers.figures.load_profile import profile_of
    from estimator.answers.figures.pack_chain import fit_of_pack
    from estimator.answers.figures.pack_now import by_a_guess, pack_doubts, pack_now
    from estimator.answers.figures.said_half_way import with_record
    from estimator.fitting.charge_used import charge_used
    from estimator.fitting.pack.pack_fit import fit_of_log
    from estimator.importer.cleaning.asleep import UNREAD
    from estimator.importer.log import since_leap
    from estimator.predictor.charge_curve import charge_columns
    from estimator.predictor.lawns.one_more import lawns_that_fit, running, so_far_of_log
    from estimator.predictor.minutes import minutes_left

    pack = fit_of_pack(logbook, the_pack(logbook, question.pack))
    if log.leaps_s:  # the pack that is on now went on within the log
        log, question = since_leap(log), replace(question, start_charge=None)
    check_log_of_pack(log, pack.rated)
    on = None if question.lawn is None else the_lawns(logbook, (question.lawn,))[0]
    profile = profile_of(logbook) if on is not None or question.one_more else None
    left = minutes_left(
        log,
        pack,
        question.start_charge,
        None if on is None else profile,
        question.level,
        temperature_c=question.temperature_c,
        lawn=on,
        grass=question.grass,
    )
    if on is None:
        left = with_record(logbook, left)
    more: tuple[OneMoreLawn, ...] = ()
    if question.one_more and profile is not None:
        so_far = so_far_of_log(log, pack, question.start_charge, question.temperature_c)
        more = lawns_that_fit(
            profile, so_far, pack, the_lawns(logbook), question.grass, temperature_c=question.temperature_c
        )
    curve = charge_columns(log, pack, question.start_charge, question.temperature_c)
    with_log = fit_of_log(log, pack, question.start_charge, question.temperature_c).after
    used = charge_used(log)
    readings = len(curve["time_s"])
    kept = np.linspace(0, readings - 1, min(readings, MOST_DRAWN)).round().astype(int)
    trace = ChargeTrace(*(tuple(curve[name][kept].tolist()) for name in ("time_s", "charge", "low", "high")))
    return MinutesAnswer(
        minutes=left.minutes,
        low=left.low,
        high=left.high,
        level=question.level,
        charge=trace.charge[-1],
        charge_low=trace.low[-1],
        charge_high=trace.high[-1],
        used_ah=used.ah,
        used_wh=used.wh,
        measured_minutes=running(log).seconds / 60,
        pack=pack.name,
        trace=trace,
        ends_min=left.ends_min,
        doubts=left.doubts,
        more=more,
        remarks=(
            *gives_little(
                left.minutes,
                left.mean_power_w,
                trace.charge[-1] * pack.capacity_ah,
                float(log.arrays["voltage_v"].mean()),
            ),
            *(note for note in log.notes if note.startswith(UNREAD)),
            *by_a_guess(pack),
            *pack_doubts(with_log),
        ),
        notes=tuple(log.notes),
        why=Why(
            parts=(
                Part("mean power to come", left.mean_power_w, "W", question.lawn or "as in the log so far"),
                Part(
                    "charge now",
                    100 * trace.charge[-1],
                    "%",
                    f"{100 * trace.low[-1]:.0f} to {100 * trace.high[-1]:.0f} %",
                ),
                *pack_now(pack).parts(),
                Part("cut-off", pack.cut_off_v, "V", f"counts when held for {pack.hold_s:g} s under load"),
            ),
            assumptions=(
                *(
                    ()
                    if question.start_charge is not None
                    else ("The charge at the start was worked out from the voltage.",)
                ),
                *(() if question.lawn is not None else ("The mowing goes on as in the log so far.",)),
            ),
            sources=("Pack model: Plett, J. Power Sources 134 (2004) 252-292.",),
            cautions=(for_pack(pack.chemistry)[0], FULL_DISCHARGE),
        ),
    )
