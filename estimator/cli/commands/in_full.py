"""Commands that write the printable report and show every caution in full."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from estimator.cli.books import asked_book
from estimator.cli.named_files import as_option
from estimator.cli.options import LogbookPath, PackName
from estimator.cli.output import busy, say, width
from estimator.conversion.cautions import TOPICS
from estimator.errors import InputError


def report(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The new .html file.")],
    pack: PackName = None,
    title: Annotated[str, typer.Option("--title", help="Its heading.")] = "Mowing on this pack",
    logbook: LogbookPath = None,
) -> None:
    """Write a printable report of all answers.

    Example: mowcharge report orchard.html --pack "green crate" --title "Orchard, both seasons"
    """

    from estimator.answers.keeping.typed import the_pack
    from estimator.report.printable import printable
    from estimator.report.sections import sections_of

    path = Path(file)
    if path.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"report {path.name}: {path.suffix or 'no ending'!r}", mend="end its name in .html")
    with asked_book(logbook) as book, busy("asking everything"):
        sections = sections_of(book, the_pack(book, pack).name, as_option)
    try:
        path.write_text(printable(title, sections, date.today()), encoding="utf-8")
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror})", file=path, mend="choose another place"
        ) from None
    typer.echo(f"{len(sections)} answers written to {path}")


def cautions() -> None:
    """What to watch out for around blades, cells and wires, in full.

    Answers show a caution in full once; afterwards they name its topic.

    Example: mowcharge cautions
    """
    from estimator.report.words.text import paragraph

    for topic, text in TOPICS.items():
        say(f"{topic[0].upper()}{topic[1:]}", paragraph(text, width(), "! "), "")
