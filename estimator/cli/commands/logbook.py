"""Commands that look after the logbook itself."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.asking import changes
from estimator.cli.books import kept_book
from estimator.cli.group import several
from estimator.cli.named_files import read_files
from estimator.cli.options import Json, LogbookPath
from estimator.cli.output import busy, show

app = several("Back up, restore, check, export and import the logbook.")


@app.command("where")
def where(logbook: LogbookPath = None) -> None:
    """Say where the logbook is.

    Example: mowcharge logbook where
    """
    from estimator.logbook import default_place, is_there

    if not is_there(logbook):
        typer.echo(f"{logbook or default_place()} (not there yet)")
        return
    with kept_book(logbook) as book:
        typer.echo(book.where)


@app.command("backup")
@changes("logbook:backup", "copied to {done}", "copying")
def backup(file: Annotated[str, typer.Argument(metavar="FILE", help="The new file to copy to.")]) -> None:
    """Copy the logbook to a new file, even while it is in use.

    Example: mowcharge logbook backup spring.sqlite
    """


@app.command("restore")
def restore(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The backup.")], logbook: LogbookPath = None
) -> None:
    """Put a backup in the logbook's place.

    What was there is kept next to it.

    Example: mowcharge logbook restore spring.sqlite
    """
    from estimator.logbook.upkeep.backup import restore as put_back

    with busy("checking and restoring"):
        before = put_back(file, logbook)
    typer.echo(f"restored from {file}" + (f"; the logbook before it is kept as {before}" if before else ""))


@app.command("check")
def check(logbook: LogbookPath = None, as_json: Json = False) -> None:
    """Read everything, compare every checksum and say what is wrong.

    Example: mowcharge logbook check
    """
    from estimator.logbook.upkeep.checking import check as look_through
    from estimator.report.words.change_text import check_text

    with kept_book(logbook) as book, busy("checking"):
        found = look_through(book)
    show(found, check_text, as_json=as_json)
    if found.problems:
        raise typer.Exit(3)


@app.command("export")
def export(
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="A new or empty folder.")],
    logbook: LogbookPath = None,
) -> None:
    """Write everything to a folder of plain files.

    Tables are CSV, descriptions JSON; the uploaded files are as they were.

    Example: mowcharge logbook export orchard-2024
    """
    from estimator.logbook.upkeep.export import export as write_out
    from estimator.report.words.text import counted

    with kept_book(logbook) as book, busy("exporting") as progress:
        done = write_out(book, folder, progress)
    for note in done.notes:
        typer.echo(f"  - {note}")
    typer.echo(f"{counted(done.mows)} written to {done.folder}")


@app.command("import")
def import_(
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="A folder that `logbook export` wrote.")],
    logbook: LogbookPath = None,
) -> None:
    """Read an exported folder into an empty logbook.

    Example: mowcharge logbook import orchard-2024 --logbook new.sqlite
    """
    from estimator.logbook import open_logbook
    from estimator.logbook.upkeep.export import import_ as read_in
    from estimator.report.words.text import counted

    with open_logbook(logbook) as book, busy("importing"):
        count = read_in(book, folder)
    typer.echo(f"{counted(count)} read from {folder}")


@app.command("salvage")
def salvage(
    damaged: Annotated[str, typer.Argument(metavar="DAMAGED", help="The damaged logbook file.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="A new file for what can still be read.")],
) -> None:
    """Take what can still be read of a damaged logbook into a new one.

    Example: mowcharge logbook salvage damaged.sqlite saved.sqlite
    """
    from estimator.logbook.upkeep.salvage import salvage as take_out
    from estimator.report.words.text import counted

    with busy("salvaging"):
        done = take_out(damaged, new)
    for note in done.notes:
        typer.echo(f"  - {note}")
    typer.echo(f"{counted(done.mows)} with {counted(done.files, 'file')} saved to {new}")


@app.command("repair")
def repair(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The same file that was added before.")],
    logbook: LogbookPath = None,
) -> None:
    """Repair an uploaded file whose kept bytes are damaged.

    `mowcharge logbook check` says which.

    Example: mowcharge logbook repair 2024-04-13a.csv
    """
    from estimator.logbook import mend_bytes

    with kept_book(logbook) as book:
        number = mend_bytes(book, *read_files([file])[0])
    typer.echo(f"mow {number}: its file is whole again")


@app.command("renew")
@changes(
    "answers.figures.pack_chain:renew_figures", "figures of {done} worked out again", "working out figures"
)
def renew() -> None:
    """Work out all kept figures again.

    They are made from the uploaded files, as after an update.

    Example: mowcharge logbook renew
    """


@app.command("purge")
def purge(
    number: Annotated[int, typer.Argument(metavar="MOW", help="A mow that was removed.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    logbook: LogbookPath = None,
) -> None:
    """Delete a removed mow for good, with its files and history.

    Example: mowcharge logbook purge 30 --yes
    """
    from estimator.logbook import mow, purge_mow

    with kept_book(logbook) as book:
        mow(book, number)  # one that is not there is not asked about
        if not yes:
            typer.confirm(f"Delete mow {number} for good?", abort=True)
        purge_mow(book, number)
    typer.echo(f"mow {number}: deleted for good")
