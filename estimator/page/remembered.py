"""Answers are remembered until the logbook changes, and a question asked twice at once is worked out once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from datetime import date
from threading import Lock
from typing import Any, TypeVar

from starlette.requests import Request

from estimator.logbook import Logbook, latest_change

Answer = TypeVar("Answer")
MOST_ANSWERS = 64


class Remembered:
    """The latest answers of one logbook.

    >>> from estimator.logbook import keep_event, open_logbook
    >>> remembered, asked = Remembered(), []
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     for _ in range(2):
    ...         remembered.answer(book, "count", lambda: asked.append("worked out"))
    ...     _ = keep_event(book, "2025-05-01", "blade care")
    ...     remembered.answer(book, "count", lambda: asked.append("worked out anew"))
    >>> asked
    ['worked out', 'worked out anew']
    """

    def __init__(self) -> None:
        self._answers: OrderedDict[str, tuple[str, Any]] = OrderedDict()
        self._locks: dict[str, Lock] = {}
        self._lock = Lock()

    def answer(self, book: Logbook, what: object, ask: Callable[[], Answer]) -> Answer:
        """The answer to a question; `what` names it so that no other question has that name."""
        question = f"{date.today()} {what!r}"
        with self._lock:
            lock = self._locks.setdefault(question, Lock())
        with lock:
            now = latest_change(book)
            known = self._answers.get(question)
            if known is not None and known[0] == now:
                found: Answer = known[1]
                return found
            answer = ask()
        with self._lock:
            self._answers[question] = (now, answer)
            self._answers.move_to_end(question)
            while len(self._answers) > MOST_ANSWERS:
                self._locks.pop(self._answers.popitem(last=False)[0], None)
        return answer


def remembered(request: Request, ask: Callable[..., Answer], *arguments: Any) -> Answer:
    """What `ask(logbook, *arguments)` answers, from memory where the logbook has not changed since."""
    book: Logbook = request.app.state.book
    memory: Remembered = request.app.state.remembered
    return memory.answer(book, (ask.__name__, arguments), lambda: ask(book, *arguments))
