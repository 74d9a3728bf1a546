"""A file that grows: read again whenever it did, with the minutes left each time."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from estimator.answers.minutes import MinutesAnswer, MinutesQuestion, minutes_of_files
from estimator.answers.plain import as_plain
from estimator.cli.files import read_files
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.report.text import band


@dataclass(frozen=True)
class Look:
    """One look at the file: an answer, or why there is none yet."""

    at: str
    answer: MinutesAnswer | None
    waiting: str = ""

    def as_line(self) -> str:
        """One line for people."""
        if self.answer is None:
            return f"{self.at}  waiting: {self.waiting}"
        left = band(self.answer.minutes, self.answer.low, self.answer.high, "min left")
        so_far = f"charge {100 * self.answer.charge:.0f} %, {self.answer.measured_minutes:.0f} min so far"
        return f"{self.at}  {left}, {so_far}"

    def as_json(self) -> str:
        """One object in one line for programs."""
        return json.dumps(as_plain(self), ensure_ascii=False)


def looks_at(
    logbook: Logbook, file: str, question: MinutesQuestion, *, every_s: float, still_s: float, once: bool
) -> Iterator[Look]:
    """Look at the file whenever it has grown, until it stands still for `still_s` seconds."""
    size, grown = -1, time.monotonic()
    while True:
        content = read_files([file])
        if len(content[0][1]) != size:
            size, grown = len(content[0][1]), time.monotonic()
            yield _look(logbook, _whole_lines(content), question)
        if once or time.monotonic() - grown > still_s:
            return
        time.sleep(every_s)


def _look(logbook: Logbook, content: tuple[tuple[str, bytes], ...], question: MinutesQuestion) -> Look:
    at = time.strftime("%H:%M:%S")
    try:
        return Look(at, minutes_of_files(logbook, replace(question, files=content)))
    except InputError as error:
        if error.file is None or Path(error.file).name != content[0][0]:
            raise
        return Look(at, None, str(error))


def _whole_lines(content: tuple[tuple[str, bytes], ...]) -> tuple[tuple[str, bytes], ...]:
    """The content up to its last whole line: a logger may be in the middle of writing one."""
    name, data = content[0]
    end = data.rfind(b"\n")
    return ((name, data[: end + 1] if end >= 0 else data),)
