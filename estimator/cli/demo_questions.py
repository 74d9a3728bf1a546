"""The questions of the demonstration, one after the other, printed and drawn."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from estimator.answers import conversion
from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.keeping import Circumstances, look_at_mow
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.cli.output import strong, width
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.report import answer_text, conversion_text
from estimator.report.margin_picture import margin_picture
from estimator.report.minutes_picture import minutes_picture
from estimator.report.plan_picture import plan_picture
from estimator.report.style import write_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PACK = "green crate"
SO_FAR = "2025-10-11a.csv"
DAMP = Grass(moisture="damp", growth_mm=28)


def ask_everything(logbook: Logbook, samples: Path, folder: Path) -> tuple[str, ...]:
    """Ask, print and draw; returns the names of the figures written."""
    drawn: list[str] = []

    def draw(name: str, figure: Figure) -> None:
        drawn.extend(write_picture(figure, folder / f"{name}.{kind}").name for kind in ("png", "svg"))

    half = first_half(samples / SO_FAR)
    minutes = minutes_of_files(logbook, MinutesQuestion(files=(half,), pack=PACK, start_charge=1.0))
    _tell("How many minutes are left, half way through the last mow?", answer_text.minutes_text, minutes)
    draw("minutes", minutes_picture(minutes))

    plan = plan_of_day(logbook, PlanQuestion(grass=DAMP, pack=PACK))
    _tell("How many lawns does a full charge finish today, in damp grass?", answer_text.plan_text, plan)
    draw("lawns", plan_picture(plan))

    capacity = capacity_to_buy(logbook, CapacityQuestion(grass=DAMP, pack=PACK))
    _tell("Which pack finishes all lawns in one charge?", answer_text.capacity_text, capacity)
    draw("capacity", margin_picture(capacity))

    for question, text, answer in conversion_answers(logbook):
        _tell(question, text, answer)
    _refuse(logbook, samples / "broken" / "time_goes_back.csv")
    return tuple(drawn)


def conversion_answers(logbook: Logbook) -> tuple[tuple[str, Callable[[Any, int], str], Any], ...]:
    """The questions about the conversion with their answers."""
    return (
        (
            "What does a metre of 10 AWG feed cable cost?",
            conversion_text.cable_text,
            conversion.cable_of_mows(logbook, "10 AWG", 1.0, pack=PACK),
        ),
        (
            "How close do the peaks come to a 30 A fuse and the pack's limit?",
            conversion_text.limits_text,
            conversion.limits_of_mows(logbook, pack=PACK, fuse_a=30.0),
        ),
        (
            "Is the motor the right size?",
            conversion_text.motor_text,
            conversion.motor_of_mows(logbook, engine_hp=3.5),
        ),
        (
            "How long does a 240 W charger take after the apple rows?",
            conversion_text.charging_text,
            conversion.charging_after(
                logbook, ["apple rows"], pack=PACK, charger_w=240.0, pause_minutes=30.0
            ),
        ),
        (
            "What does a season of 25 rounds cost, beside petrol?",
            conversion_text.cost_text,
            conversion.cost_of_mowing(
                logbook,
                price_per_kwh=0.30,
                pack=PACK,
                mows_per_season=25,
                petrol_price_per_l=1.80,
                petrol_l_per_mow=1.5,
            ),
        ),
        (
            "Should somebody look at the blades?",
            conversion_text.care_text,
            conversion.care_of_machine(logbook),
        ),
    )


def first_half(path: Path) -> tuple[str, bytes]:
    """The first half of a log's lines, as if the mow were still going on."""
    lines = path.read_bytes().splitlines(keepends=True)
    return path.name, b"".join(lines[: len(lines) // 2])


def _tell(question: str, text: Callable[[Any, int], str], answer: Any) -> None:
    from estimator.report.text import cautions

    typer.echo(strong(question))
    typer.echo(text(answer, width()))
    if answer.why.cautions:
        typer.echo(cautions(answer.why, width()))
    typer.echo("")


def _refuse(logbook: Logbook, broken: Path) -> None:
    typer.echo(strong("And a file that cannot be right?"))
    try:
        look_at_mow(
            logbook, [(broken.name, broken.read_bytes())], Circumstances(lawn="apple rows", pack=PACK)
        )
    except InputError as error:
        typer.echo(f"It is refused in one line: {error}")
