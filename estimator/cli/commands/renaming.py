"""Commands that rename, merge and delete lawns, packs, machines and meters."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import LogbookPath


def rename(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="lawn, pack, machine or meter.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name now.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="Its new name.")],
    logbook: LogbookPath = None,
) -> None:
    """Rename a lawn, pack, machine or meter.

    Its mows and its history go with it.

    Example: mowcharge describe rename lawn "far meadow" "long meadow"
    """
    from estimator.cli.books import kept_book
    from estimator.logbook import rename as give_name

    with kept_book(logbook) as book:
        kept = give_name(book, kind, name, new)
    typer.echo(f"{kind} {name}: now {kept}")


def merge(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="lawn, pack or machine.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="The one to delete.")],
    into: Annotated[str, typer.Argument(metavar="INTO", help="The one that gets its mows.")],
    logbook: LogbookPath = None,
) -> None:
    """Move all its mows to another one, and delete it.

    Example: mowcharge describe merge lawn "chapel strip" "far meadow"
    """
    from estimator.cli.books import kept_book
    from estimator.logbook import merge as give_mows
    from estimator.report.words.text import counted

    with kept_book(logbook) as book:
        moved = give_mows(book, kind, name, into)
    typer.echo(f"{kind} {name}: merged into {into}, {counted(moved)}")


def delete(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="lawn, pack, machine or meter.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="What it is called.")],
    logbook: LogbookPath = None,
) -> None:
    """Delete one that no mow uses.

    Example: mowcharge describe delete meter "shed clamp"
    """
    from estimator.cli.books import kept_book
    from estimator.logbook import delete as let_go

    with kept_book(logbook) as book:
        let_go(book, kind, name)
    typer.echo(f"{kind} {name}: deleted; its description stays in the history")
