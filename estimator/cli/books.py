"""The logbook that a command works with: it must be there for a question, and is made for what is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from estimator.logbook import Logbook


def kept_book(where: str | None) -> Logbook:
    """The logbook at a place; LogbookError where there is none: a slip in a name must not make a new one."""
    from estimator.logbook import open_logbook

    return open_logbook(where, make=False)


def asked_book(where: str | None) -> Logbook:
    """As `kept_book`; mows that an earlier version kept are checked once before any answer rests on them."""
    from estimator.answers.keeping.second_look import look_again
    from estimator.cli.output import busy

    book = kept_book(where)
    with busy("looking at the kept mows") as progress:
        aside = look_again(book, progress)
    if aside:
        several = f"mows {', '.join(map(str, aside))} were" if len(aside) > 1 else f"mow {aside[0]} was"
        told = "their readings can hardly be right; see `mowcharge mows --doubtful`"
        typer.echo(f"{several} set aside as doubtful, once, after an update: {told}", err=True)
    return book


def book_to_fill(where: str | None) -> Logbook:
    """The logbook at a place; where there is none it is made, and the user is told."""
    from estimator.logbook import is_there, open_logbook

    new = not is_there(where)
    book = open_logbook(where)
    if new:
        typer.echo(f"a new logbook was made: {book.where}", err=True)
    return book
