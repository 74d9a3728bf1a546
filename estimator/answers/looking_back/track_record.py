"""How well earlier answers would have held: a replay that predicts each mow from the mows before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.figures.finish_odds import scored_finishes
from estimator.answers.figures.mow_figures import features_of_mows, with_care
from estimator.answers.figures.replay import replay
from estimator.answers.figures.said_half_way import keep_stretch, said_half_way
from estimator.answers.keeping.typed import the_machine
from estimator.answers.why import Part, Why
from estimator.descriptions import Machine
from estimator.errors import NotYet
from estimator.logbook import Logbook, derived_of, keep_derived, mows
from estimator.predictor.track_record import TrackRecord, sum_up

if TYPE_CHECKING:
    from estimator.predictor.finish_score import FinishScore
    from estimator.predictor.half_way import HalfWayScore


FEWEST = 2
"""Least number of mows for a record: the first has none before it to be predicted from."""
RECORD = "track record"
RECORD_VERSION = "7"
"""Raise it whenever the sentence that other answers cite changes."""


@dataclass(frozen=True)
class TrackRecordAnswer(TrackRecord):
    """The replay of the logbook.

    finishes : odds of finishing the latest mows, and whether they did; None where no start charge is known
    half_way : minutes left as said half-way through the latest mows down to the cut-off; None without any
    """

    finishes: FinishScore | None
    half_way: HalfWayScore | None
    sentence: str
    why: Why


def record_so_far(
    logbook: Logbook, *, machine: str | None = None, level: float = 0.90, last: int | None = None
) -> TrackRecordAnswer:
    """Replay the mows in order of time.

    last : how many of the newest mows are predicted; all are learned from
    """
    from estimator.predictor.finish_score import score_finishes
    from estimator.predictor.half_way import score_half_way

    described = the_machine(logbook, machine) if machine else None
    chosen = [mow for mow in mows(logbook) if described is None or mow.machine in (described.name, None)]
    cared_for = with_care(described, logbook) if described else None
    features = features_of_mows(logbook, chosen)
    predicted = replay(logbook, features, level, cared_for, last)
    if not predicted:
        raise NotYet(f"{_mows(len(chosen))} cannot make a track record", mend=f"add at least {FEWEST}")
    found = sum_up(predicted, level)
    against = found.against_last_time
    expected = f"{100 * found.held_low:.0f} to {100 * found.held_high:.0f} %"
    sentence = (
        f"The {level:.0%} band held in {found.held * found.mows:.0f} of {_mows(found.mows)}; "
        f"the median miss was {found.miss:.0%}, that of 'same as last time' {found.last_time_miss:.0%}."
    ).replace("%", " %")
    half_way = score_half_way(said_half_way(logbook, chosen, features))
    if machine is None and last is None:
        keep_stretch(logbook, half_way)
        keep_derived(logbook, RECORD, RECORD, RECORD_VERSION, {"sentence": sentence})
    return TrackRecordAnswer(
        **vars(found),
        finishes=score_finishes(scored_finishes(logbook, chosen, features, cared_for or Machine())),
        half_way=half_way,
        sentence=sentence,
        why=Why(
            parts=(
                Part("median miss against 'same as last time'",
                     "unknown" if against is None else against, "times"),
                Part("bands expected to hold", 100 * level, "%",
                     f"of so few mows, {expected} if the bands are right"),
            ),
            assumptions=("Each mow is predicted from the mows before it only, with its own lawn and grass.",),
        ),
    )  # fmt: skip


def cited_record(logbook: Logbook) -> tuple[Part, ...]:
    """The record from the last replay of the mows, for other answers to cite; empty where there was none."""
    kept = derived_of(logbook, RECORD, RECORD, RECORD_VERSION)
    return () if kept is None else (Part("track record when last replayed", str(kept["sentence"])),)


def _mows(count: int) -> str:
    return f"{count} mow{'' if count == 1 else 's'}"
