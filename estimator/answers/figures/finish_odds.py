"""The odds of finishing that each of the latest mows would have been given, and whether it finished."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, partial
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import marked
from estimator.answers.figures.pack_fits import fit_at
from estimator.answers.figures.pack_steps import KEEP_LAST, Chain, chain_of
from estimator.descriptions import Lawn, Machine, Pack
from estimator.logbook import Logbook, MowRecord, derived_of_mows, keep_derived, packs

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.fitting.load.profile import LoadProfile
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.predictor.finish_score import ScoredFinish

GIVEN = "finish odds"
GIVEN_VERSION = "8"
"""Raise it whenever the same earlier mows would give a mow other odds."""
LATEST = 20
"""How many mows are scored at most: for each of them a day is simulated."""
DRAWS = 100
"""How many days are drawn: sigma is then 0.05 at most (for odds of a half), less than one mow can show."""


def scored_finishes(
    logbook: Logbook, records: Sequence[MowRecord], features: Mapping[int, MowFeatures], machine: Machine
) -> tuple[ScoredFinish, ...]:
    """The latest mows of known start charge, with odds from the mows before each and the pack as known then.

    records, features : mows by number, oldest first
    """
    from estimator.fitting.load.profile import fit_features
    from estimator.predictor.finish_score import ScoredFinish
    from estimator.predictor.track_record import POINTS

    described = {each.name: each for each in packs(logbook)}
    chain_at = cache(partial(chain_of, logbook))
    told = [
        mow
        for mow in records
        if mow.start_charge is not None and mow.pack in described and features[mow.id].energy_wh > 0
    ][-LATEST:]
    kept = derived_of_mows(logbook, GIVEN, GIVEN_VERSION, [mow.id for mow in told])
    own = {number: marked([one]) for number, one in features.items()} if told else {}
    before: LoadProfile | None = None
    found = []
    for mow in told:
        pack = described[mow.pack or ""]
        chain = chain_at(pack)
        earlier = [each.id for each in records if each.id != mow.id and _precedes(each, mow)]
        place = [each.mow for each in chain.places].index(mow.id)
        mark = marked(
            (), *(own[number] for number in (*earlier, mow.id)), chain.mark(place), mow.start_charge
        )
        if kept.get(mow.id, {}).get("mark") == mark:
            odds = float(kept[mow.id]["odds"])
        elif (fitted := known_then(logbook, pack, chain, place)) is None:
            continue
        else:
            before = fit_features([features[each] for each in earlier], machine, before=before, points=POINTS)
            odds = _odds(before, fitted, features[mow.id], mow)
            keep_derived(logbook, mow.id, GIVEN, GIVEN_VERSION, {"mark": mark, "odds": odds})
        one = features[mow.id]
        found.append(ScoredFinish(one.lawn, one.started, odds, not one.stopped_short))
    return tuple(found)


def _precedes(one: MowRecord, other: MowRecord) -> bool:
    if one.started is None or other.started is None:
        return one.id < other.id
    return (one.started, one.id) < (other.started, other.id)


def known_then(logbook: Logbook, pack: Pack, chain: Chain, place: int) -> FittedPack | None:
    """The pack as the mows before that place show it, or a few mows fewer where that fit is not kept."""
    for steps in range(place, max(place - KEEP_LAST, 0) - 1, -1):
        fitted = fit_at(logbook, pack, chain, steps)
        if fitted is not None:
            return fitted
    return None


def _odds(profile: LoadProfile, fitted: FittedPack, mow: MowFeatures, record: MowRecord) -> float:
    from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge

    said = lawns_per_charge(
        profile,
        fitted,
        [Lawn(mow.lawn, mow.area_m2)],
        mow.grass,
        start_charge=record.start_charge,
        temperature_c=record.temperature_c,
        days_since_care=mow.days_since_care,
        draws=DRAWS,
    )
    return said.odds[0]
