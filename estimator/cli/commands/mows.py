"""Commands that list, show, edit, remove and restore mows."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import (
    AirTemperature,
    Days,
    Growth,
    Json,
    LogbookPath,
    Moisture,
    StartCharge,
    lawn_names,
    machine_names,
    pack_names,
)
from estimator.descriptions import TAGS_THAT_COUNT

Number = Annotated[int, typer.Argument(metavar="MOW", help="The mow's number, as `mowcharge mows` lists it.")]


def mows(
    lawn: Annotated[
        str | None, typer.Option("--lawn", autocompletion=lawn_names, help="Only this lawn.")
    ] = None,
    pack: Annotated[
        str | None, typer.Option("--pack", autocompletion=pack_names, help="Only this pack.")
    ] = None,
    season: Annotated[int | None, typer.Option("--season", metavar="YEAR", help="Only this year.")] = None,
    tag: Annotated[str | None, typer.Option("--tag", help="Only mows with this tag.")] = None,
    removed: Annotated[bool, typer.Option("--removed", help="List the removed ones instead.")] = False,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Only those kept aside, on which no answer rests.")
    ] = False,
    logbook: LogbookPath = None,
    as_json: Json = False,
) -> None:
    """List the mows.

    Example: mowcharge mows --lawn "apple rows" --season 2024
    """
    from estimator.answers.mow import mows_listed
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import show
    from estimator.report.words.mow_text import mow_list_text

    with asked_book(logbook) as book:
        found = mows_listed(
            book, lawn=lawn, pack=pack, season=season, tag=tag, removed=removed, doubtful=doubtful or None
        )
    show(found, mow_list_text, as_json=as_json)


def show(number: Number, logbook: LogbookPath = None, as_json: Json = False) -> None:
    """Show one mow with its notes, figures and history.

    Example: mowcharge show 3
    """
    from estimator.answers.mow import story_of_mow
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import show as show_answer
    from estimator.report.words.mow_text import story_text

    with asked_book(logbook) as book:
        story = story_of_mow(book, number)
    show_answer(story, story_text, as_json=as_json)


def edit(
    number: Number,
    lawn: Annotated[
        str | None, typer.Option("--lawn", autocompletion=lawn_names, help="It was this lawn.")
    ] = None,
    pack: Annotated[
        str | None, typer.Option("--pack", autocompletion=pack_names, help="It was this pack.")
    ] = None,
    machine: Annotated[
        str | None, typer.Option("--machine", autocompletion=machine_names, help="It was this machine.")
    ] = None,
    moisture: Moisture = None,
    growth_mm: Growth = None,
    days: Days = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    started: Annotated[str | None, typer.Option("--started", help="When it began.")] = None,
    tag: Annotated[
        list[str] | None,
        typer.Option("--tag", help=f"Its tags, in place of those it has. Some count: {TAGS_THAT_COUNT}."),
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Change what was said about a mow.

    Example: mowcharge edit 30 --moisture dry --growth-mm 20
    """
    from estimator.answers.keeping.changing import edit_mow
    from estimator.cli.named_files import asked_book, instant
    from estimator.cli.output import busy
    from estimator.descriptions import Grass
    from estimator.errors import InputError
    from estimator.logbook import mow as kept_mow
    from estimator.report.words.change_text import field_words

    with asked_book(logbook) as book, busy("refitting") as progress:
        grass = kept_mow(book, number).grass
        new = Grass(
            moisture if moisture is not None else grass.moisture,
            growth_mm if growth_mm is not None else grass.growth_mm,
            days if days is not None else grass.days_since_cut,
        )
        given = {
            "lawn": lawn, "pack": pack, "machine": machine, "temperature_c": temperature_c,
            "started": instant(started),
            "start_charge": start_charge,
            "tags": None if tag is None else tuple(tag),
            "grass": None if new == grass else new,
        }  # fmt: skip
        edits = {name: value for name, value in given.items() if value is not None}
        if not edits:
            raise InputError("nothing to change was said", mend="give an option such as --moisture")
        edit_mow(book, number, progress, **edits)
    typer.echo(
        f"mow {number}: changed {', '.join(map(field_words, edits))}; what it said before is in its history"
    )


def remove(number: Number, logbook: LogbookPath = None) -> None:
    """Take a mow out; it can be restored.

    Example: mowcharge remove 30
    """
    from estimator.answers.keeping.changing import remove_mow
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy

    with asked_book(logbook) as book, busy("refitting") as progress:
        remove_mow(book, number, progress)
    typer.echo(f"mow {number}: removed; bring it back with `mowcharge restore {number}`")


def restore(number: Number, logbook: LogbookPath = None) -> None:
    """Bring a removed mow back.

    Example: mowcharge restore 30
    """
    from estimator.answers.keeping.changing import restore_mow
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy

    with asked_book(logbook) as book, busy("refitting") as progress:
        restore_mow(book, number, progress)
    typer.echo(f"mow {number}: restored")
