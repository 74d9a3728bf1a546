"""The command that says the minutes left, after a log or after a few readings by hand."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.asking import draw
from estimator.cli.books import asked_book
from estimator.cli.named_files import noted, notes_of, read_files
from estimator.cli.options import (
    AirTemperature,
    FilesSaid,
    GrassSaid,
    Json,
    Level,
    LogbookPath,
    PackName,
    Picture,
    ReadingsSoFar,
    StartCharge,
    Why,
    which,
)
from estimator.cli.output import busy, show
from estimator.errors import InputError

if TYPE_CHECKING:
    from estimator.cli.asked_by_hand import Said
    from estimator.logbook import Logbook

_ASKED = "pack", "charge", "minutes", "typical", "before", "cutting"


def minutes(
    files: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="FILE...",
            help="The log so far or its parts, or one of each of two meters; none for readings by hand.",
        ),
    ] = None,
    *,
    readings: ReadingsSoFar,
    grass: GrassSaid,
    files_said: FilesSaid,
    pack: PackName = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    lawn: Annotated[
        str | None,
        which(
            "lawn", "The lawn that you go on with; with readings by hand, also the chance of finishing it."
        ),
    ] = None,
    one_more: Annotated[
        bool,
        typer.Option("--one-more", help="Also, for each lawn described, the chance of finishing it next."),
    ] = False,
    level: Level = 90.0,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Minutes left, from a log so far or from readings by hand; on a terminal they are asked for.

    Example: mowcharge minutes --typical 6 --minutes 12 --start-charge 100 --pack "green crate"
    """
    from estimator.answers.minutes import MinutesQuestion, minutes_of_files
    from estimator.answers.minutes_by_hand import minutes_of_notes
    from estimator.cli.asked_by_hand import refuse_too_little
    from estimator.report.words.answer_text import minutes_text

    notes = notes_of(readings, files)
    with asked_book(logbook) as book:
        if not files and not notes:
            if not sys.stdin.isatty() or as_json:
                raise InputError(
                    "neither a log nor readings are given",
                    mend="name a file, or give --typical-a and --minutes",
                )
            from estimator.answers.keeping.keep import Circumstances
            from estimator.cli.asked_by_hand import Said
            from estimator.importer.log import SpotNotes

            said = _asked(book, Said(Circumstances(lawn or "", pack, start_charge=start_charge), SpotNotes()))
            notes, mow = said.spot, said.mow
            pack, start_charge, lawn = mow.pack, mow.start_charge, mow.lawn or None
        question = MinutesQuestion(
            files=read_files(files or ()), pack=pack, start_charge=start_charge,
            temperature_c=temperature_c, lawn=lawn, level=level, one_more=one_more, grass=grass.grass(),
            **files_said.choices(),
        )  # fmt: skip
        with busy("working it out"):
            if notes:
                refuse_too_little(notes, "")
                answer = minutes_of_notes(book, notes, question)
            else:
                answer = minutes_of_files(book, question)
    draw("answer_pictures:minutes_picture", answer, picture)
    answer = replace(answer, remarks=noted(answer.remarks))
    show(answer, minutes_text, as_json=as_json, why=why, book=book)


def _asked(book: Logbook, said: Said) -> Said:
    """Ask one by one for what was not said yet; a blank leaves it unknown."""
    from estimator.answers.keeping.typed import described_names
    from estimator.cli.asked_by_hand import asked, asked_for_the_needed, questions_of, which_one

    typer.echo("Press Enter where there is no reading.")
    questions = questions_of(book)
    given = {"pack": said.mow.pack, "charge": said.mow.start_charge}
    for question in questions:
        if question.about in _ASKED and given.get(question.about) is None:
            said = asked(said, question)
    said = asked_for_the_needed(said, questions)
    lawns = described_names(book, "lawn")
    if not said.mow.lawn and lawns:
        said = asked(said, which_one("lawn", lawns, "Another lawn that should fit in too", needed=False))
    return said
