"""The command that says how many lawns a charge finishes."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.option_groups import GrassSaid
from estimator.cli.options import (
    AirTemperature,
    Json,
    LawnNames,
    LogbookPath,
    MachineName,
    PackName,
    Picture,
    Reserve,
    StartCharge,
    Sure,
    Why,
    amount,
    pack_names,
)


def plan(
    lawns: LawnNames = None,
    *,
    grass: GrassSaid,
    pack: PackName = None,
    machine: MachineName = None,
    sure: Sure = 95.0,
    start_charge: StartCharge = None,
    reserve: Reserve = 0.0,
    temperature_c: AirTemperature = None,
    best_order: Annotated[
        bool, typer.Option("--best-order", help="Choose the order that finishes the most.")
    ] = False,
    by_area: Annotated[
        bool, typer.Option("--by-area", help="With --best-order: most area, not most lawns.")
    ] = False,
    spare: Annotated[
        str | None,
        typer.Option("--spare", autocompletion=pack_names, help="A second full pack that takes over."),
    ] = None,
    pause_minutes: Annotated[float | None, amount("pause_minutes")] = None,
    pause_after: Annotated[
        int, typer.Option("--pause-after", min=1, help="How many lawns to mow before the break.")
    ] = 1,
    charger_w: Annotated[float, amount("charger_w")] = 200.0,
    picture: Picture = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Lawns per charge: how many of today's lawns finish, with the odds.

    Example: mowcharge plan "chapel strip" "apple rows" --moisture damp --pack "green crate"
    """
    from estimator.answers.plan import Pause, PlanQuestion, plan_of_day
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.answer_text import plan_text

    question = PlanQuestion(
        lawns=tuple(lawns or ()), grass=grass.grass(), pack=pack, machine=machine,
        sure=sure, start_charge=start_charge,
        temperature_c=temperature_c, reserve=reserve, order="best" if best_order else "given",
        aim="area" if by_area else "lawns", spare=spare,
        pause=None if pause_minutes is None else Pause(pause_after, pause_minutes, charger_w),
    )  # fmt: skip
    with asked_book(logbook) as book, busy("trying many days"):
        answer = plan_of_day(book, question)
    if picture is not None:
        from estimator.report.pictures.plan_picture import plan_picture
        from estimator.report.pictures.style import write_picture

        write_picture(plan_picture(answer), picture)
    show(answer, plan_text, as_json=as_json, why=why, book=book)
