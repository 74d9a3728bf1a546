"""Commands about the conversion: cable, limits, motor, charging, cost and care."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import Json, LawnNames, LogbookPath, MachineName, PackName, Why, amount


def cable(
    size: Annotated[str, typer.Option("--size", help="Conductor: '6 mm2' or '8 AWG'.")],
    length: Annotated[str, typer.Option("--length", help="Length one way: 1 (m), '3 ft'.")],
    pack: PackName = None,
    limit_a: Annotated[float | None, amount("limit_a")] = None,
    copper_c: Annotated[float, amount("copper_c")] = 40.0,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """What the feed cable costs in volts, energy and minutes.

    Example: mowcharge cable --size "6 mm2" --length 1 --pack "green crate"
    """
    from estimator.answers.conversion import cable_of_mows
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import cable_text
    from estimator.written import length_m

    with asked_book(logbook) as book, busy("working it out"):
        answer = cable_of_mows(book, size, length_m(length), pack=pack, limit_a=limit_a, copper_c=copper_c)
    show(answer, cable_text, as_json=as_json, why=why, book=book)


def limits(
    pack: PackName = None,
    fuse_a: Annotated[float | None, amount("fuse_a")] = None,
    management_a: Annotated[float | None, amount("management_a")] = None,
    management_s: Annotated[float | None, amount("management_s")] = None,
    controller_a: Annotated[float | None, amount("controller_a")] = None,
    clamp_highest_a: Annotated[float | None, amount("clamp_highest_a")] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Measured peaks compared with the fuse and the current limits.

    Example: mowcharge limits --fuse-a 30 --pack "green crate"
    """
    from estimator.answers.conversion import limits_of_mows
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import limits_text

    with asked_book(logbook) as book, busy("working it out"):
        answer = limits_of_mows(
            book, pack=pack, fuse_a=fuse_a, management_a=management_a, management_s=management_s,
            controller_a=controller_a, clamp_highest_a=clamp_highest_a,
        )  # fmt: skip
    show(answer, limits_text, as_json=as_json, why=why, book=book)


def motor(
    machine: MachineName = None,
    rated: Annotated[
        str | None, typer.Option("--rated", help="The motor's rating: 1200 (W), '1.5 kW'; else as described.")
    ] = None,
    engine: Annotated[float | None, amount("engine_hp")] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Measured load compared with the motor's rating.

    Example: mowcharge motor --rated 1200 --engine-hp 5
    """
    from estimator.answers.conversion import motor_of_mows
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import motor_text
    from estimator.written import power_w

    with asked_book(logbook) as book, busy("working it out"):
        answer = motor_of_mows(
            book, machine=machine, rated_w=None if rated is None else power_w(rated), engine_hp=engine
        )
    show(answer, motor_text, as_json=as_json, why=why, book=book)


def charging(
    lawns: LawnNames = None,
    pack: PackName = None,
    charger_w: Annotated[float | None, amount("charger_w")] = None,
    charger_a: Annotated[float | None, amount("charger_a")] = None,
    used_ah: Annotated[float | None, amount("used_ah")] = None,
    pause_minutes: Annotated[float | None, amount("pause_minutes")] = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Minutes and energy to refill the pack.

    Example: mowcharge charging "apple rows" --charger-w 240 --pack "green crate" --pause-minutes 30
    """
    from estimator.answers.charging_time import charging_after
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.errors import InputError
    from estimator.report.words.conversion_text import charging_text

    if (charger_w is None) == (charger_a is None):
        raise InputError("the charger is not described", mend="give either --charger-w or --charger-a")
    with asked_book(logbook) as book, busy("working it out"):
        answer = charging_after(
            book, tuple(lawns or ()), pack=pack, charger_w=charger_w, charger_a=charger_a,
            pause_minutes=pause_minutes, used_ah=used_ah,
        )  # fmt: skip
    show(answer, charging_text, as_json=as_json, why=why, book=book)


def cost(
    price: Annotated[float, amount("price_per_kwh")],
    lawns: LawnNames = None,
    mows_per_season: Annotated[float | None, amount("mows_per_season")] = None,
    petrol_price: Annotated[float | None, amount("petrol_price_per_l")] = None,
    litres: Annotated[float | None, amount("petrol_l_per_mow")] = None,
    litres_per_hour: Annotated[float | None, amount("petrol_l_per_hour")] = None,
    pack_price: Annotated[float | None, amount("pack_price")] = None,
    cycles: Annotated[float | None, amount("cycles")] = None,
    pack: PackName = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """What mowing costs, compared with petrol.

    Example: mowcharge cost --price-per-kwh 0.30 --mows-per-season 25 --pack "green crate"
    """
    from estimator.answers.charging_time import cost_of_mowing
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import cost_text

    with asked_book(logbook) as book, busy("working it out"):
        answer = cost_of_mowing(
            book, tuple(lawns or ()), price_per_kwh=price, pack=pack, mows_per_season=mows_per_season,
            petrol_price_per_l=petrol_price, petrol_l_per_mow=litres, petrol_l_per_hour=litres_per_hour,
            pack_price=pack_price, cycles=cycles,
        )  # fmt: skip
    show(answer, cost_text, as_json=as_json, why=why, book=book)


def care(
    machine: MachineName = None,
    logbook: LogbookPath = None,
    as_json: Json = False,
    why: Why = False,
) -> None:
    """Trends that suggest a look at blades, knives or bearings.

    Example: mowcharge care --machine "cylinder mower"
    """
    from estimator.answers.conversion import care_of_machine
    from estimator.cli.named_files import asked_book
    from estimator.cli.output import busy, show
    from estimator.report.words.conversion_text import care_text

    with asked_book(logbook) as book, busy("working it out"):
        answer = care_of_machine(book, machine=machine)
    show(answer, care_text, as_json=as_json, why=why, book=book)
