"""The command that compares two groups of mows."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import Json, LogbookPath, Picture, Why, lawn_names, machine_names


def compare(
    tag: Annotated[
        str | None, typer.Option("--tag", help="Mows with this tag against those without.")
    ] = None,
    changed_on: Annotated[
        str | None,
        typer.Option("--changed-on", metavar="DAY", help="Mows from this day on against those before."),
    ] = None,
    lawn: Annotated[
        str | None, typer.Option("--lawn", autocompletion=lawn_names, help="Only this lawn.")
    ] = None,
    machine: Annotated[
        str | None, typer.Option("--machine", autocompletion=machine_names, help="Only this machine.")
    ] = None,
    since: Annotated[
        str | None, typer.Option("--since", metavar="DAY", help="Only mows from this day on.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DAY", help="Only mows up to this day.")
    ] = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Two groups of mows compared, before and after a change.

    Example: mowcharge compare --tag "rear roller off"
    """
    from estimator.answers.compare import CompareQuestion, groups_compared
    from estimator.cli.named_files import asked_book, day
    from estimator.cli.output import busy, show
    from estimator.errors import InputError
    from estimator.report.words.season_text import compare_text

    if (tag is None) == (changed_on is None):
        raise InputError("what to compare is not said", mend="give either --tag or --changed-on")
    question = CompareQuestion(
        tag=tag, changed_on=day(changed_on), lawn=lawn, machine=machine, since=day(since), until=day(until)
    )
    with asked_book(logbook) as book, busy("comparing"):
        answer = groups_compared(book, question)
    if picture is not None:
        from estimator.report.pictures.compare_picture import compare_picture
        from estimator.report.pictures.style import write_picture

        write_picture(compare_picture(answer), picture)
    show(answer, compare_text, as_json=as_json, why=why, book=book)
