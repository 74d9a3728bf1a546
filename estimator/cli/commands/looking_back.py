"""Commands that look back and ahead: seasons, two groups of mows, the pack's life, earlier answers."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.asking import asks
from estimator.cli.named_files import day
from estimator.cli.options import (
    AirTemperature,
    GrassSaid,
    LawnNames,
    Level,
    MachineName,
    PackName,
    Sure,
    amount,
    which,
)
from estimator.errors import InputError


@asks("comparing", "season_text:seasons_text", draws="season_pictures:seasons_picture")
def seasons(
    pack: PackName = None,
    power_w: Annotated[float | None, amount("power_w")] = None,
    temperature_c: Annotated[float, amount("pack_c")] = 25.0,
) -> None:
    """Seasons compared: discharge curves, capacity, resistance, energy.

    Example: mowcharge seasons --pack "green crate" --picture seasons.svg
    """


@asks("comparing", "season_text:compare_text", draws="season_pictures:compare_picture")
def compare(
    tag: Annotated[
        str | None, typer.Option("--tag", help="Mows with this tag compared with those without.")
    ] = None,
    changed_on: Annotated[
        str | None,
        typer.Option("--changed-on", metavar="DAY", help="Mows from this day on compared with those before."),
    ] = None,
    lawn: Annotated[str | None, which("lawn", "Only this lawn.")] = None,
    machine: Annotated[str | None, which("machine", "Only this machine.")] = None,
    since: Annotated[
        str | None, typer.Option("--since", metavar="DAY", help="Only mows from this day on.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DAY", help="Only mows up to this day.")
    ] = None,
) -> object:
    """Two groups of mows compared, before and after a change.

    Example: mowcharge compare --tag "rear roller off"
    """
    from estimator.answers.looking_back.compare import CompareQuestion

    if (tag is None) == (changed_on is None):
        raise InputError("what to compare is not given", mend="give either --tag or --changed-on")
    return CompareQuestion(
        tag=tag, changed_on=day(changed_on), lawn=lawn, machine=machine, since=day(since), until=day(until)
    )


@asks("looking ahead", "season_text:pack_life_text", draws="season_pictures:pack_life_picture")
def pack_life(
    lawns: LawnNames = None,
    *,
    sure: Sure = 90.0,
    grass: GrassSaid,
    pack: PackName = None,
    temperature_c: AirTemperature = None,
) -> object:
    """The mow at which the pack will no longer finish these lawns.

    Example: mowcharge pack-life "apple rows" --pack "green crate"
    """
    return {
        "lawns": tuple(lawns or ()), "pack": pack, "grass": grass.grass(), "sure": sure,
        "temperature_c": temperature_c,
    }  # fmt: skip


@asks("replaying the mows", "season_text:track_record_text", draws="season_pictures:record_picture")
def track_record(
    machine: MachineName = None,
    level: Level = 90.0,
    last: Annotated[
        int | None, typer.Option("--last", min=1, help="Only this many of the newest mows.")
    ] = None,
) -> None:
    """How well earlier answers held, replayed from the logbook.

    Example: mowcharge track-record --last 20
    """
