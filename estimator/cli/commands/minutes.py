"""The command that says the minutes left."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import (
    AirTemperature,
    Column,
    Days,
    Decide,
    Gap,
    Growth,
    Interval,
    Json,
    Level,
    LogbookPath,
    Moisture,
    PackName,
    Picture,
    Sheet,
    StartCharge,
    Why,
    lawn_names,
    meter_names,
)


def minutes(
    files: Annotated[
        list[str], typer.Argument(metavar="FILE...", help="The log so far, or two of two meters.")
    ],
    pack: PackName = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    lawn: Annotated[
        str | None, typer.Option("--lawn", autocompletion=lawn_names, help="Go on as on this lawn usually.")
    ] = None,
    one_more: Annotated[
        bool, typer.Option("--one-more", help="Also the chance of one more lawn, for each described.")
    ] = False,
    moisture: Moisture = None,
    growth_mm: Growth = None,
    days: Days = None,
    level: Level = 90.0,
    decide: Decide = None,
    column: Column = None,
    interval: Interval = None,
    gap: Gap = None,
    sheet: Sheet = None,
    meter: Annotated[
        list[str] | None,
        typer.Option("--meter", autocompletion=meter_names, help="Which meter the files come from."),
    ] = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Minutes left, from a log so far.

    Example: mowcharge minutes 2025-05-17a.csv --pack "green crate" --start-charge 100
    """
    from estimator.answers.minutes import MinutesQuestion, minutes_of_files
    from estimator.cli.named_files import asked_book, decisions, read_files
    from estimator.cli.output import busy, show
    from estimator.descriptions import Grass
    from estimator.report.words.answer_text import minutes_text

    question = MinutesQuestion(
        files=read_files(files), pack=pack, start_charge=start_charge,
        temperature_c=temperature_c, lawn=lawn, level=level,
        decisions=decisions(decide, column, interval, gap, sheet),
        one_more=one_more, grass=Grass(moisture, growth_mm, days),
        meters=tuple(meter or ()),
    )  # fmt: skip
    with asked_book(logbook) as book, busy("working it out"):
        answer = minutes_of_files(book, question)
    if picture is not None:
        from estimator.report.pictures.minutes_picture import minutes_picture
        from estimator.report.pictures.style import write_picture

        write_picture(minutes_picture(answer), picture)
    show(answer, minutes_text, as_json=as_json, why=why, book=book)
