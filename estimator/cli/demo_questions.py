"""The questions of the demonstration, printed and drawn."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from estimator.answers import charging_time as charging
from estimator.answers import conversion
from estimator.answers.capacity import CapacityQuestion, capacity_to_buy
from estimator.answers.keeping.keep import Circumstances, look_at_mow
from estimator.answers.looking_back.compare import CompareQuestion, groups_compared
from estimator.answers.looking_back.pack_life import pack_life
from estimator.answers.looking_back.seasons import seasons_compared
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.cli.named_files import as_option
from estimator.cli.output import strong, width
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.importer.read import read_log
from estimator.logbook import Logbook
from estimator.report.pictures.answer_pictures import margin_picture, minutes_picture, plan_picture
from estimator.report.pictures.season_pictures import (
    compare_picture,
    pack_life_picture,
    record_picture,
    seasons_picture,
)
from estimator.report.pictures.style import write_picture
from estimator.report.words import answer_text, conversion_text, season_text
from estimator.report.words.text import paragraph

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PACK = "green crate"
HELD_BACK = 32
"""The diary's mow that the logbook does not know yet when its minutes left are asked for."""
SO_FAR = "2025-09-27a.csv"
DAMP = Grass(moisture="damp", growth_mm=28)


def ask_half_way(logbook: Logbook, samples: Path, teller: Teller) -> None:
    """Ask for the minutes left half way through a mow that ended on an empty pack, then say what came."""
    whole = samples / SO_FAR
    minutes = minutes_of_files(
        logbook, MinutesQuestion(files=(first_half(whole),), pack=PACK, temperature_c=11.0)
    )
    teller.tell("Half way through a mow: how many minutes are left?", answer_text.minutes_text, minutes)
    log = read_log(whole)
    ran_on = float(log.readings["time_s"].iloc[-1]) / 60 - minutes.measured_minutes
    typer.echo(f"The mow ran on for {ran_on:.0f} minutes; then the pack was empty.\n")
    teller.draw("minutes", minutes_picture(minutes))


def ask_everything(logbook: Logbook, samples: Path, teller: Teller) -> None:
    """Ask everything else, print and draw."""
    asked: tuple[tuple[Any, ...], ...] = (
        ("lawns", "How many lawns does a full charge finish today, in damp grass?",
         lambda: plan_of_day(logbook, PlanQuestion(grass=DAMP, pack=PACK)),
         answer_text.plan_text, plan_picture),
        ("capacity", "Which pack finishes all lawns on one charge?",
         lambda: capacity_to_buy(logbook, CapacityQuestion(grass=DAMP, pack=PACK)),
         answer_text.capacity_text, margin_picture),
        ("seasons", "What changed from season to season?", lambda: seasons_compared(logbook, PACK),
         season_text.seasons_text, seasons_picture),
        ("rear-roller", "What did taking the rear roller off change?",
         lambda: groups_compared(logbook, CompareQuestion(tag="rear roller off")),
         season_text.compare_text, compare_picture),
        ("pack-life", "How long will the pack still finish the far meadow?",
         lambda: pack_life(logbook, ("far meadow",), pack=PACK),
         season_text.pack_life_text, pack_life_picture),
        ("track-record", "How well did earlier answers hold?", lambda: record_so_far(logbook),
         season_text.track_record_text, record_picture),
    )  # fmt: skip
    for name, question, ask, text, draw in asked:
        answer = ask()
        teller.tell(question, text, answer)
        teller.draw(name, draw(answer))
    for question, text, answer in conversion_answers(logbook):
        teller.tell(question, text, answer)
    broken = samples / "broken" / "time_goes_back.csv"
    typer.echo(strong("And a file that cannot be right?"))
    try:
        look_at_mow(
            logbook, [(broken.name, broken.read_bytes())], Circumstances(lawn="apple rows", pack=PACK)
        )
    except InputError as error:
        typer.echo(f"It is refused in one line: {error.said(as_option)}")


class Teller:
    """Prints answers, each caution once, and writes figures."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.drawn: list[str] = []
        self.said: set[str] = set()

    def tell(self, question: str, text: Callable[[Any, int], str], answer: Any) -> None:
        """Print a question, its answer, and the cautions that were not said yet."""
        typer.echo(strong(question))
        typer.echo(text(answer, width()))
        new = [caution for caution in answer.why.cautions if caution not in self.said]
        self.said.update(new)
        for caution in new:
            typer.echo(paragraph(caution, width(), "! "))
        typer.echo("")

    def draw(self, name: str, figure: Figure) -> None:
        """Write a figure as .png and .svg."""
        files = [write_picture(figure, self.folder / f"{name}.{kind}") for kind in ("png", "svg")]
        self.drawn.extend(file.name for file in files)


def conversion_answers(logbook: Logbook) -> tuple[tuple[str, Callable[[Any, int], str], Any], ...]:
    """The questions about the conversion with their answers."""
    cost = charging.cost_of_mowing(
        logbook,
        price_per_kwh=0.30,
        pack=PACK,
        mows_per_season=25,
        petrol_price_per_l=1.80,
        petrol_l_per_mow=1.5,
    )
    return (
        ("What is lost in a metre of 6 mm² feed cable?", conversion_text.cable_text,
         conversion.cable_of_mows(logbook, "6 mm2", 1.0, pack=PACK)),
        ("How close do the peaks come to a 30 A fuse and the pack's limit?", conversion_text.limits_text,
         conversion.limits_of_mows(logbook, pack=PACK, fuse_a=30.0)),
        ("Is the motor the right size?", conversion_text.motor_text,
         conversion.motor_of_mows(logbook, engine_hp=5.0)),
        ("How long does a 240 W charger take after the apple rows?", conversion_text.charging_text,
         charging.charging_after(logbook, ["apple rows"], pack=PACK, charger_w=240.0, pause_minutes=30.0)),
        ("What does it cost to mow all lawns 25 times a season, compared with petrol?",
         conversion_text.cost_text, cost),
        ("Should somebody look at the blades?", conversion_text.care_text,
         conversion.care_of_machine(logbook)),
    )  # fmt: skip


def first_half(path: Path) -> tuple[str, bytes]:
    """The first half of a log's lines, as if the mow were still going on."""
    lines = path.read_bytes().splitlines(keepends=True)
    return path.name, b"".join(lines[: len(lines) // 2])
