"""Commands that answer before mowing: lawns per charge, which pack to buy, how to judge the grass."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.asking import asks
from estimator.cli.named_files import notes_of, read_files
from estimator.cli.options import (
    AirTemperature,
    FilesSaid,
    GrassSaid,
    LawnNames,
    MachineName,
    PackName,
    ReadingsSoFar,
    Reserve,
    StartCharge,
    Sure,
    amount,
    which,
)


@asks("trying many days", "answer_text:plan_text", draws="answer_pictures:plan_picture")
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
    spare: Annotated[str | None, which("pack", "A second full pack that takes over.", flag="--spare")] = None,
    pause_minutes: Annotated[float | None, amount("pause_minutes")] = None,
    pause_after: Annotated[
        int, typer.Option("--pause-after", min=1, help="How many lawns to mow before the break.")
    ] = 1,
    charger_w: Annotated[float, amount("charger_w")] = 200.0,
    so_far: Annotated[
        list[str] | None,
        typer.Option(
            "--so-far",
            metavar="FILE",
            help="The log of what was mown on this charge already; the lawns named should still follow. "
            "Readings by hand do as well.",
        ),
    ] = None,
    readings: ReadingsSoFar,
    files_said: FilesSaid,
) -> object:
    """Lawns per charge: how many of today's lawns finish, with the odds.

    Example: mowcharge plan "chapel strip" "apple rows" --moisture damp --pack "green crate"
    """
    from estimator.answers.plan import MownSoFar, PlanQuestion
    from estimator.predictor.lawns.day import ChargingPause

    mown, notes = None, notes_of(readings, so_far)
    if so_far or notes:
        mown = MownSoFar(read_files(so_far or ()), notes, **files_said.choices())
    return PlanQuestion(
        lawns=tuple(lawns or ()), grass=grass.grass(), pack=pack, machine=machine, sure=sure,
        start_charge=start_charge, temperature_c=temperature_c, reserve=reserve,
        order="best" if best_order else "given", aim="area" if by_area else "lawns", spare=spare,
        pause=None if pause_minutes is None else ChargingPause(pause_after, pause_minutes, charger_w),
        so_far=mown,
    )  # fmt: skip


@asks("trying packs", "answer_text:capacity_text", draws="answer_pictures:margin_picture")
def capacity(
    lawns: LawnNames = None,
    *,
    sure: Sure = 95.0,
    grass: GrassSaid,
    pack: PackName = None,
    machine: MachineName = None,
    reserve: Reserve = 10.0,
    coldest_c: Annotated[float | None, amount("coldest_c")] = None,
    capacity_at_end: Annotated[float, amount("capacity_at_end")] = 80.0,
    resistance_at_end: Annotated[float | None, amount("resistance_at_end")] = None,
    size: Annotated[list[float] | None, amount("size_ah")] = None,
) -> object:
    """The pack to buy: recommended capacity and its margin, part by part.

    Example: mowcharge capacity "apple rows" "far meadow" --sure 95 --pack "green crate" --moisture damp
    """
    from estimator.answers.capacity import CapacityQuestion

    return CapacityQuestion(
        lawns=tuple(lawns or ()), grass=grass.grass(), pack=pack, machine=machine, sure=sure,
        reserve=reserve, capacity_at_end=capacity_at_end, resistance_at_end=resistance_at_end,
        coldest_c=coldest_c, sizes_ah=tuple(size or ()),
    )  # fmt: skip


@asks("looking at the mows", "described_text:grass_text")
def grass(machine: MachineName = None) -> None:
    """How to judge the grass, and how much energy each kind takes.

    Example: mowcharge grass
    """
