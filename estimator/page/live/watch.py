"""The answer to a mow that runs, worked out again whenever readings have come, in a thread of its own.

One answer at a time, the next one from all that has come meanwhile: posts and visitors never wait for it,
however fast readings come. While nobody looks, nothing is worked out.
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
"""Seconds between two looks at the file."""

AGAIN_S = 3.0
"""Seconds after a fault, or where there is nothing to follow yet."""

END_S = 5.0  # a look at the file takes less; the program ends without it

REST = 1.0
"""After an answer that took so long, so many times that long is left to the rest of the page."""

LOOKED_AT_S = 90.0
"""Seconds after the last visitor for which answers are still worked out."""

SURE = 0.95
"""Under this chance the lawn under way is in danger."""

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
    """What there is to show: its number, larger with every change, the clock, the log's name and readings;
    the answer, or why there is none."""

    number: int
    at: datetime
    source: str
    readings: int = 0
    answer: LiveAnswer | None = None
    problem: str | None = None

    @property
    def in_danger(self) -> bool:
        """Whether the chance of the lawn under way is under SURE; without a lawn, whether the motor may stop
        within five minutes."""
        if self.answer is None:
            return False
        if self.answer.lawn is None:
            return self.answer.left.low < SOON_MIN
        return self.answer.lawn.odds < SURE


class Watch:
    """The mow that runs, of one page."""

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
        """The file that grows: the one that is followed, else the newest that was posted to."""
        return self._settings.follow or newest(self.folder)

    def look(self) -> Now | None:
        """The latest answer; answers go on being worked out for a while after this."""
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
        """What was said last; before that, the pack that the readings are likely of, or the latest mow's."""
        try:
            return Said(**json.loads((self.folder / "said.json").read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            pass
        with open_logbook(self._settings.logbook) as book:
            latest = latest_mow(book)
            return Said(pack=self._pack or (None if latest is None else latest.pack))

    def end(self) -> None:
        """Work out nothing more; an answer under way is waited for, but not for long."""
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
            except MowchargeError as error:
                self._show(Now(0, datetime.now(), path.name if path else "", problem=sentence(error)))
            except Exception as fault:  # a fault of the tool's own must not end the thread
                _LOG.error("the live answer went wrong", exc_info=fault)
                problem = "something went wrong inside; the window in which the page runs says more"
                self._show(Now(0, datetime.now(), path.name if path else "", problem=problem))
            self._ended.wait(AGAIN_S)

    def _looks(self, path: Path) -> Iterator[None]:
        """A look whenever the file has grown and somebody watches, until another file is the source or
        something else is said of this one."""
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
