"""Minutes left, as they would have been said half-way through the latest mows down to the cut-off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import astuple
from functools import cache, partial
from typing import TYPE_CHECKING

from estimator.answers.figures.finish_odds import known_then
from estimator.answers.figures.mow_figures import marked
from estimator.answers.figures.pack_steps import chain_of
from estimator.logbook import Logbook, MowRecord, derived_of, derived_of_mows, keep_derived, log_of, packs

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.predictor.half_way import HalfWayScore, SaidHalfWay
    from estimator.predictor.minutes import MinutesLeft

SAID = "said half-way"
SAID_VERSION = "7"
"""Raise it whenever the same earlier mows would say other minutes half-way through a mow."""
STRETCH = "stretch of minutes"
LATEST = 8
"""How many mows are scored at most: for each a log is fitted and a pack is run down."""


def said_half_way(
    logbook: Logbook, records: Sequence[MowRecord], features: Mapping[int, MowFeatures]
) -> tuple[SaidHalfWay, ...]:
    """The latest logged mows that ended at the cut-off, each with the pack as the mows before it show it.

    records, features : mows by number, oldest first
    """
    from estimator.predictor.half_way import SaidHalfWay, say_half_way

    described = {each.name: each for each in packs(logbook)}
    chain_at = cache(partial(chain_of, logbook))
    ended = [mow for mow in records if mow.pack in described and features[mow.id].ended_at_cut_off][-LATEST:]
    kept = derived_of_mows(logbook, SAID, SAID_VERSION, [mow.id for mow in ended])
    found = []
    for mow in ended:
        pack = described[mow.pack or ""]
        chain = chain_at(pack)
        place = [each.mow for each in chain.places].index(mow.id)
        mark = marked([features[mow.id]], chain.mark(place), mow.start_charge)
        if kept.get(mow.id, {}).get("mark") == mark:
            found.append(SaidHalfWay(*kept[mow.id]["row"]))
            continue
        one = features[mow.id]
        fitted = known_then(logbook, pack, chain, place) or pack
        said = say_half_way(
            log_of(logbook, mow.id), fitted, mow.start_charge, mow.temperature_c, one.lawn, one.started
        )
        if said is None:
            continue
        keep_derived(logbook, mow.id, SAID, SAID_VERSION, {"mark": mark, "row": astuple(said)})
        found.append(said)
    return tuple(found)


def keep_stretch(logbook: Logbook, score: HalfWayScore | None) -> None:
    """Keep by how much the misses widen later bands, for `with_record`."""
    keep_derived(logbook, STRETCH, STRETCH, SAID_VERSION, {"by": 1.0 if score is None else score.stretch})


def with_record(logbook: Logbook, left: MinutesLeft) -> MinutesLeft:
    """Minutes left, with the width of the band scaled by the track record as it was last replayed."""
    from estimator.predictor.half_way import stretched

    kept = derived_of(logbook, STRETCH, STRETCH, SAID_VERSION)
    return left if kept is None else stretched(left, float(kept["by"]))
