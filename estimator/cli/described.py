"""The command that lists what has been described."""

from __future__ import annotations

import typer

from estimator.cli.options import Json, Logbook


def described(logbook: Logbook = None, as_json: Json = False) -> None:
    """List what has been described.

    Example: mowcharge described
    """
    from estimator.answers.described import all_described
    from estimator.cli.books import kept_book
    from estimator.cli.output import show
    from estimator.report.described_text import described_text

    with kept_book(logbook) as book:
        found = all_described(book)
    show(found, described_text, as_json=as_json)
    if not as_json and not (found.lawns or found.packs):
        typer.echo("Start with `mowcharge describe lawn` and `mowcharge describe pack`.")
