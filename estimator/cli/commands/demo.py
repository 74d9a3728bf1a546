"""The demonstration: a throw-away logbook of invented mows, and every command asks its question."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from estimator.cli.named_files import as_option
from estimator.cli.output import busy, strong
from estimator.errors import InputError

PACK = ("--pack", "green crate")
DAMP = ("--moisture", "damp", "--growth-mm", "28")
HELD_BACK = 32
"""The mow of the diary that is not in the logbook yet when its minutes left are asked for."""
SO_FAR = "2025-09-27a.csv"
QUESTIONS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("How many lawns does a full charge finish today, in damp grass?", ("plan", *DAMP, *PACK), "lawns"),
    ("Which pack finishes all lawns on one charge?", ("capacity", *DAMP, *PACK), "capacity"),
    ("What changed from season to season?", ("seasons", *PACK), "seasons"),
    ("What did taking the rear roller off change?", ("compare", "--tag", "rear roller off"), "rear-roller"),
    ("How long will the pack still finish the far meadow?", ("pack-life", "far meadow", *PACK), "pack-life"),
    ("How well did earlier answers hold?", ("track-record",), "track-record"),
    ("What is lost in a metre of 6 mm² feed cable?",
     ("cable", "--size", "6 mm2", "--length", "1", *PACK), ""),
    ("How close do the peaks come to a 30 A fuse and the pack's limit?",
     ("limits", "--fuse-a", "30", *PACK), ""),
    ("Is the motor the right size?", ("motor", "--engine-hp", "5"), ""),
    ("How long does a 240 W charger take after the apple rows?",
     ("charging", "apple rows", "--charger-w", "240", "--pause-minutes", "30", *PACK), ""),
    ("What does it cost to mow all lawns 25 times a season, compared with petrol?",
     ("cost", "--price-per-kwh", "0.30", "--mows-per-season", "25", "--petrol-price-per-l", "1.80",
      "--petrol-l-per-mow", "1.5", *PACK), ""),
    ("Should somebody look at the blades?", ("care",), ""),
)  # fmt: skip
"""Each question, the command that asks it, and the name of its picture."""


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

    from estimator.answers.keeping.samples import fill_from_samples, samples_folder
    from estimator.cli.group import build
    from estimator.importer.read import read_log
    from estimator.logbook import open_logbook

    place = Path(folder) if folder else Path(tempfile.mkdtemp(prefix="mowcharge-demo-"))
    book_file = place / "demo-logbook.sqlite"
    if book_file.exists():
        raise InputError(f"{book_file} is there already", mend="name another folder")
    place.mkdir(parents=True, exist_ok=True)
    samples, commands, drawn = samples_folder(), build(), []

    def ask(question: str, words: tuple[str, ...], picture: str) -> None:
        typer.echo(strong(question))
        more = ["--logbook", str(book_file)]
        if picture:
            drawn.append(f"{picture}.png")
            more += ["--picture", str(place / drawn[-1])]
        commands.main([*words, *more], prog_name="mowcharge", standalone_mode=False)
        typer.echo(f"Asked with: mowcharge {shlex.join(words)}\n")

    typer.echo("All names and readings of this demonstration are invented.")
    with open_logbook(book_file) as book, busy("adding mows") as progress:
        count = fill_from_samples(book, samples, progress, until=HELD_BACK)
    typer.echo(f"{count} mows of an orchard's three lawns, two packs, two seasons.\n")
    lines = (samples / SO_FAR).read_bytes().splitlines(keepends=True)
    half = place / "half-way.csv"
    half.write_bytes(b"".join(lines[: len(lines) // 2]))
    minutes = ("minutes", str(half), "--temperature-c", "11", *PACK)
    ask("Half way through a mow: how many minutes are left?", minutes, "minutes")
    whole_s, half_s = (float(read_log(log).arrays["time_s"][-1]) for log in (samples / SO_FAR, half))
    typer.echo(f"The mow ran on for {(whole_s - half_s) / 60:.0f} minutes; then the pack was empty.\n")
    with open_logbook(book_file) as book:
        fill_from_samples(book, samples, first=HELD_BACK)
    for each in QUESTIONS:
        ask(*each)
    typer.echo(strong("And a file that cannot be right?"))
    broken = ("add", str(samples / "broken" / "time_goes_back.csv"), "--lawn", "apple rows", *PACK)
    try:
        commands.main([*broken, "--dry-run", "--logbook", str(book_file)], standalone_mode=False)
    except InputError as error:
        typer.echo(f"It is refused in one line: {error.said(as_option)}")
    typer.echo("\n".join([f"\nFigures and logbook are in {place}:", *(f"  {name}" for name in drawn)]))
    typer.echo(f'Ask more with: mowcharge mows --logbook "{book_file}"')
