"""The command that adds a mow from meter files."""

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
    LawnName,
    LogbookPath,
    MachineName,
    Moisture,
    PackName,
    Picture,
    Sheet,
    StartCharge,
    Tags,
    Why,
    meter_names,
)


def add(
    files: Annotated[
        list[str], typer.Argument(metavar="FILE...", help="The meter's file, or two of two meters.")
    ],
    lawn: LawnName,
    pack: PackName = None,
    machine: MachineName = None,
    moisture: Moisture = None,
    growth_mm: Growth = None,
    days: Days = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    started: Annotated[
        str | None, typer.Option("--started", help="When it began, if the files do not say.")
    ] = None,
    tag: Tags = None,
    meter: Annotated[
        list[str] | None,
        typer.Option(
            "--meter",
            autocompletion=meter_names,
            help="Which meter the files come from; for two, give it twice.",
        ),
    ] = None,
    decide: Decide = None,
    column: Column = None,
    interval: Interval = None,
    gap: Gap = None,
    sheet: Sheet = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Look only; keep nothing.")] = False,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Add a mow from meter files, or try it without keeping it.

    Example: mowcharge add 2024-05-04a.csv --lawn "apple rows" --pack "green crate" --moisture wet --dry-run
    """
    from estimator.answers.keeping.keep import Circumstances, add_mow, look_at_mow
    from estimator.cli.named_files import asked_book, decisions, instant, read_files
    from estimator.cli.output import busy, show
    from estimator.descriptions import Grass
    from estimator.report.words.mow_text import mow_figures_text

    said = Circumstances(
        lawn=lawn, pack=pack, machine=machine, grass=Grass(moisture, growth_mm, days),
        start_charge=start_charge, temperature_c=temperature_c,
        started=instant(started), tags=tuple(tag or ()),
        decisions=decisions(decide, column, interval, gap, sheet),
        meters=tuple(meter or ()),
    )  # fmt: skip
    content = read_files(files)
    with asked_book(logbook) as book, busy("reading") as progress:
        looked = look_at_mow(book, content, said) if dry_run or picture else None
        figures = looked.figures if looked and dry_run else add_mow(book, content, said, progress)
    if looked is not None and picture is not None:
        from estimator.report.pictures.log_picture import log_picture
        from estimator.report.pictures.style import write_picture

        write_picture(log_picture(looked.log, looked.examined), picture)
    show(figures, mow_figures_text, as_json=as_json, why=why, book=book)
