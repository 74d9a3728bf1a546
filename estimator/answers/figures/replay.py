"""The logbook replayed: each mow predicted from those before it, and kept until one of them changes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import astuple
from itertools import islice
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import marked
from estimator.descriptions import Machine
from estimator.errors import InputError
from estimator.logbook import Logbook, derived_of_mows, keep_derived

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.predictor.track_record import Predicted, TrackRecord

PREDICTED = "predicted"
PREDICTED_VERSION = "5"
"""Raise it whenever a mow is predicted otherwise from the same features."""
LEVEL = 0.90
"""Rows are kept for this level only."""
SEED = 4
"""Any number will do: the same logbook then has the same record."""
SEARCHED_EACH = 7
"""Of so few mows the spreads are searched for with each one, of more whenever they are a quarter more."""
KEPT_AT_ONCE = 50
"""So many rows are written together: who gives up waiting loses no more than these."""


def replay(
    logbook: Logbook,
    features: Mapping[int, MowFeatures],
    level: float = LEVEL,
    machine: Machine | None = None,
    last: int | None = None,
) -> TrackRecord:
    """Predict each mow that did its whole lawn from those before it, with its own lawn and grass.

    features : by number of the mow, oldest first
    machine : where only its mows are replayed; rows are kept of a replay of all
    last : only so many of the newest are predicted (all of them are learned from)

    Every mow has random numbers of its own, so that its row is the same whichever others are worked out.
    """
    from estimator.predictor.track_record import Predicted, sum_up

    if not 0 < level < 1:
        raise InputError(f"level is {level}", mend="give a chance between 0 and 1, such as 0.9")
    whole = {number: one for number, one in features.items() if one.whole}
    numbers, marks = list(whole), _marks(whole.values())
    kept = {}
    if machine is None and level == LEVEL:
        kept = derived_of_mows(logbook, PREDICTED, PREDICTED_VERSION, numbers)
    places = range(max(1, len(numbers) - (last or len(numbers))), len(numbers))
    rows = {
        place: Predicted(*kept[numbers[place]]["row"])
        for place in places
        if kept.get(numbers[place], {}).get("mark") == marks[place]
    }
    missing = [place for place in places if place not in rows]
    predicted = zip(missing, _predicted(whole, missing, level, machine or Machine()), strict=True)
    while fresh := dict(islice(predicted, KEPT_AT_ONCE)):
        rows |= fresh
        if machine is None and level == LEVEL and logbook.keeps:
            with logbook.writing():
                for place, row in fresh.items():
                    plain = {"mark": marks[place], "row": astuple(row)}
                    keep_derived(logbook, numbers[place], PREDICTED, PREDICTED_VERSION, plain)
    return sum_up([rows[place] for place in places], level)


def _predicted(
    whole: Mapping[int, MowFeatures], places: Sequence[int], level: float, machine: Machine
) -> Iterator[Predicted]:
    """The mows at these places, one after the other, each predicted from those before it."""
    import numpy as np

    from estimator.fitting.load.profile import fit_features
    from estimator.predictor.track_record import DRAWS, POINTS, predict

    numbers, features = list(whole), list(whole.values())
    searched, search = 0, None
    for place in places:
        if search is None or searched != searched_at(place):
            searched = searched_at(place)
            search = fit_features(features[:searched], machine, points=POINTS)
        earlier = features[:place]
        profile = search if searched == place else fit_features(earlier, machine, before=search)
        rng = np.random.default_rng((SEED, numbers[place]))
        yield predict(profile, earlier, features[place], level, DRAWS, rng)


def searched_at(count: int) -> int:
    """Among how many mows the spreads were last searched for, when so many are known.

    >>> [searched_at(count) for count in (1, 6, 7, 8, 9, 11, 12, 100)]
    [1, 6, 7, 7, 9, 9, 12, 94]
    """
    from estimator.predictor.track_record import SEARCH_AGAIN

    searched = min(count, SEARCHED_EACH)
    while (later := math.ceil(SEARCH_AGAIN * searched)) <= count:
        searched = later
    return searched


def _marks(features: Iterable[MowFeatures]) -> list[str]:
    """A mark for each mow of all that its row rests on: its own figures and those of the mows before."""
    mark, marks = "", []
    for one in features:
        mark = marked([one], mark)
        marks.append(mark)
    return marks
