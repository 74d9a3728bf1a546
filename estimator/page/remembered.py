"""Remember answers until the logbook changes, and work out a question that is asked twice at once only once.

A page waits only a moment for an answer; if it takes longer, the page says so and asks again meanwhile.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from concurrent.futures import TimeoutError as Waited
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import date
from math import inf
from threading import BoundedSemaphore, Lock, Thread
from time import monotonic
from typing import Any, TypeVar

from starlette.requests import Request

from estimator.errors import MowchargeError
from estimator.logbook import Logbook, latest_change

Answer = TypeVar("Answer")
MOST_ANSWERS = 64
"""How many answers are remembered; the oldest is dropped first."""
AT_ONCE = 2
"""How many questions are worked out at once; the others wait for their turn."""

MOST_WAITING = 40  # more than a page asks; bounds the memory


class StillWorking(MowchargeError):
    """An answer that is not there yet: it has been worked on for `since_s` [s]."""

    def __init__(self, since_s: float) -> None:
        super().__init__("this is still being worked out", mend="ask again in a moment")
        self.since_s = since_s


@dataclass(frozen=True)
class Work:
    """The work on a question to the logbook as it was at a change: since when, and its answer once found."""

    change: str
    began: float
    found: Future[Any]

    @property
    def failed(self) -> bool:
        """Whether it ended without an answer."""
        return self.found.done() and (self.found.cancelled() or self.found.exception() is not None)


class Remembered:
    """The latest answers of one logbook.

    >>> from estimator.logbook import keep_event, open_logbook
    >>> remembered, asked = Remembered(), []
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     for _ in range(2):
    ...         remembered.answer(book, "count", lambda: asked.append("worked out"))
    ...     _ = keep_event(book, "2025-05-01", "blade care")
    ...     remembered.answer(book, "count", lambda: asked.append("worked out again"))
    >>> asked
    ['worked out', 'worked out again']
    """

    def __init__(self, patience_s: float = inf, in_use: AbstractContextManager[Any] | None = None) -> None:
        self.patience_s = patience_s
        self._in_use: AbstractContextManager[Any] = nullcontext() if in_use is None else in_use
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._lock = Lock()
        self._turns = BoundedSemaphore(AT_ONCE)

    def answer(
        self, book: Logbook, what: object, ask: Callable[[], Answer], patience_s: float | None = None
    ) -> Answer:
        """The answer to a question; `what` is a name that no other question has.

        patience_s : how long to wait for it [s], None as long as usual here
        Raises StillWorking where it takes longer; the work goes on, and a later call finds the answer.
        """
        work, new = self.work_on(question_of(what), latest_change(book))
        if new:  # a daemon thread: stopping the page need not wait for an answer
            Thread(target=self._do, args=(work, ask), daemon=True).start()
        patience = self.patience_s if patience_s is None else patience_s
        try:
            answer: Answer = work.found.result(None if patience == inf else patience)
        except CancelledError:  # whoever worked on it has given up
            return self.answer(book, what, ask, patience_s)
        except Waited:
            if work.found.done():
                raise
            raise StillWorking(monotonic() - work.began) from None
        return answer

    def work_on(self, question: str, change: str) -> tuple[Work, bool]:
        """The work on a question, and whether it is new: who gets new work finds the answer or cancels it."""
        with self._lock:
            work = self._works.get(question)
            if work is not None and work.change == change and not work.failed:
                return work, False
            if sum(not each.found.done() for each in self._works.values()) >= MOST_WAITING:
                raise StillWorking(0.0)
            work = self._works[question] = Work(change, monotonic(), Future())
            self._works.move_to_end(question)
            while len(self._works) > MOST_ANSWERS:
                self._works.popitem(last=False)
            return work, True

    def _do(self, work: Work, ask: Callable[[], Any]) -> None:
        try:
            with self._turns, self._in_use:
                work.found.set_result(ask())
        except BaseException as error:
            work.found.set_exception(error)


def question_of(what: object) -> str:
    """A text for a question that no other question has, nor the same question on another day."""
    return f"{date.today()} {what!r}"


def remembered(request: Request, ask: Callable[..., Answer], *arguments: Any) -> Answer:
    """What `ask(logbook, *arguments)` answers, from memory where the logbook has not changed since.

    Scripts wait for as long as it takes; a page asks again (see StillWorking).
    """
    book: Logbook = request.app.state.book
    memory: Remembered = request.app.state.remembered
    patience_s = inf if request.url.path.startswith("/api/") else None
    return memory.answer(book, (ask.__name__, arguments), lambda: ask(book, *arguments), patience_s)
