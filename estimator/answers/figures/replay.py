"""The logbook replayed: each mow is predicted from those before it, and kept until one of these changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple
from itertools import islice
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import marked
from estimator.descriptions import Machine
from estimator.errors import InputError
from estimator.logbook import Logbook, derived_of_mows, keep_derived

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures
    from estimator.predictor.track_record import Predicted

PREDICTED = "predicted"
PREDICTED_VERSION = "8"
"""Raise it whenever the same features give another prediction."""
LEVEL = 0.90
"""The only level for which rows are kept."""
KEPT_AT_ONCE = 50
"""How many rows are written together, and so the most that is lost when the user gives up waiting."""


def replay(
    logbook: Logbook,
    features: Mapping[int, MowFeatures],
    level: float = LEVEL,
    machine: Machine | None = None,
    last: int | None = None,
) -> tuple[Predicted, ...]:
    """Predict each mow that did its whole lawn from the mows before it, for its own lawn and grass.

    features : by number of the mow, oldest first
    machine : given where only its mows are replayed; rows are kept only for a replay of all mows
    last : how many of the newest mows are predicted (all of them are learned from)

    Every mow has random numbers of its own, so that its row does not depend on which others are worked out.
    """
    from estimator.predictor.track_record import Predicted, each_predicted

    if not 0 < level < 1:
        raise InputError(f"level is {level}", mend="give a chance between 0 and 1, such as 0.9")
    whole = {number: one for number, one in features.items() if one.whole}
    numbers, marks = list(whole), [""]
    for one in whole.values():  # a row rests on the figures of its mow and of all mows before
        marks.append(marked([one], marks[-1]))
    del marks[0]
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
    predicted = zip(missing, each_predicted(whole, missing, level, machine or Machine()), strict=True)
    while fresh := dict(islice(predicted, KEPT_AT_ONCE)):
        rows |= fresh
        if machine is None and level == LEVEL and logbook.keeps:
            with logbook.writing():
                for place, row in fresh.items():
                    plain = {"mark": marks[place], "row": astuple(row)}
                    keep_derived(logbook, numbers[place], PREDICTED, PREDICTED_VERSION, plain)
    return tuple(rows[place] for place in places)
