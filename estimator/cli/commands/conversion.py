"""Commands about the conversion: cable, limits, motor, charging, cost and care."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import Json, LawnNames, LogbookPath, MachineName, PackName, Why


def cable(
    size: Annotated[str, typer.Option("--size", help="Conductor: '6 mm2' or '8 AWG'.")],
    length: Annotated[str, typer.Option("--length", help="Length one way: 1 (m), '3 ft'.")],
    pack: PackName = None,
    limit_a: Annotated[
        float | None, typer.Option("--limit", min=0, help="What the cable may carry [A], by its maker.")
    ] = None,
    copper_c: Annotated[float, typer.Option("--copper", help="Temperature of the copper [°C].")] = 40.0,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """What the feed cable costs in volts, energy and minutes.

    Example: mowcharge cable --size "6 mm2" --length 1 --pack "green crate"
    """
    from estimator.answers.conversion import cable_of_mows
    from estimator.answers.keeping.typed import length_m
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import cable_text

    with kept_book(logbook) as book, busy("working it out"):
        answer = cable_of_mows(book, size, length_m(length), pack=pack, limit_a=limit_a, copper_c=copper_c)
    show(answer, cable_text, as_json=as_json, why=why)


def limits(
    pack: PackName = None,
    fuse_a: Annotated[float | None, typer.Option("--fuse", min=0, help="Rating of the fuse [A].")] = None,
    management_a: Annotated[
        float | None,
        typer.Option("--management", min=0, help="Limit of the battery management [A]; else as described."),
    ] = None,
    management_s: Annotated[
        float | None,
        typer.Option(
            "--management-seconds",
            min=0,
            help="Seconds that the management lets its limit last; else its limit is held against 1 s.",
        ),
    ] = None,
    controller_a: Annotated[
        float | None, typer.Option("--controller", min=0, help="Limit of the controller [A].")
    ] = None,
    clamp_highest_a: Annotated[
        float | None, typer.Option("--clamp-max", min=0, help="What the clamp's MAX hold caught [A].")
    ] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Measured peaks beside the fuse and the current limits.

    Example: mowcharge limits --fuse 30 --pack "green crate"
    """
    from estimator.answers.conversion import limits_of_mows
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import limits_text

    with kept_book(logbook) as book, busy("working it out"):
        answer = limits_of_mows(
            book, pack=pack, fuse_a=fuse_a, management_a=management_a, management_s=management_s,
            controller_a=controller_a, clamp_highest_a=clamp_highest_a,
        )  # fmt: skip
    show(answer, limits_text, as_json=as_json, why=why)


def motor(
    machine: MachineName = None,
    rated: Annotated[
        str | None, typer.Option("--rated", help="The motor's rating: 1200 (W), '1.5 kW'; else as described.")
    ] = None,
    engine: Annotated[
        float | None, typer.Option("--engine", min=0, metavar="HP", help="The old engine's horsepower.")
    ] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Measured load beside the motor's rating.

    Example: mowcharge motor --rated 1200 --engine 3.5
    """
    from estimator.answers.conversion import motor_of_mows
    from estimator.answers.keeping.typed import power_w
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import motor_text

    with kept_book(logbook) as book, busy("working it out"):
        answer = motor_of_mows(
            book, machine=machine, rated_w=None if rated is None else power_w(rated), engine_hp=engine
        )
    show(answer, motor_text, as_json=as_json, why=why)


def charging(
    lawns: LawnNames = None,
    pack: PackName = None,
    charger_w: Annotated[
        float | None, typer.Option("--charger-watts", min=0, help="Power of the charger [W].")
    ] = None,
    charger_a: Annotated[
        float | None, typer.Option("--charger-amps", min=0, help="Current of the charger [A].")
    ] = None,
    used_ah: Annotated[
        float | None, typer.Option("--used", min=0, metavar="AH", help="Ah used, instead of lawns.")
    ] = None,
    pause_minutes: Annotated[
        float | None, typer.Option("--pause", min=0, help="Minutes of a break on the charger.")
    ] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Minutes and energy to refill the pack.

    Example: mowcharge charging "apple rows" --charger-watts 240 --pack "green crate" --pause 30
    """
    from estimator.answers.charging_time import charging_after
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.errors import InputError
    from estimator.report.words.conversion_text import charging_text

    if (charger_w is None) == (charger_a is None):
        raise InputError("the charger is not described", mend="give either --charger-watts or --charger-amps")
    with kept_book(logbook) as book, busy("working it out"):
        answer = charging_after(
            book, tuple(lawns or ()), pack=pack, charger_w=charger_w, charger_a=charger_a,
            pause_minutes=pause_minutes, used_ah=used_ah,
        )  # fmt: skip
    show(answer, charging_text, as_json=as_json, why=why)


def cost(
    price: Annotated[float, typer.Option("--price", min=0, help="Price of a kWh.")],
    lawns: LawnNames = None,
    mows_per_season: Annotated[
        float | None, typer.Option("--mows", min=0, help="How often a season these lawns are mown.")
    ] = None,
    petrol_price: Annotated[
        float | None, typer.Option("--petrol", min=0, help="Price of a litre of petrol.")
    ] = None,
    litres: Annotated[float | None, typer.Option("--litres", min=0, help="Litres that a mow took.")] = None,
    litres_per_hour: Annotated[
        float | None, typer.Option("--litres-per-hour", min=0, help="Or litres an hour.")
    ] = None,
    pack_price: Annotated[
        float | None, typer.Option("--pack-price", min=0, help="Price of a new pack, for its wear.")
    ] = None,
    cycles: Annotated[
        float | None,
        typer.Option("--cycles", min=1, help="Full discharges that it lasts; else worked out."),
    ] = None,
    pack: PackName = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """What mowing costs, beside petrol.

    Example: mowcharge cost --price 0.30 --mows 25 --petrol 1.80 --litres 0.8 --pack "green crate"
    """
    from estimator.answers.charging_time import cost_of_mowing
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import cost_text

    with kept_book(logbook) as book, busy("working it out"):
        answer = cost_of_mowing(
            book, tuple(lawns or ()), price_per_kwh=price, pack=pack, mows_per_season=mows_per_season,
            petrol_price_per_l=petrol_price, petrol_l_per_mow=litres, petrol_l_per_hour=litres_per_hour,
            pack_price=pack_price, cycles=cycles,
        )  # fmt: skip
    show(answer, cost_text, as_json=as_json, why=why)


def care(
    machine: MachineName = None,
    cutter: Annotated[str, typer.Option("--cutter", help="reel or rotary.")] = "reel",
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Trends that suggest looking at blades, reel or bearings.

    Example: mowcharge care --machine "cylinder mower"
    """
    from estimator.answers.conversion import care_of_machine
    from estimator.cli.named_files import kept_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import care_text

    with kept_book(logbook) as book, busy("working it out"):
        answer = care_of_machine(book, machine=machine, cutter=cutter)
    show(answer, care_text, as_json=as_json, why=why)
