"""The command that adds a mow from a few readings taken by hand, given as options or asked for."""

from __future__ import annotations

import sys
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.options import GrassSaid, HandReadings, Json, LogbookPath, MowSaid, Why, which

if TYPE_CHECKING:
    from estimator.answers.keeping.read_mow import MowFigures
    from estimator.cli.asked_by_hand import Said
    from estimator.logbook import Logbook


def by_hand(
    lawn: Annotated[str | None, which("lawn", "Which lawn; may be left out if there is only one.")] = None,
    *,
    mow: MowSaid,
    readings: HandReadings,
    grass: GrassSaid,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Look only; keep nothing.")] = False,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Add a mow from a few readings taken by hand; what is not given is asked for on a terminal.

    Example: mowcharge by-hand --lawn "apple rows" --pack "old box" --mean-a 5 --minutes 25 --load-v 40
    """
    from estimator.answers.keeping.keep import Circumstances
    from estimator.answers.keeping.typed import the_lawn, the_pack_of_a_mow
    from estimator.cli.asked_by_hand import Said
    from estimator.cli.books import asked_book
    from estimator.cli.named_files import instant
    from estimator.cli.output import show
    from estimator.importer.log import SpotNotes
    from estimator.report.words.mow_text import mow_figures_text

    with asked_book(logbook) as book:
        said = Said(
            Circumstances(
                lawn=lawn or "", pack=mow.pack, machine=mow.machine, grass=grass.grass(),
                start_charge=mow.start_charge, temperature_c=mow.temperature_c,
                started=instant(mow.started), tags=tuple(mow.tag or ()),
            ),
            SpotNotes(**asdict(readings)),
        )  # fmt: skip
        if sys.stdin.isatty() and not as_json and not any(asdict(readings).values()):
            figures = _asked(book, said, dry_run=dry_run)
            if figures is None:
                return
        else:
            said = said.of_mow(lawn=the_lawn(book, lawn).name, pack=the_pack_of_a_mow(book, mow.pack).name)
            figures = _kept(book, said, dry_run=dry_run)
    show(figures, mow_figures_text, as_json=as_json, why=why, book=book)


def _kept(book: Logbook, said: Said, *, dry_run: bool) -> MowFigures:
    from estimator.answers.keeping.keep import add_mow, look_at_mow, spot_file
    from estimator.cli.asked_by_hand import refuse_too_little
    from estimator.cli.output import busy
    from estimator.importer.by_hand.spot_notes import UNNOTED_MINUTES
    from estimator.importer.by_hand.spot_order import check_spot
    from estimator.logbook import mows_begun

    spot = said.spot
    refuse_too_little(spot)
    check_spot(spot)
    now = datetime.now().replace(second=0, microsecond=0)
    began = said.mow.started or now - timedelta(minutes=spot.minutes or UNNOTED_MINUTES)
    file = spot_file(spot, began)
    with busy("fitting") as progress:
        if dry_run:
            return look_at_mow(book, [file], replace(said.mow, started=began)).figures
        others = [] if said.mow.started else mows_begun(book, said.mow.pack or "", began, now)
        figures = add_mow(book, [file], replace(said.mow, started=began), progress)
    doubts = [
        f"Mow {other.id} of this pack began in these minutes too: if this one did not end just now, "
        f"`mowcharge edit {figures.mow} --started` says when it began."
        for other in others[:1]
    ]
    return replace(figures, notes=(*figures.notes, *doubts))


def _asked(book: Logbook, said: Said, *, dry_run: bool) -> MowFigures | None:
    """Ask for everything, show it in one line, and keep it once the user says yes."""
    from estimator.answers.keeping.typed import described_names, the_lawn, the_pack_of_a_mow
    from estimator.cli.asked_by_hand import about_what, asked, asked_for_the_needed, in_one_line, questions_of
    from estimator.cli.named_files import as_option
    from estimator.cli.output import say_cautions, width
    from estimator.conversion.cautions import MEASURING, PROBES
    from estimator.errors import InputError
    from estimator.fitting.by_hand.spot_doubts import spot_doubts
    from estimator.report.words.text import paragraph

    given = {"machine": said.mow.machine,
             "began": said.mow.started, "charge": said.mow.start_charge, "grass": said.mow.grass.moisture,
             "height": said.mow.grass.growth_mm or said.mow.grass.days_since_cut}  # fmt: skip
    try:
        say_cautions(book, (MEASURING, PROBES))
        if said.mow.lawn or len(described_names(book, "lawn")) < 2:
            said = said.of_mow(lawn=the_lawn(book, said.mow.lawn or None).name)
            typer.echo(f"Lawn: {said.mow.lawn}")
        if said.mow.pack or len(described_names(book, "pack")) < 2:
            said = said.of_mow(pack=the_pack_of_a_mow(book, said.mow.pack).name)
            typer.echo(f"Pack: {said.mow.pack}")
        typer.echo("Press Enter where you do not know.")
        questions = questions_of(book)
        given |= {"lawn": said.mow.lawn, "pack": said.mow.pack}
        for question in questions:
            if given.get(question.about) in (None, ""):
                said = asked(said, question)
        while True:
            said = asked_for_the_needed(said, questions)
            for doubt in spot_doubts(said.spot, the_pack_of_a_mow(book, said.mow.pack)):
                typer.echo(paragraph(doubt, width(), "  "))
            wanted = "look at it" if dry_run else "keep it"
            answer = typer.prompt(
                f"{in_one_line(said)}: {wanted}? [Y/n, or what to change, such as minutes]",
                default="y", show_default=False,
            ).strip()  # fmt: skip
            if answer.casefold() in ("n", "no"):
                typer.echo("Nothing was kept.")
                return None
            if answer.casefold() not in ("y", "yes"):
                again = about_what(answer, questions)
                if again is None:
                    typer.echo(f"  answer y, n, or one of {', '.join(each.about for each in questions)}")
                else:
                    said = asked(said, again)
                continue
            try:
                return _kept(book, said, dry_run=dry_run)
            except InputError as error:
                typer.echo(f"  {error.said(as_option)}")
    except (typer.Abort, KeyboardInterrupt):
        typer.echo("\nNothing was kept.")
        raise
