"""The command that marks earlier answers."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import Json, Level, LogbookPath, MachineName, Picture, Why


def track_record(
    machine: MachineName = None,
    level: Level = 90.0,
    last: Annotated[
        int | None, typer.Option("--last", min=1, help="Only this many of the newest mows.")
    ] = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """How well earlier answers held, replayed from the logbook.

    Example: mowcharge track-record --last 20
    """
    from estimator.answers.track_record import record_so_far
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.season_text import track_record_text

    with asked_book(logbook) as book, busy("replaying the mows"):
        answer = record_so_far(book, machine=machine, level=level, last=last)
    if picture is not None:
        from estimator.report.pictures.record_picture import record_picture
        from estimator.report.pictures.style import write_picture

        write_picture(record_picture(answer), picture)
    show(answer, track_record_text, as_json=as_json, why=why, book=book)
