"""The command that adds a mow from meter files."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from estimator.cli.books import asked_book
from estimator.cli.named_files import instant, noted, read_files
from estimator.cli.options import FilesSaid, GrassSaid, Json, LogbookPath, MowSaid, Picture, Why, which
from estimator.cli.output import busy, show
from estimator.errors import InputError


def add(
    files: Annotated[
        list[str],
        typer.Argument(metavar="FILE...", help="The meter's file or parts, or one of each of two meters."),
    ],
    *,
    lawn: Annotated[
        list[str] | None,
        which(
            "lawn", "Which lawn; may be left out if there is only one. Several in turn, with --until between."
        ),
    ] = None,
    until: Annotated[
        list[str] | None,
        typer.Option(
            "--until", help="When the next lawn began: minutes from the start, or the time, such as 12:40."
        ),
    ] = None,
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
    from estimator.answers.keeping.changing import cuts_in, parts_of
    from estimator.answers.keeping.keep import Circumstances, add_mow, look_at_mow
    from estimator.answers.keeping.typed import the_lawn, the_lawns
    from estimator.cli.commands.mows import part_words, split_at
    from estimator.report.words.mow_text import mow_figures_text

    first, *others = lawn or [""]
    if len(others) != len(until or ()):
        raise InputError(
            f"--lawn is given {len(others) + 1} times and --until {len(until or ())} times",
            mend="say when each further lawn began, such as --lawn a --until 12:40 --lawn b, or in minutes",
        )
    said = Circumstances(
        lawn=first, pack=mow.pack, machine=mow.machine, grass=grass.grass(), start_charge=mow.start_charge,
        temperature_c=mow.temperature_c, started=instant(mow.started), tags=tuple(mow.tag or ()),
        **of_files.choices(),
    )  # fmt: skip
    content = read_files(files)
    with asked_book(logbook) as book, busy("reading") as progress:
        said = said if first else replace(said, lawn=the_lawn(book).name)
        looked = look_at_mow(book, content, said) if dry_run or picture or others else None
        mown = the_lawns(book, (said.lawn, *others)) if others else []
        cuts = cuts_in(looked.log, looked.figures.started, until or []) if looked is not None else []
        figures = looked.figures if looked and dry_run else add_mow(book, content, said, progress)
        if others and figures.mow is not None:
            told = f"Now split: {split_at(book, figures.mow, until or [], others, [], progress)}."
        elif others and looked is not None:
            told = f"It would be split: {part_words(parts_of(looked.log, cuts, mown))}."
        if others:
            whole_m2 = sum(each.area_m2 for each in mown)
            figures = replace(
                figures,
                lawn=" and ".join(each.name for each in mown),
                wh_per_m2=figures.wh_per_m2 * mown[0].area_m2 / whole_m2,
            )
    if looked is not None and picture is not None:
        from estimator.report.pictures.log_picture import log_picture
        from estimator.report.pictures.style import write_picture

        write_picture(log_picture(looked.log, looked.examined), picture)
    show(replace(figures, notes=noted(figures.notes)), mow_figures_text, as_json=as_json, why=why, book=book)
    if others and not as_json:
        typer.echo(told)
