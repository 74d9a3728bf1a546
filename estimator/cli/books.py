"""The logbook that a command works with: asked from one that is there, written to a new one if need be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from estimator.logbook import Logbook


def kept_book(where: str | None) -> Logbook:
    """The logbook at a place; LogbookError where there is none, since a slip in its name makes no new one."""
    from estimator.logbook import open_logbook

    return open_logbook(where, make=False)


def book_to_fill(where: str | None) -> Logbook:
    """The logbook at a place, made new where there is none; that it is new is said."""
    from estimator.logbook import is_there, open_logbook

    new = not is_there(where)
    book = open_logbook(where)
    if new:
        typer.echo(f"a new logbook was made: {book.where}", err=True)
    return book
