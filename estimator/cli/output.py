"""How the command line speaks: one object for programs, short text for people."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from shutil import get_terminal_size
from typing import Any, TypeVar

import typer

Answer = TypeVar("Answer")

SAID_AFTER_S = 1.0
"""Seconds after which a terminal is told what takes so long."""


def width() -> int:
    """Columns to write in: the terminal's, but no more than reads well."""
    return max(40, min(get_terminal_size((72, 24)).columns - 1, 76))


def show(answer: Answer, text: Callable[[Answer, int], str], *, as_json: bool, why: bool = False) -> None:
    """Print an answer as one JSON object or as text with its cautions."""
    if as_json:
        import json

        from estimator.answers.why import as_plain

        typer.echo(json.dumps(as_plain(answer), ensure_ascii=False, indent=2))
        return
    from estimator.report.words.text import cautions, why_text

    say(text(answer, width()))
    behind: Any = getattr(answer, "why", None)
    if behind is not None and why:
        say("", why_text(behind, width()))
    if behind is not None and behind.cautions:
        say("", cautions(behind, width()))


def say(*paragraphs: str) -> None:
    """Print text; the first line stands out on a terminal that can."""
    for text in paragraphs:
        typer.echo(text)


def strong(text: str) -> str:
    """Bold on a terminal, plain when piped or when NO_COLOR is set."""
    if os.environ.get("NO_COLOR") or not sys.stdout.isatty():
        return text
    return typer.style(text, bold=True)


@contextmanager
def busy(doing: str) -> Iterator[Callable[[str], None]]:
    """Say on a terminal what takes longer than SAID_AFTER_S; silent otherwise and when piped.

    The yielded function changes what is said.
    """
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    done = threading.Event()
    now = [doing]

    def wait() -> None:
        if done.wait(SAID_AFTER_S):
            return
        while True:
            sys.stderr.write(f"\r\x1b[K{now[0]} ...")
            sys.stderr.flush()
            if done.wait(0.2):
                sys.stderr.write("\r\x1b[K")
                sys.stderr.flush()
                return

    watcher = threading.Thread(target=wait, daemon=True)
    watcher.start()
    try:
        yield lambda text: now.__setitem__(0, text)
    finally:
        done.set()
        watcher.join()
