"""Commands about the conversion: cable, limits, motor, charging, cost and care."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.asking import asks
from estimator.cli.options import LawnNames, MachineName, PackName, amount


@asks("working it out", "conversion_text:cable_text")
def cable(
    size: Annotated[str, typer.Option("--size", help="Conductor: '6 mm2' or '8 AWG'.")],
    length: Annotated[str, typer.Option("--length", help="Length one way: 1 (m), '3 ft'.")],
    pack: PackName = None,
    limit_a: Annotated[float | None, amount("limit_a")] = None,
    copper_c: Annotated[float, amount("copper_c")] = 40.0,
) -> object:
    """What the feed cable costs in volts, energy and minutes.

    Example: mowcharge cable --size "6 mm2" --length 1 --pack "green crate"
    """
    from estimator.written import length_m

    one_way_m = length_m(length)
    return {"size": size, "one_way_m": one_way_m, "pack": pack, "limit_a": limit_a, "copper_c": copper_c}


@asks("working it out", "conversion_text:limits_text")
def limits(
    pack: PackName = None,
    fuse_a: Annotated[float | None, amount("fuse_a")] = None,
    management_a: Annotated[float | None, amount("management_a")] = None,
    management_s: Annotated[float | None, amount("management_s")] = None,
    controller_a: Annotated[float | None, amount("controller_a")] = None,
    clamp_highest_a: Annotated[float | None, amount("clamp_highest_a")] = None,
) -> None:
    """Measured peaks compared with the fuse and the current limits.

    Example: mowcharge limits --fuse-a 30 --pack "green crate"
    """


@asks("working it out", "conversion_text:motor_text")
def motor(
    machine: MachineName = None,
    rated: Annotated[
        str | None, typer.Option("--rated", help="The motor's rating: 1200 (W), '1.5 kW'; else as described.")
    ] = None,
    engine_hp: Annotated[float | None, amount("engine_hp")] = None,
) -> object:
    """Measured load compared with the motor's rating.

    Example: mowcharge motor --rated 1200 --engine-hp 5
    """
    from estimator.written import power_w

    rated_w = None if rated is None else power_w(rated)
    return {"machine": machine, "rated_w": rated_w, "engine_hp": engine_hp}


@asks("working it out", "conversion_text:charging_text")
def charging(
    lawns: LawnNames = None,
    pack: PackName = None,
    charger_w: Annotated[float | None, amount("charger_w")] = None,
    charger_a: Annotated[float | None, amount("charger_a")] = None,
    used_ah: Annotated[float | None, amount("used_ah")] = None,
    pause_minutes: Annotated[float | None, amount("pause_minutes")] = None,
) -> None:
    """Minutes and energy to refill the pack.

    Example: mowcharge charging "apple rows" --charger-w 240 --pack "green crate" --pause-minutes 30
    """
    from estimator.errors import InputError

    if (charger_w is None) == (charger_a is None):
        raise InputError("the charger is not described", mend="give either --charger-w or --charger-a")


@asks("working it out", "conversion_text:cost_text")
def cost(
    price_per_kwh: Annotated[float, amount("price_per_kwh")],
    lawns: LawnNames = None,
    mows_per_season: Annotated[float | None, amount("mows_per_season")] = None,
    petrol_price_per_l: Annotated[float | None, amount("petrol_price_per_l")] = None,
    petrol_l_per_mow: Annotated[float | None, amount("petrol_l_per_mow")] = None,
    petrol_l_per_hour: Annotated[float | None, amount("petrol_l_per_hour")] = None,
    pack_price: Annotated[float | None, amount("pack_price")] = None,
    cycles: Annotated[float | None, amount("cycles")] = None,
    pack: PackName = None,
) -> None:
    """What mowing costs, compared with petrol.

    Example: mowcharge cost --price-per-kwh 0.30 --mows-per-season 25 --pack "green crate"
    """


@asks("working it out", "conversion_text:care_text")
def care(machine: MachineName = None) -> None:
    """Trends that suggest a look at blades, knives or bearings.

    Example: mowcharge care --machine "cylinder mower"
    """
