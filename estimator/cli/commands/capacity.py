"""The command that recommends a pack."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import (
    Days,
    Growth,
    Json,
    LawnNames,
    LogbookPath,
    MachineName,
    Moisture,
    PackName,
    Picture,
    Sure,
    Why,
)


def capacity(
    lawns: LawnNames = None,
    sure: Sure = 95.0,
    moisture: Moisture = None,
    growth_mm: Growth = None,
    days: Days = None,
    pack: PackName = None,
    machine: MachineName = None,
    reserve: Annotated[
        float,
        typer.Option("--reserve", min=0, max=90, metavar="PERCENT", help="Charge [%] that shall be left."),
    ] = 10.0,
    coldest_c: Annotated[
        float,
        typer.Option(
            "--coldest",
            min=-40,
            max=70,
            help="Air temperature [°C] on the coldest mowing day; the pack counts as that cold.",
        ),
    ] = 10.0,
    end_capacity: Annotated[
        float,
        typer.Option(
            "--end-capacity", min=10, max=100, metavar="PERCENT", help="Capacity [%] left at end of life."
        ),
    ] = 80.0,
    end_resistance: Annotated[
        float,
        typer.Option(
            "--end-resistance", min=1, metavar="TIMES", help="Resistance at end of life, times new."
        ),
    ] = 1.5,
    size: Annotated[
        list[float] | None,
        typer.Option("--size", metavar="AH", help="A size [Ah] that you can buy; may be given again."),
    ] = None,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """The pack to buy: recommended capacity and its margin, part by part.

    Example: mowcharge capacity "apple rows" "far meadow" --sure 95 --pack "green crate" --moisture damp
    """
    from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.descriptions import Grass
    from estimator.report.words.answer_text import capacity_text

    question = CapacityQuestion(
        lawns=tuple(lawns or ()), grass=Grass(moisture, growth_mm, days), pack=pack, machine=machine,
        sure=sure / 100,
        reserve=reserve / 100, capacity_at_end=end_capacity / 100, resistance_at_end=end_resistance,
        coldest_c=coldest_c, sizes_ah=tuple(size or ()),
    )  # fmt: skip
    with kept_book(logbook) as book, busy("trying packs"):
        answer = capacity_to_buy(book, question)
    if picture is not None:
        from estimator.report.pictures.margin_picture import margin_picture
        from estimator.report.pictures.style import write_picture

        write_picture(margin_picture(answer), picture)
    show(answer, capacity_text, as_json=as_json, why=why)
