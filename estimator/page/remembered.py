"""Remember answers until the logbook changes, and work out a question that is asked twice at once only once.

A page waits only a moment for an answer; if it takes longer, the page says so and asks again meanwhile.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
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
class _UnderWay:
    change: str
    began: float
    found: Future[Any]


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
        self._answers: OrderedDict[str, tuple[str, Any]] = OrderedDict()
        self._under_way: dict[str, _UnderWay] = {}
        self._lock = Lock()
        self._turns = BoundedSemaphore(AT_ONCE)

    def answer(
        self, book: Logbook, what: object, ask: Callable[[], Answer], patience_s: float | None = None
    ) -> Answer:
        """The answer to a question; `what` is a name that no other question has.

        patience_s : how long to wait for it [s], None as long as usual here
        Raises StillWorking where it takes longer; the work goes on, and a later call finds the answer.
        """
        question, now = question_of(what), latest_change(book)
        with self._lock:
            known = self._answers.get(question)
            if known is not None and known[0] == now:
                found: Answer = known[1]
                return found
            work = self._under_way.get(question)
            if work is None or work.change != now:
                if len(self._under_way) >= MOST_WAITING:
                    raise StillWorking(0.0)
                work = _UnderWay(now, monotonic(), Future())
                self._under_way[question] = work
                # a daemon thread: stopping the page need not wait for an answer
                Thread(target=self._work, args=(question, work, ask), daemon=True).start()
        patience = self.patience_s if patience_s is None else patience_s
        try:
            answer: Answer = work.found.result(None if patience == inf else patience)
        except Waited:
            if work.found.done():
                raise
            raise StillWorking(monotonic() - work.began) from None
        return answer

    def _work(self, question: str, work: _UnderWay, ask: Callable[[], Any]) -> None:
        try:
            with self._turns, self._in_use:
                answer = ask()
        except BaseException as error:
            work.found.set_exception(error)
        else:
            self.take(question, work.change, answer)
            work.found.set_result(answer)
        with self._lock:
            if self._under_way.get(question) is work:
                del self._under_way[question]

    def take(self, question: str, change: str, answer: object) -> None:
        """Remember an answer to a question, from the logbook as it was at that change."""
        with self._lock:
            self._answers[question] = (change, answer)
            self._answers.move_to_end(question)
            while len(self._answers) > MOST_ANSWERS:
                self._answers.popitem(last=False)


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
