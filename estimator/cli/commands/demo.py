"""The demonstration: a throw-away logbook of invented mows, every question asked of it."""

from __future__ import annotations

from typing import Annotated

import typer


def demo(
    folder: Annotated[
        str | None,
        typer.Option("--folder", metavar="DIR", help="Where logbook and figures go; else a new folder."),
    ] = None,
) -> None:
    """Fill a throw-away logbook with invented mows and answer everything.

    Example: mowcharge demo --folder demo
    """
    import tempfile
    from pathlib import Path

    from estimator.answers.keeping.samples import fill_from_samples, samples_folder
    from estimator.cli.demo_questions import HELD_BACK, Teller, ask_everything, ask_half_way
    from estimator.cli.output import busy
    from estimator.errors import InputError
    from estimator.logbook import open_logbook

    place = Path(folder) if folder else Path(tempfile.mkdtemp(prefix="mowcharge-demo-"))
    book_file = place / "demo-logbook.sqlite"
    if book_file.exists():
        raise InputError(f"{book_file} is there already", mend="name another folder")
    place.mkdir(parents=True, exist_ok=True)
    samples = samples_folder()
    typer.echo("All names and readings of this demonstration are invented.")
    with open_logbook(book_file) as book:
        with busy("adding mows") as progress:
            count = fill_from_samples(book, samples, progress, until=HELD_BACK)
        typer.echo(f"{count} mows of an orchard's three lawns, two packs, two seasons.\n")
        teller = Teller(place)
        ask_half_way(book, samples, teller)
        fill_from_samples(book, samples, first=HELD_BACK)
        ask_everything(book, samples, teller)
    typer.echo(f"\nFigures and logbook are in {place}:")
    for name in teller.drawn:
        typer.echo(f"  {name}")
    typer.echo(f'Ask more with: mowcharge mows --logbook "{book_file}"')
