"""The command that adds a mow from meter files."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.option_groups import FilesSaid, GrassSaid, MowSaid
from estimator.cli.options import Json, LawnName, LogbookPath, Picture, Why


def add(
    files: Annotated[
        list[str], typer.Argument(metavar="FILE...", help="The meter's file, or two of two meters.")
    ],
    *,
    lawn: LawnName,
    mow: MowSaid,
    grass: GrassSaid,
    of_files: FilesSaid,
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
    from estimator.report.words.mow_text import mow_figures_text

    said = Circumstances(
        lawn=lawn, pack=mow.pack, machine=mow.machine, grass=grass.grass(), start_charge=mow.start_charge,
        temperature_c=mow.temperature_c, started=instant(mow.started), tags=tuple(mow.tag or ()),
        decisions=decisions(
            of_files.decide, of_files.column, of_files.interval, of_files.gap, of_files.sheet
        ),
        meters=tuple(of_files.meter or ()),
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
