"""The answer for a mow that runs, worked out again in a thread of its own whenever readings have come.

It works out one answer at a time, the next from all that has come meanwhile, so that posts and visitors never
wait, however fast readings come. While nobody looks, nothing is worked out.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from threading import Event, Lock, Thread
from time import monotonic, time

from estimator.answers.keeping.proposal import likely_pack
from estimator.answers.live import LiveAnswer, live_answer
from estimator.answers.minutes import MinutesQuestion
from estimator.contradictions import check_log_of_pack
from estimator.descriptions import Grass, Pack
from estimator.errors import InputError, MowchargeError
from estimator.importer.follow import follow_log
from estimator.importer.log import Log
from estimator.logbook import open_logbook, pack, packs
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
    """What the user said of a mow that runs; without a pack, its volts tell which."""

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
        self._latest: Now | None = None
        self._of: Path | None = None

    @property
    def folder(self) -> Path:
        """Where posted readings are kept."""
        return self._settings.pending_folder.with_name("live")

    def source(self) -> Path | None:
        """The file that grows: the one to follow if one is given, else the one last posted to."""
        return self._settings.follow or newest(self.folder)

    def look(self) -> Now | None:
        """The latest answer for the source; for a while after this call, new answers are worked out."""
        self._looked, source = monotonic(), self.source()
        with self._starting:
            if self._thread is None and source is not None:
                self._thread = Thread(target=self._run, name="live", daemon=True)
                self._thread.start()
        return self._latest if self._of == source else None

    def say(self, source: Path, said: Said) -> None:
        """Take what the user says of one mow; a pack that its readings cannot come from is refused before."""
        if said.pack is not None:
            with open_logbook(self._settings.logbook) as book:
                named = pack(book, said.pack)
            for log in follow_log(source, (None,)):
                _check_pack(log, named)
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        part = self.folder / "said.part"
        part.write_text(json.dumps(asdict(said)), encoding="utf-8")
        part.replace(self._said_file(source))
        self._said_at = monotonic()

    def said(self, source: Path) -> Said:
        """What was last said of one mow."""
        try:
            return Said(**json.loads(self._said_file(source).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return Said()

    def _said_file(self, source: Path) -> Path:
        return self.folder / f"{source.stem}.json"

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
                self._show(path, Now(0, datetime.now(), path.name if path else "", problem=sentence(error)))
            except Exception as fault:  # a fault in the tool itself must not end the thread
                _LOG.error("the live answer went wrong", exc_info=fault)
                problem = "something went wrong inside; the window in which the page runs says more"
                self._show(path, Now(0, datetime.now(), path.name if path else "", problem=problem))
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
        said = self.said(path)
        source = path.name if path.parent != self.folder else f"a logger, since {begun_of(path):%H:%M}"
        with open_logbook(self._settings.logbook) as book:
            latest = latest_mow(book)
            used_last = None if latest is None else latest.pack
            likely = likely_pack(log, packs(book), used_last)
            name = said.pack or (used_last if likely is None else likely.name)
            if name is not None:
                _check_pack(log, pack(book, name))
            question = MinutesQuestion((), name, said.start_charge, grass=Grass(said.moisture))
            answer = live_answer(book, replace(log, name=source), question, said.lawn)
        self._show(path, Now(0, datetime.now(), source, len(log.readings), answer=answer))

    def _show(self, path: Path | None, now: Now) -> None:
        number = max(int(1000 * time()), 0 if self._latest is None else self._latest.number + 1)
        self._latest, self._of = replace(now, number=number), path


def _check_pack(log: Log, pack: Pack) -> None:
    """Refuse a pack that the readings cannot come from; under way, the way out is another pack."""
    try:
        check_log_of_pack(log, pack)
    except InputError as error:
        raise InputError(error.problem, mend="name another pack") from None
