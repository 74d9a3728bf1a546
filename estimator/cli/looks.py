"""Follow a file that grows: the minutes left each time it has grown."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from estimator.answers.minutes import MinutesAnswer, MinutesQuestion, minutes_of_log
from estimator.answers.why import as_plain
from estimator.importer.follow import follow_log
from estimator.logbook import Logbook
from estimator.report.words.text import band


@dataclass(frozen=True)
class Look:
    """The answer from one look at the file."""

    at: str
    answer: MinutesAnswer

    def as_line(self) -> str:
        """One line for people."""
        left = band(self.answer.minutes, self.answer.low, self.answer.high, "min left")
        so_far = f"charge {100 * self.answer.charge:.0f} %, {self.answer.measured_minutes:.0f} min so far"
        return f"{self.at}  {left}, {so_far}"

    def as_json(self) -> str:
        """One JSON object in one line, for programs."""
        return json.dumps(as_plain(self), ensure_ascii=False)


def looks_at(
    logbook: Logbook, file: str, question: MinutesQuestion, *, every_s: float, still_s: float, once: bool
) -> Iterator[Look]:
    """Look at the file whenever it has grown, until it has not grown for `still_s` [s]."""
    for log in follow_log(file, _ticks(Path(file), every_s, still_s, once)):
        yield Look(time.strftime("%H:%M:%S"), minutes_of_log(logbook, log, question))


def _ticks(path: Path, every_s: float, still_s: float, once: bool) -> Iterator[None]:
    size, grown = -1, time.monotonic()
    while True:
        yield None
        now = path.stat().st_size if path.exists() else -1
        if now != size:
            size, grown = now, time.monotonic()
        if once or time.monotonic() - grown > still_s:
            return
        time.sleep(every_s)
