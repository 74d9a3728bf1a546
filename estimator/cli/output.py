"""How the command line speaks: one JSON object for programs, short text for people."""

from __future__ import annotations

import io
import json
import os
import re
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from shutil import get_terminal_size
from typing import TYPE_CHECKING, Any, TypeVar

import typer

if TYPE_CHECKING:
    from estimator.logbook import Logbook

Answer = TypeVar("Answer")

SAID_AFTER_S = 1.0
"""After how long [s] a terminal shows what is being worked out."""


_UNSEEN = re.compile(
    "(\x1b\\[[01]m)|[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Codes for bold and plain, which stay; then all that a terminal obeys, does not show or cannot write."""


def visible(text: str) -> str:
    r"""Text that is safe for a terminal: characters that it would obey are written out, as in JSON.

    >>> visible("a\x1b]0;title\x07.csv"), visible("two\nlines")
    ('a\\u001b]0;title\\u0007.csv', 'two\nlines')
    """
    return _UNSEEN.sub(lambda found: found[1] or f"\\u{ord(found[0]):04x}", text)


class Shown(io.TextIOWrapper):
    """Standard output or error that passes on only what can be seen, whoever writes to it."""

    def write(self, text: str) -> int:
        self.obey(visible(text))
        return len(text)

    def obey(self, text: str) -> None:
        """Write what the terminal is meant to obey."""
        super().write(text)


@contextmanager
def shown() -> Iterator[None]:
    """Until the block ends, standard output and error pass on only what can be seen."""
    before = {name: getattr(sys, name) for name in ("stdout", "stderr")}
    for name, stream in before.items():
        if isinstance(stream, io.TextIOWrapper):  # None where the shell closed it
            buffered = stream.line_buffering
            written = Shown(stream.buffer, stream.encoding, "backslashreplace", line_buffering=buffered)
            setattr(sys, name, written)
    try:
        yield
    finally:
        for name, stream in before.items():
            if isinstance(written := getattr(sys, name), Shown):
                with suppress(OSError):  # the reader has gone, or the disk is full
                    written.detach()
            setattr(sys, name, stream)


def width() -> int:
    """How many columns to write in: as many as the terminal has, but no more than read well."""
    return max(40, min(get_terminal_size((72, 24)).columns - 1, 76))


def show(
    answer: Answer,
    text: Callable[[Answer, int], str],
    *,
    as_json: bool,
    why: bool = False,
    book: Logbook | None = None,
) -> None:
    """Print an answer as one JSON object, or as text with the cautions that are due in its logbook."""
    if as_json:
        from estimator.answers.why import as_plain

        typer.echo(json.dumps(as_plain(answer), ensure_ascii=False, indent=2))
        return
    from estimator.report.words.text import why_text

    say(text(answer, width()))
    behind: Any = getattr(answer, "why", None)
    if behind is not None and why:
        say("", why_text(behind, width()))
    if behind is not None and book is not None and behind.cautions:
        say("")
        say_cautions(book, behind.cautions)


def say_cautions(book: Logbook, cautions: Sequence[str]) -> None:
    """Print cautions in full where the logbook has not shown them yet, else by their topics."""
    from estimator.answers.cautions import due_cautions
    from estimator.report.words.text import cautions_text

    say(cautions_text(due_cautions(book, cautions), width()))


def say(*paragraphs: str) -> None:
    """Print texts, one after another."""
    for text in paragraphs:
        typer.echo(text)


def strong(text: str) -> str:
    """Bold on a terminal, plain when piped or when NO_COLOR is set."""
    if os.environ.get("NO_COLOR") or not sys.stdout.isatty():
        return text
    return typer.style(text, bold=True)


@contextmanager
def busy(doing: str) -> Iterator[Callable[[str], None]]:
    """Show on a terminal what is being worked out, if it takes longer than SAID_AFTER_S; silent when piped.

    The yielded function changes the text.
    """
    if sys.stderr is None or not sys.stderr.isatty():  # None where the shell closed it
        yield lambda _: None
        return
    done = threading.Event()
    now = [doing]

    def wait() -> None:
        if done.wait(SAID_AFTER_S):
            return
        while True:
            _erase_line()
            sys.stderr.write(f"{now[0]} ...")
            sys.stderr.flush()
            if done.wait(0.2):
                _erase_line()
                return

    watcher = threading.Thread(target=wait, daemon=True)
    watcher.start()
    try:
        yield lambda text: now.__setitem__(0, text)
    finally:
        done.set()
        watcher.join()


def _erase_line() -> None:
    getattr(sys.stderr, "obey", sys.stderr.write)("\r\x1b[K")
    sys.stderr.flush()
