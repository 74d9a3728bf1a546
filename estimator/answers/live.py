"""A mow while it runs: minutes left, whether its lawn will be finished, and which other lawns would be."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from estimator.answers.keeping.typed import the_lawns
from estimator.answers.minutes import MinutesAnswer, MinutesQuestion, minutes_of_log
from estimator.errors import InputError
from estimator.logbook import Logbook

if TYPE_CHECKING:
    from estimator.importer.log import Log
    from estimator.predictor.lawns.one_more import LawnUnderWay

LEAST_S, LEAST_W = 30.0, 15.0
"""Less mowing than this [s] says nothing of what is to come (common practice); with less power [W] the
simulation would follow the pack for days."""


@dataclass(frozen=True)
class LiveAnswer:
    """The minutes left at the last reading; the lawn under way, None where none is named."""

    left: MinutesAnswer
    lawn: LawnUnderWay | None


def live_answer(logbook: Logbook, log: Log, question: MinutesQuestion, lawn: str | None = None) -> LiveAnswer:
    """Minutes left for a log that still grows, with the chance of finishing each lawn.

    question : as for minutes left; one more lawn is always included
    lawn : the one that is being mown
    Raises InputError until the motor has run for half a minute.
    """
    from estimator.answers.figures.load_profile import profile_of
    from estimator.predictor.lawns.one_more import lawn_under_way, running

    so_far = running(log)
    if so_far.seconds < LEAST_S or so_far.mean_w < LEAST_W:
        raise InputError("the motor has hardly run yet", mend="mow for half a minute")
    left = minutes_of_log(logbook, log, replace(question, one_more=True))
    if lawn is None:
        return LiveAnswer(left, None)
    (described,) = the_lawns(logbook, (lawn,))
    under_way = lawn_under_way(
        profile_of(logbook), log, described, left.ends_min, question.grass,
        temperature_c=question.temperature_c,
    )  # fmt: skip
    return LiveAnswer(left, under_way)
