"""The log of a mow as answers take it: usual volts stand in for missing ones; unlikely figures are noted."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.descriptions import DOUBTFUL, Pack
from estimator.logbook import Logbook, log_of, mow, mows, mows_before, packs

LATEST = 20
"""So many mows before a log show what is usual: those of several machines may take turns."""

ASIDE = f"Set aside as {DOUBTFUL}: no answer rests on this mow until its tag {DOUBTFUL!r} is taken off."

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.importer.log import Log


def log_of_mow(logbook: Logbook, number: int) -> Log:
    """The log of a kept mow; hand readings without volts get those usual for its pack."""
    from estimator.fitting.by_hand.spot_volts import with_usual_volts

    log = log_of(logbook, number)
    if log.spot is None:
        return log
    record = mow(logbook, number)
    return with_usual_volts(log, _pack_of(logbook, record.pack), record.start_charge)


def doubts(
    log: Log, pack: Pack | None, features: MowFeatures | None = None, others: Iterable[MowFeatures] = ()
) -> tuple[str, ...]:
    """What is unlikely about a mow, a sentence each: odd hand readings, a risen idle power, stops at
    peaks, a sudden end.

    features : of the mow; without them only its readings are judged; others : of the other mows
    """
    from estimator.fitting.by_hand.spot_doubts import habit_doubts, spot_doubts
    from estimator.fitting.load.log_doubts import end_doubts, idle_doubts, peak_doubts

    said = spot_doubts(log.spot, pack) if log.spot is not None and pack is not None else ()
    if features is None:
        return said
    others = tuple(others)
    unusual = *habit_doubts(features, others), *idle_doubts(features, others)
    stopped = () if pack is None else peak_doubts(log, pack.cut_off_v)
    return (*said, *unusual, *stopped, *end_doubts(log, features))


def set_aside(log: Log, pack: Pack | None) -> tuple[str, ...]:
    """The note that a mow is set aside, where its readings can hardly be true; else none."""
    from estimator.fitting.by_hand.spot_doubts import beyond_label

    beyond = log.spot is not None and pack is not None and beyond_label(log.spot, pack)
    return (ASIDE,) if log.doubts or beyond else ()


def doubts_of_mow(logbook: Logbook, number: int, log: Log) -> tuple[str, ...]:
    """What is unlikely about a kept mow, as it is described now."""
    record = mow(logbook, number)
    features = features_of_mows(logbook, [record])[number]
    others = others_of(logbook, features, number)
    return doubts(log, _pack_of(logbook, record.pack), features, others.values())


def others_of(logbook: Logbook, features: MowFeatures, number: int | None = None) -> dict[int, MowFeatures]:
    """The mows that a mow is compared with, by number: of a log the latest before it, else all.

    number : of the mow, None where it is not kept
    """
    if features.spot:
        others = [each for each in mows(logbook) if each.id != number]
    else:  # an undated log comes after all that are dated
        others = mows_before(logbook, features.started or "9", LATEST)
    return features_of_mows(logbook, others)


def _pack_of(logbook: Logbook, name: str | None) -> Pack | None:
    return next((each for each in packs(logbook) if each.name == name), None)
