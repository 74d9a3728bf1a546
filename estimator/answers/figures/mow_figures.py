"""The figures of every mow, kept in the logbook so that no answer has to read old files again."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from estimator.descriptions import LAWN_DONE, STOPPED_SHORT, Lawn, Machine
from estimator.logbook import (
    Logbook,
    MowRecord,
    derived_of_mows,
    events_of,
    keep_derived,
    lawns,
    log_of,
    machines,
    mows,
    packs,
)
from estimator.logbook.records.mow_values import FILES_OF, PART
from estimator.mow import Mow

if TYPE_CHECKING:
    from estimator.fitting.charge_used import ChargeUsed
    from estimator.fitting.load.features import MowFeatures
    from estimator.importer.log import Log

FEATURES = "features"
FEATURES_VERSION = "20"
"""Raise it whenever `mow_features` or the importer finds other figures in the same bytes."""
USED = "charge used"
USED_VERSION = "13"
"""Raise it whenever `charge_used` or the importer finds another charge in the same bytes."""
CARE = "blade care"


def used_in_mow(log: Log, features: MowFeatures) -> ChargeUsed:
    """Charge and energy of a mow: by trapezoid for a log, as weighed together for hand readings."""
    from estimator.fitting.charge_used import charge_used

    used = charge_used(log)
    if log.spot is None or used.wh <= 0:
        return used
    return replace(used, **as_noted(features))


def as_noted(features: MowFeatures) -> dict[str, Any]:
    """Charge [Ah] and energy [Wh] of a mow noted by hand, with uncertainties, named as in `ChargeUsed`."""
    wh, share = features.energy_wh, features.energy_log_std
    ah = wh / features.typical_v
    return {"ah": ah, "wh": wh, "ah_std": share * ah, "wh_std": share * wh}


def with_habit(found: Mapping[int, MowFeatures], mow: int, features: MowFeatures) -> MowFeatures:
    """Features of a mow; where it was noted by hand, its energy is corrected by the person's habit.

    found : features of all mows by number
    """
    return _with_habits(found, {mow: features})[mow]


def figures_shown(logbook: Logbook, records: Sequence[MowRecord]) -> dict[int, MowFeatures]:
    """Features of these mows by number, as answers show them: `with_habit`."""
    found = features_of_mows(logbook, records)
    if not any(one.spot for one in found.values()):
        return found
    known = mows(logbook)
    others = features_of_mows(logbook, [each for each in known if each.id not in found])
    every = {**others, **found}
    return _with_habits({each.id: every[each.id] for each in known}, found)


def _with_habits(
    every: Mapping[int, MowFeatures], wanted: Mapping[int, MowFeatures]
) -> dict[int, MowFeatures]:
    from estimator.fitting.by_hand.habit import reweighed

    shown = dict(wanted)
    by_hand = [number for number, one in wanted.items() if one.spot and number in every]
    if by_hand and len(every) > 1:
        own = dict(zip(every, reweighed(list(every.values())), strict=True))
        for number in by_hand:
            std = math.hypot(own[number].energy_log_std, own[number].gain_std)
            shown[number] = replace(own[number], energy_log_std=std)
    return shown


def plain_used(used: ChargeUsed) -> dict[str, float]:
    """What `used_in_mow` found, as plain values."""
    return {name: getattr(used, name) for name in ("ah", "wh", "ah_std", "wh_std", "measured_s", "gap_s")}


def mow_of(record: MowRecord, log: Log, logbook: Logbook) -> Mow:
    """A mow of the logbook with its log and the descriptions that it names."""
    return Mow(
        log=log,
        lawn=next(each for each in lawns(logbook) if each.name == record.lawn),
        grass=record.grass,
        pack=next((each for each in packs(logbook) if each.name == record.pack), None),
        machine=next((each for each in machines(logbook) if each.name == record.machine), None),
        start_charge=record.start_charge,
        temperature_c=record.temperature_c,
        started=record.started,
        tags=record.tags,
        known=True,
    )


def features_of_mows(logbook: Logbook, records: Sequence[MowRecord] | None = None) -> dict[int, MowFeatures]:
    """Features of the mows by number, oldest mow first, as they are described now.

    records : the mows wanted; None takes all that are not removed

    Figures that are missing or come from an older computation are worked out from the kept bytes, and kept.
    Lawn, grass, date and care are taken from the logbook as it is now, so that editing them costs nothing.
    """
    chosen = mows(logbook) if records is None else list(records)
    found = _described(logbook, chosen)
    return {**found, **_shared_lawns(logbook, chosen, found)}


def _described(logbook: Logbook, chosen: Sequence[MowRecord]) -> dict[int, MowFeatures]:
    from estimator.fitting.load.features import MowFeatures, mow_features

    kept = derived_of_mows(logbook, FEATURES, FEATURES_VERSION, [each.id for each in chosen])
    areas = {lawn.name: lawn for lawn in lawns(logbook)}
    care = _care_days(logbook)
    found: dict[int, MowFeatures] = {}
    for record in chosen:
        if record.id in kept:
            features = MowFeatures.from_plain(kept[record.id])
        else:
            features = mow_features(mow_of(record, log_of(logbook, record.id), logbook))
            keep_derived(logbook, record.id, FEATURES, FEATURES_VERSION, asdict(features))
        found[record.id] = _as_described(features, record, areas[record.lawn], care)
    return found


def _shared_lawns(
    logbook: Logbook, records: Sequence[MowRecord], found: Mapping[int, MowFeatures]
) -> dict[int, MowFeatures]:
    """Features of the mows that are parts of one log on one lawn, as where the pack was changed: they share
    its area by their motor time, and the last part says whether the lawn was finished."""
    parts = [record for record in records if PART in record.decisions]
    days = [record.started.date() for record in parts if record.started is not None]
    if not parts:
        return {}
    dated = len(days) == len(parts)
    near = mows(logbook, since=min(days), until=max(days)) if dated else mows(logbook)
    jobs: dict[tuple[int, str], list[MowRecord]] = {}
    pieces = [each for each in near if PART in each.decisions]
    for record in sorted(pieces, key=lambda each: each.decisions[PART][0]):
        jobs.setdefault((record.decisions.get(FILES_OF, record.id), record.lawn), []).append(record)
    shared = {}
    for job in jobs.values():
        unseen = [each for each in job if each.id not in found]
        if len(job) == 1 or len(unseen) == len(job):
            continue
        every = {**found, **_described(logbook, unseen)}
        job_s, last = sum(every[each.id].motor_s for each in job), every[job[-1].id]
        ended = STOPPED_SHORT if last.stopped_short else LAWN_DONE
        for each in job:
            if (one := found.get(each.id)) is not None and job_s > 0:
                tags = one.tags if each is job[-1] else (*one.tags, ended)
                shared[each.id] = replace(one, area_m2=one.area_m2 * one.motor_s / job_s, tags=tags)
    return shared


def marked(features: Sequence[MowFeatures], *more: object) -> str:
    """A mark that changes with these features, except their power traces, and with whatever else is given."""
    said = [
        {name: value for name, value in vars(each).items() if name not in ("trace", "amps", "phases")}
        for each in features
    ]
    return hashlib.sha256(repr((said, *more)).encode()).hexdigest()[:20]


def _as_described(
    features: MowFeatures, record: MowRecord, lawn: Lawn, care: dict[str | None, tuple[date, ...]]
) -> MowFeatures:
    started = record.started.isoformat() if record.started else features.started
    day = date.fromisoformat(started[:10]) if started else None
    return replace(
        features,
        lawn=lawn.name,
        area_m2=lawn.area_m2,
        moisture=record.grass.moisture,
        growth_mm=record.grass.growth_mm,
        days_since_cut=record.grass.days_since_cut,
        started=started,
        temperature_c=features.temperature_c if record.temperature_c is None else record.temperature_c,
        days_since_care=_days_since(care, record.machine, day),
        machine=record.machine,
        tags=record.tags,
    )


def _days_since(
    care: Mapping[str | None, tuple[date, ...]], machine: str | None, day: date | None
) -> float | None:
    past = [each for each in (*care.get(machine, ()), *care.get(None, ())) if day and each <= day]
    return float((day - max(past)).days) if day and past else None


def _care_days(logbook: Logbook) -> dict[str | None, tuple[date, ...]]:
    days: dict[str | None, list[date]] = {
        machine.name: list(machine.blade_care) for machine in machines(logbook)
    }
    for event in events_of(logbook, kind=CARE):
        days.setdefault(event.machine, []).append(event.day)
    return {name: tuple(sorted(each)) for name, each in days.items()}


def with_care(machine: Machine, logbook: Logbook) -> Machine:
    """The machine with all days of blade care that the logbook knows."""
    care = _care_days(logbook)
    return replace(machine, blade_care=tuple(sorted({*care.get(machine.name, ()), *care.get(None, ())})))


def latest_day(records: Sequence[MowRecord]) -> date | None:
    """The day of the latest mow; None where no mow is dated."""
    return max((mow.started.date() for mow in records if mow.started is not None), default=None)


def days_since_care_on(logbook: Logbook, machine: Machine | None, day: date | None) -> float | None:
    """Days from the last blade care to `day`; None where either is unknown."""
    return _days_since(_care_days(logbook), machine.name if machine else None, day)
