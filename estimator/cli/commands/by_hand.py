"""The command that adds a mow from a few readings taken by hand, asked for or given."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.options import (
    AirTemperature,
    Days,
    Growth,
    Json,
    LawnName,
    LogbookPath,
    MachineName,
    Moisture,
    PackName,
    StartCharge,
    Tags,
    Why,
    amount,
)
from estimator.errors import InputError

if TYPE_CHECKING:
    from estimator.importer.log import SpotNotes

_ASKED = (
    ("typical_a", "Amps while cutting as usual"),
    ("idle_a", "Amps with the blades turning free"),
    ("highest_a", "Highest amps seen (MAX hold)"),
    ("minutes", "Minutes of mowing"),
    ("rest_before_v", "Volts at rest before"),
    ("rest_after_v", "Volts at rest after, some minutes later"),
    ("load_v", "Volts while cutting"),
)


def by_hand(
    lawn: LawnName,
    pack: PackName = None,
    machine: MachineName = None,
    typical_a: Annotated[float | None, amount("typical_a")] = None,
    idle_a: Annotated[float | None, amount("idle_a")] = None,
    highest_a: Annotated[float | None, amount("highest_a")] = None,
    mean_a: Annotated[float | None, amount("mean_a")] = None,
    minutes: Annotated[float | None, amount("minutes")] = None,
    rest_before_v: Annotated[float | None, amount("rest_before_v")] = None,
    rest_after_v: Annotated[float | None, amount("rest_after_v")] = None,
    load_v: Annotated[float | None, amount("load_v")] = None,
    gauge_before: Annotated[float | None, amount("gauge_before")] = None,
    gauge_after: Annotated[float | None, amount("gauge_after")] = None,
    moisture: Moisture = None,
    growth_mm: Growth = None,
    days: Days = None,
    start_charge: StartCharge = None,
    temperature_c: AirTemperature = None,
    started: Annotated[
        str | None, typer.Option("--started", help="When it began; today if left out.")
    ] = None,
    tag: Tags = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Look only; keep nothing.")] = False,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Add a mow from a few readings taken by hand; what is not given is asked for on a terminal.

    Example: mowcharge by-hand --lawn "apple rows" --pack "old box" --mean-a 5 --minutes 25 --load-v 40
    """
    from datetime import datetime

    from estimator.answers.keeping.keep import Circumstances, add_mow, look_at_mow, spot_file
    from estimator.cli.named_files import asked_book, instant
    from estimator.cli.output import busy, show, width
    from estimator.conversion.cautions import MEASURING
    from estimator.descriptions import Grass
    from estimator.importer.by_hand.spot_order import check_spot
    from estimator.importer.log import SpotNotes
    from estimator.report.words.mow_text import mow_figures_text
    from estimator.report.words.text import paragraph

    given = {
        "typical_a": typical_a, "idle_a": idle_a, "highest_a": highest_a, "mean_a": mean_a,
        "minutes": minutes,
        "rest_before_v": rest_before_v, "rest_after_v": rest_after_v, "load_v": load_v,
        "gauge_before": gauge_before,
        "gauge_after": gauge_after,
    }  # fmt: skip
    if sys.stdin.isatty() and not as_json and all(value is None for value in given.values()):
        typer.echo(paragraph(MEASURING, width(), "! "))
        typer.echo("Press Enter where there is no reading.")
        given.update({name: _ask(words) for name, words in _ASKED})
    began = instant(started) or datetime.now().replace(second=0, microsecond=0)
    spot = SpotNotes(**given)
    file = spot_file(spot, f"by hand {began:%Y-%m-%d %H%M}.csv")
    said = Circumstances(
        lawn=lawn, pack=pack, machine=machine, grass=Grass(moisture, growth_mm, days),
        start_charge=start_charge, temperature_c=temperature_c,
        started=began, tags=tuple(tag or ()),
    )  # fmt: skip
    with asked_book(logbook) as book, busy("fitting") as progress:
        _refuse_too_little(spot)
        check_spot(spot)
        figures = (
            look_at_mow(book, [file], said).figures if dry_run else add_mow(book, [file], said, progress)
        )
    show(figures, mow_figures_text, as_json=as_json, why=why, book=book)


def _refuse_too_little(spot: SpotNotes) -> None:
    """Say which option is missing: the importer knows a note, not how it was asked for here."""
    from estimator.importer.by_hand.spot_order import has_amps

    if not has_amps(spot):
        raise InputError(
            "no typical amps are given", mend="say --typical-a, or --mean-a, or both --idle-a and --highest-a"
        )
    if spot.minutes is None:
        raise InputError("the minutes of mowing are not given", mend="say --minutes")


def _ask(words: str) -> float | None:
    while True:
        text: str = typer.prompt(words, default="", show_default=False)
        if not text.strip():
            return None
        try:
            return float(text.strip().replace(",", "."))
        except ValueError:
            typer.echo("  a number such as 4.5, or Enter")
