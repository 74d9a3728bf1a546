"""The command that says the minutes left while a logger is still writing its file."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.books import asked_book
from estimator.cli.options import Json, Level, LogbookPath, PackName, StartCharge
from estimator.cli.output import say_cautions
from estimator.errors import InputError


def follow(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The file that the logger writes.")],
    pack: PackName = None,
    start_charge: StartCharge = None,
    every: Annotated[float, typer.Option("--every", metavar="SECONDS", help="How often to look.")] = 20.0,
    still: Annotated[
        float,
        typer.Option("--still", metavar="SECONDS", help="Stop when the file has not grown for this long."),
    ] = 300.0,
    once: Annotated[bool, typer.Option("--once", help="Look once and stop.")] = False,
    level: Level = 90.0,
    logbook: LogbookPath = None,
    as_json: Json = False,
) -> None:
    """Minutes left, again and again, while a logger writes its file; one line per look.

    Example: mowcharge follow 2025-05-17a.csv --pack "green crate" --once
    """
    from estimator.answers.minutes import MinutesQuestion
    from estimator.cli.looks import looks_at

    for option, seconds in (("--every", every), ("--still", still)):
        if seconds < 1:
            raise InputError(f"{option} is {seconds:g}", mend="give 1 second or more")
    question = MinutesQuestion(files=(), pack=pack, start_charge=start_charge, level=level)
    looks = 0
    with asked_book(logbook) as book:
        for look in looks_at(book, file, question, every_s=every, still_s=still, once=once):
            if not looks and not as_json:
                say_cautions(book, look.answer.why.cautions)
            typer.echo(look.as_json() if as_json else look.as_line())
            looks += 1
    if not looks:
        raise InputError("is not there, or holds no readings yet", file=file, mend="start the logger first")
