"""The command that says how to judge the grass."""

from __future__ import annotations

from estimator.cli.options import Json, LogbookPath, MachineName, Why


def grass(
    machine: MachineName = None, logbook: LogbookPath = None, as_json: Json = False, why: Why = False
) -> None:
    """How to judge the grass, and how much energy each kind takes.

    Example: mowcharge grass
    """
    from estimator.answers.grass import grass_told
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.described_text import grass_text

    with asked_book(logbook) as book, busy("looking at the mows"):
        answer = grass_told(book, machine)
    show(answer, grass_text, as_json=as_json, why=why, book=book)
