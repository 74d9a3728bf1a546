"""The log of a mow as answers take it: usual volts stand in for missing ones; unlikely figures are noted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.descriptions import Pack
from estimator.logbook import Logbook, log_of, mow, packs

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
    log: Log,
    pack: Pack | None,
    features: MowFeatures | None = None,
    others: Iterable[MowFeatures] = (),
) -> tuple[str, ...]:
    """What is unlikely about a mow, a sentence each: hand readings that hardly fit the pack, a sudden end.

    features : of the mow; without them nothing is said about its end; others : of the other mows
    """
    from estimator.fitting.by_hand.spot_doubts import habit_doubts, spot_doubts
    from estimator.fitting.load.log_end import end_doubts

    said = spot_doubts(log.spot, pack) if log.spot is not None and pack is not None else ()
    return said if features is None else (*said, *habit_doubts(features, others), *end_doubts(log, features))


def doubts_of_mow(logbook: Logbook, number: int, log: Log) -> tuple[str, ...]:
    """What is unlikely about a kept mow, as it is described now."""
    record = mow(logbook, number)
    features = features_of_mows(logbook, [record])[number]
    others = features_of_mows(logbook) if features.spot else {}
    others.pop(number, None)
    return doubts(log, _pack_of(logbook, record.pack), features, others.values())


def with_doubts(log: Log, pack: Pack, features: MowFeatures, others: Iterable[MowFeatures]) -> Log:
    """The log with a note for each of its doubts."""
    said = doubts(log, pack, features, others)
    return replace(log, notes=(*log.notes, *said)) if said else log


def _pack_of(logbook: Logbook, name: str | None) -> Pack | None:
    return next((each for each in packs(logbook) if each.name == name), None)
