"""The answer for a mow that runs, worked out again in a thread of its own whenever readings have come.

It works out one answer at a time, the next from all that has come meanwhile, so that posts and visitors never
wait, however fast readings come. While nobody looks, nothing is worked out.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from threading import Event, Lock, Thread
from time import monotonic, time

from estimator.answers.keeping.proposal import likely_pack
from estimator.answers.live import LiveAnswer, live_answer
from estimator.answers.minutes import MinutesQuestion
from estimator.descriptions import Grass
from estimator.errors import MowchargeError
from estimator.importer.follow import follow_log
from estimator.importer.log import Log
from estimator.logbook import open_logbook, packs
from estimator.page.live.posted import begun_of, newest
from estimator.page.screens.first_page import latest_mow
from estimator.page.settings import PageSettings
from estimator.page.showing.words import sentence

_LOG = logging.getLogger(__name__)

LOOK_S = 0.5
"""Time between two looks at the file [s]."""

AGAIN_S = 3.0
"""Time until the next try [s] after a fault, or while there is nothing to follow."""

END_S = 5.0  # how long the end of the thread is waited for [s]; a look at the file takes less

REST = 1.0
"""Pause after an answer, as a multiple of the time it took: that time is for the rest of the page."""

LOOKED_AT_S = 90.0
"""How long after the last visitor [s] answers are still worked out."""

SURE = 0.95
"""With a chance below this, the lawn under way is in danger."""

SOON_MIN = 5.0  # enough to finish a row and drive back (common practice)


@dataclass(frozen=True)
class Said:
    """What the user said of the mow that runs."""

    pack: str | None = None
    lawn: str | None = None
    start_charge: float | None = None
    moisture: str | None = None


@dataclass(frozen=True)
class Now:
    """What there is to show: a number that grows with every change, the time, the log's name and how many
    readings it has, and the answer, or why there is none."""

    number: int
    at: datetime
    source: str
    readings: int = 0
    answer: LiveAnswer | None = None
    problem: str | None = None

    @property
    def in_danger(self) -> bool:
        """Whether the chance of the lawn under way is below SURE; without a lawn, whether the motor may stop
        within SOON_MIN."""
        if self.answer is None:
            return False
        if self.answer.lawn is None:
            return self.answer.left.low < SOON_MIN
        return self.answer.lawn.odds < SURE


class Watch:
    """Follows the mow that runs, for one page."""

    def __init__(self, settings: PageSettings) -> None:
        self._settings = settings
        self._ended, self._starting = Event(), Lock()
        self._thread: Thread | None = None
        self._looked = self._said_at = 0.0
        self._pack: str | None = None
        self.latest: Now | None = None

    @property
    def folder(self) -> Path:
        """Where posted readings are kept."""
        return self._settings.pending_folder.with_name("live")

    def source(self) -> Path | None:
        """The file that grows: the one to follow if one is given, else the one last posted to."""
        return self._settings.follow or newest(self.folder)

    def look(self) -> Now | None:
        """The latest answer; for a while after this call, new answers are worked out."""
        self._looked = monotonic()
        with self._starting:
            if self._thread is None and self.source() is not None:
                self._thread = Thread(target=self._run, name="live", daemon=True)
                self._thread.start()
        return self.latest

    def say(self, said: Said) -> None:
        """Take what the user says of the mow, and keep it beside the readings."""
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        part = self.folder / "said.part"
        part.write_text(json.dumps(asdict(said)), encoding="utf-8")
        part.replace(self.folder / "said.json")
        self._said_at = monotonic()

    def said(self) -> Said:
        """What was last said; before that, only the pack: the readings' likely one, or the latest mow's."""
        try:
            return Said(**json.loads((self.folder / "said.json").read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            pass
        with open_logbook(self._settings.logbook) as book:
            latest = latest_mow(book)
            return Said(pack=self._pack or (None if latest is None else latest.pack))

    def end(self) -> None:
        """Stop working out answers; an answer under way is waited for, but not for long."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join(END_S)

    def _run(self) -> None:
        while not self._ended.is_set():
            path = self.source()
            try:
                if path is not None:
                    for log in follow_log(path, self._looks(path)):
                        self._answer(path, log)
                    continue  # another file grows, or something was said of this one: no pause before that
            except MowchargeError as error:
                self._show(Now(0, datetime.now(), path.name if path else "", problem=sentence(error)))
            except Exception as fault:  # a fault in the tool itself must not end the thread
                _LOG.error("the live answer went wrong", exc_info=fault)
                problem = "something went wrong inside; the window in which the page runs says more"
                self._show(Now(0, datetime.now(), path.name if path else "", problem=problem))
            self._ended.wait(AGAIN_S)

    def _looks(self, path: Path) -> Iterator[None]:
        """One look each time the file has grown and somebody watches, until another file becomes the source
        or the user says something else about this one."""
        size, began, said_at = -1, monotonic(), self._said_at
        while not self._ended.is_set() and self.source() == path and said_at == self._said_at:
            now = path.stat().st_size if path.exists() else -1
            if now != size and monotonic() - self._looked < LOOKED_AT_S:
                size, began = now, monotonic()
                yield None
                self._ended.wait(min(REST * (monotonic() - began), 10.0))
            self._ended.wait(LOOK_S)

    def _answer(self, path: Path, log: Log) -> None:
        with open_logbook(self._settings.logbook) as book:
            likely = likely_pack(log, packs(book), self._pack)
        self._pack = None if likely is None else likely.name
        said = self.said()
        question = MinutesQuestion((), said.pack, said.start_charge, grass=Grass(said.moisture))
        with open_logbook(self._settings.logbook) as book:
            answer = live_answer(book, log, question, said.lawn)
        source = path.name if path.parent != self.folder else f"a logger, since {begun_of(path):%H:%M}"
        self._show(Now(0, datetime.now(), source, len(log.readings), answer=answer))

    def _show(self, now: Now) -> None:
        latest = self.latest
        number = max(int(1000 * time()), 0 if latest is None else latest.number + 1)
        self.latest = Now(**{**vars(now), "number": number})
