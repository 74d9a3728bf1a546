"""A mow that runs, for loggers that post its readings and for scripts that ask about it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from starlette.requests import Request

from estimator.answers.live import LiveAnswer
from estimator.errors import InputError
from estimator.page.door.forms import Sent, number_of
from estimator.page.interface.openapi import Operation
from estimator.page.live.posted import Posted, keep_readings


@dataclass(frozen=True)
class MowNow:
    """The mow that runs: when its latest answer was given, its readings, whether its lawn is in danger."""

    at: datetime | None
    readings: int
    in_danger: bool
    answer: LiveAnswer | None
    problem: str | None


def _post(request: Request, sent: Sent) -> Posted:
    word, first = sent.text("mow"), number_of(sent, "first", "number of the first reading") or 0.0
    if not word or len(word) > 80:
        raise InputError(f"the mow is named {word[:20]!r}", mend="give it a word of 80 characters at most")
    if not 0 <= first <= 10_000_000 or first != int(first):
        raise InputError(f"the first reading has number {first:g}", mend="give a whole number from 0")
    watch = request.app.state.watch
    return keep_readings(watch.folder, word, int(first), sent.fields.get("readings", ""), datetime.now())


def _now(request: Request, sent: Sent) -> MowNow:
    now = request.app.state.watch.look()
    if now is None:
        return MowNow(None, 0, False, None, "no answer yet; ask again in a few seconds")
    return MowNow(now.at, now.readings, now.in_danger, now.answer, now.problem)


LIVE = (
    Operation("POST", "/api/live", "Keep readings of a mow that runs; they are on disk when this answers.",
              ("mow", "first", "readings"), "json", Posted, _post),
    Operation("GET", "/api/live", "How the mow that runs stands.", (), "query", MowNow, _now),
)  # fmt: skip
