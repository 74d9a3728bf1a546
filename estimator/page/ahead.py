"""Work out answers before they are asked: after each change, the usual questions once.

A separate process of low priority asks what the pages ask, with the same code, keeps in the logbook what is
kept there, and hands the answers over. The next change ends it and starts another; there is never more than
one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Any

from estimator.descriptions import Grass
from estimator.errors import MowchargeError
from estimator.logbook import latest_change, open_logbook, packs
from estimator.page.remembered import Remembered, StillWorking, Work, question_of

GIVES_WAY = 15
"""Niceness of the process: it gets the time that nothing else needs."""

SETTLED_S = 1.0
"""How long [s] without another change the work waits for after a change."""

Question = tuple[Callable[..., Any], tuple[Any, ...]]


class Ahead:
    """Works out the usual answers from one page's logbook."""

    def __init__(self, logbook: str | Path | None, memory: Remembered) -> None:
        self._logbook, self._memory = logbook, memory
        self._changed, self._ended, self._starting = Event(), Event(), Lock()
        self._thread: Thread | None = None

    def wake(self) -> None:
        """Something may have changed: work out the usual answers again."""
        self._changed.set()
        with self._starting:
            if self._thread is None:
                self._thread = Thread(target=self._run, name="ahead", daemon=True)
                self._thread.start()

    def end(self) -> None:
        """Stop working out answers."""
        self._ended.set()
        self._changed.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while not self._ended.is_set():
            self._changed.wait()
            self._changed.clear()
            if self._ended.wait(SETTLED_S):
                return
            if not self._changed.is_set():
                self._one_round()

    def _one_round(self) -> None:
        ours, theirs = get_context("spawn").Pipe()
        worker = get_context("spawn").Process(target=_work, args=(self._logbook, theirs), daemon=True)
        worker.start()
        theirs.close()
        work: Work | None = None
        try:
            while not self._changed.is_set():
                if not ours.poll(0.2):
                    continue
                if work is not None:
                    answer, done, work = ours.recv(), work, None
                    done.found.cancel() if answer is None else done.found.set_result(answer)
                    continue
                asked, new = self._memory.work_on(*ours.recv())
                work = asked if new else None
                ours.send(new)
        except (EOFError, StillWorking):  # it is done, or pages ask more than enough
            pass
        finally:
            if work is not None:
                work.found.cancel()
            worker.kill()
            worker.join()
            worker.close()
            ours.close()


def _work(logbook: str | Path | None, page: Connection) -> None:
    """In the separate process: name each usual question, and answer it where nobody else does."""

    with suppress(AttributeError, OSError):  # some systems cannot lower a priority
        os.nice(GIVES_WAY)
    with suppress(MowchargeError, EOFError, OSError), open_logbook(logbook) as book:
        for ask, arguments in usual_questions(book):
            page.send((question_of((ask.__name__, arguments)), latest_change(book)))
            if not page.recv():
                continue
            answer = None
            with suppress(MowchargeError):
                answer = ask(book, *arguments)
            page.send(answer)


def usual_questions(book: Any) -> Iterator[Question]:
    """What the pages ask when nothing else is said, the likeliest first."""
    from estimator.answers.capacity import capacity_to_buy
    from estimator.answers.charge_curve import charge_of_mow
    from estimator.answers.figures.pack_chain import fit_of_pack
    from estimator.answers.grass import grass_told
    from estimator.answers.keeping.after_mow import after_mow
    from estimator.answers.looking_back.compare import groups_compared, proposed_comparisons
    from estimator.answers.looking_back.pack_life import pack_life
    from estimator.answers.looking_back.seasons import seasons_compared
    from estimator.answers.looking_back.track_record import record_so_far
    from estimator.answers.plan import plan_of_day
    from estimator.page.door.forms import Sent
    from estimator.page.questions import capacity_question, plan_question
    from estimator.page.screens.first_page import latest_mow
    from estimator.page.screens.kept_mows import minutes_after

    latest = latest_mow(book)
    if latest is None:
        return
    sent = Sent({"pack": latest.pack} if latest.pack else {}, {})
    yield charge_of_mow, (latest.id,)
    yield after_mow, (latest.id,)
    yield proposed_comparisons, ()
    for each in proposed_comparisons(book)[:1]:
        yield groups_compared, (each.question,)
    yield plan_of_day, (plan_question(sent),)
    yield minutes_after, (latest.id,)
    for pack in packs(book):
        fit_of_pack(book, pack)
    yield seasons_compared, (latest.pack,)
    yield grass_told, ()
    yield capacity_to_buy, (capacity_question(sent),)
    yield pack_life, ((), latest.pack, Grass(), 0.90)
    yield record_so_far, ()
