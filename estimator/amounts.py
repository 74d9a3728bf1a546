"""One word for one thing: name, words, unit and range of every amount that a person can give.

Library, command line, page and interface take names, ranges and refusals from `AMOUNTS`. A *share* is 0..1 in
the library and in JSON, and a percentage on the command line and on the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from estimator.errors import InputError, OutOfRange


@dataclass(frozen=True)
class Amount:
    """What an amount is called and how large it can be.

    words : what people call it; unit : "" for counts and shares; low, high : smallest and largest value,
    both included; share : whether it is a part of a whole; help : a sentence about it, without unit or
    range; also : a second way to write its option
    """

    words: str
    unit: str
    low: float
    high: float
    help: str = ""
    share: bool = False
    also: str = ""


def _share(words: str, low: float, high: float, help: str) -> Amount:
    return Amount(words, "", low, high, help, share=True)


AMOUNTS = {
    # the mow and the day
    "start_charge": _share("start charge", 0.0, 1.0, "charge at the start; 100 % straight from the charger"),
    "temperature_c": Amount("temperature", "°C", -40.0, 70.0,
        "air temperature; taken for the pack too where the log has none of its own"),
    "growth_mm": Amount("growth", "mm", 0.0, 5000.0, "height that the cut takes off"),
    "days_since_cut": Amount(
        "days since the last cut", "", 0.0, 5000.0, "days since the last cut, if the height is unknown"
    ),
    # the files of a meter
    "interval_s": Amount(
        "time between two rows", "s", 0.001, 86_400.0, "time between rows, where the files have no clock"
    ),
    "gap_s": Amount("longest step", "s", 0.001, 86_400.0, "the longest step that still counts as measured"),
    # hand readings
    "idle_a": Amount("idle current", "A", 0.0, 1e4, "current with the blades turning free", also="--idle"),
    "typical_a": Amount("typical current", "A", 0.0, 1e4, "current while cutting as usual", also="--typical"),
    "highest_a": Amount("highest current", "A", 0.0, 1e4, "highest current (MAX hold)", also="--highest"),
    "mean_a": Amount(
        "mean current", "A", 0.0, 1e4, "mean current, if the meter shows it (AVG)", also="--mean"
    ),
    "load_v": Amount("voltage while mowing", "V", 0.0, 1e4, "volts while cutting", also="--load-volts"),
    "rest_before_v": Amount(
        "voltage at rest before", "V", 0.0, 1e4, "volts at rest before mowing", also="--rest-before"
    ),
    "rest_after_v": Amount(
        "voltage at rest after", "V", 0.0, 1e4, "volts at rest some minutes after mowing", also="--rest-after"
    ),
    "minutes": Amount("minutes of mowing", "min", 0.0, 1e4, "minutes of mowing, by the watch"),
    "gauge_before": _share("charge gauge before", 0.0, 1.0, "charge gauge before mowing"),
    "gauge_after": _share("charge gauge after", 0.0, 1.0, "charge gauge after mowing"),
    "rested_minutes": Amount(
        "minutes at rest", "min", 0.0, 1e4, "minutes between the end of mowing and the volts at rest after"
    ),
    "put_back_ah": Amount(
        "charge put back", "Ah", 0.0, 2000.0, "charge that filled the pack again, measured at the pack"
    ),
    "put_back_wh": Amount(
        "energy put back", "Wh", 1.0, 1e5, "energy that filled the pack again, measured at the pack"
    ),
    "socket_wh": Amount(
        "energy from the socket", "Wh", 1.0, 1e5, "energy from the socket that filled the pack again"
    ),
    # the accuracy of a meter, by its data sheet
    "zero_a": Amount("zero of the current", "A", 0.0, 50.0, "how far the zero may be off"),
    "current_percent": Amount(
        "accuracy of the current", "% of reading", 0.0, 50.0, "accuracy of the current"
    ),
    "zero_v": Amount("zero of the voltage", "V", 0.0, 50.0, "how far volts may be off"),
    "voltage_percent": Amount(
        "accuracy of the voltage", "% of reading", 0.0, 50.0, "accuracy of the voltage"
    ),
    # questions
    "level": _share("level", 0.5, 0.999, "how often the band has to hold"),
    "sure": _share("certainty", 0.5, 0.999, "how sure you want to be that all lawns are finished"),
    "reserve": _share("reserve", 0.0, 0.9, "charge that should be left"),
    "capacity_at_end": _share("capacity at end of life", 0.2, 1.0, "capacity left at end of life"),
    "resistance_at_end": Amount("resistance at end of life", "times new", 1.0, 5.0,
        "resistance at end of life, else 1.5, of lead-acid 1.25"),
    "coldest_c": Amount("coldest temperature", "°C", -40.0, 70.0,
        "air temperature on the coldest mowing day, else that of ten mows or more, else 10 °C or what a "
        "colder mow had"),
    "size_ah": Amount("size of a pack", "Ah", 0.01, 2000.0, "a size that can be bought"),
    "pause_minutes": Amount("length of the break", "min", 0.0, 1440.0, "minutes of a break on the charger"),
    "power_w": Amount("common load", "W", 1.0, 1e5, "common load of the discharge curves, else the usual"),
    "pack_c": Amount("pack temperature", "°C", -40.0, 70.0, "common pack temperature of the curves"),
    # what is described
    "area_m2": Amount("area", "m²", 0.01, 1e7, "area that is mown"),
    "series": Amount("series count", "", 1, 1000,
        "cells in series (48 V is often 13 or 14, with lfp 15 or 16; each 12 V lead-acid block counts 6)"),
    "rated_v": Amount(
        "rated volts", "V", 1.0, 4000.0, "volts on the label, where the cells in series are not known",
        also="--volts",
    ),
    "capacity_ah": Amount("capacity", "Ah", 0.01, 2000.0, "rated capacity of the whole pack"),
    "cut_off_v": Amount("cut-off", "V", 1.0, 4000.0, "voltage at which the motor is stopped"),
    "string_ah": Amount(
        "capacity of a string", "Ah", 0.01, 2000.0, "capacity of one parallel string, if you build packs"
    ),
    "current_limit_a": Amount(
        "current limit", "A", 0.01, 1e4, "highest current that controller or battery management allows"
    ),
    "resistance_ohm": Amount("resistance", "ohm", 0.0001, 1e3, "resistance of the whole pack, if measured"),
    "first_year": Amount("year of first use", "", 1980, 2100, "year of its first use, since packs fade"),
    "hold_s": Amount("hold time", "s", 0.0, 60.0, "time under the cut-off before the motor stops"),
    "cutting_width_m": Amount("cutting width", "m", 0.05, 20.0, "width that is cut"),
    "pace_m_s": Amount("walking pace", "m/s", 0.01, 100.0, "pace of the walk behind the machine"),
    "motor_rated_w": Amount("motor rating", "W", 0.1, 1e6, "rated power of the motor"),
    # the rest of the conversion
    "limit_a": Amount("current limit of the cable", "A", 0.01, 1e4, "what the cable may carry, by its maker"),
    "copper_c": Amount("temperature of the copper", "°C", -40.0, 200.0, "temperature of the copper"),
    "fuse_a": Amount("fuse", "A", 0.01, 1e4, "rating of the fuse"),
    "management_a": Amount("limit of the battery management", "A", 0.01, 1e4,
        "limit of the battery management, else as described"),
    "management_s": Amount("seconds of the battery management", "s", 0.01, 1e5,
        "time for which the management allows its limit; else the highest second counts"),
    "controller_a": Amount("limit of the controller", "A", 0.01, 1e4, "limit of the controller"),
    "clamp_highest_a": Amount("MAX hold of the clamp", "A", 0.01, 1e4, "what the clamp's MAX hold caught"),
    "engine_hp": Amount("horsepower of the old engine", "hp", 0.01, 1e4, "the old engine's horsepower"),
    "charger_w": Amount("power of the charger", "W", 1.0, 1e5, "power of the charger"),
    "charger_a": Amount("current of the charger", "A", 0.01, 1e4, "current of the charger"),
    "used_ah": Amount("charge used", "Ah", 0.0, 2000.0, "charge used, instead of lawns"),
    "price_per_kwh": Amount("price of a kWh", "", 0.0, 1e6, "price of a kWh"),
    "mows_per_season": Amount("mows in a season", "", 0.0, 1e4, "how often a season these lawns are mown"),
    "petrol_price_per_l": Amount("price of petrol", "per l", 0.0, 1e6, "price of petrol"),
    "petrol_l_per_mow": Amount("litres of petrol per mow", "l", 0.0, 1e4, "petrol that a mow took"),
    "pack_price": Amount("price of a new pack", "", 0.0, 1e9, "price of a new pack, for its wear"),
    "cycles": Amount("full discharges", "", 1.0, 1e6, "full discharges that it lasts, else worked out"),
    "petrol_l_per_hour": Amount("litres of petrol per hour", "l", 0.0, 1e4, "or petrol per hour"),
}  # fmt: skip
"""Every amount by its name in the library. The limits are common practice, wide enough for any lawn machine.
The option on the command line is the name with dashes, so that each word is learnt once."""

READINGS_SO_FAR = (
    "idle_a", "typical_a", "highest_a", "mean_a", "load_v", "rest_before_v", "rest_after_v", "minutes",
    "gauge_before", "gauge_after", "rested_minutes",
)  # fmt: skip
"""The readings that can be taken by hand while a mow goes on, as they are called in `SpotNotes`."""
HAND_READINGS = (*READINGS_SO_FAR, "put_back_ah", "put_back_wh", "socket_wh")
"""These, and what the charger puts back when the mow is over."""


def option_of(name: str) -> str:
    """The option of an amount on the command line.

    >>> option_of("current_limit_a")
    '--current-limit-a'
    """
    return "--" + name.replace("_", "-")


def range_words(amount: Amount, *, percent: bool = False) -> str:
    """Unit and range of an amount, to follow its words in help.

    >>> range_words(AMOUNTS["sure"], percent=True), range_words(AMOUNTS["temperature_c"])
    (' [%], 50 to 99.9', ' [°C], -40 to 70')
    """
    times, unit = (100.0, "%") if amount.share and percent else (1.0, amount.unit)
    ends = " to ".join(f"{times * end:.10g}" for end in (amount.low, amount.high))
    return f" [{unit}], {ends}" if unit else f", {ends}"


def from_percent(name: str, value: float) -> float:
    """A share 0..1 from the percentage that people write; one written as a share is refused as a slip.

    >>> from_percent("sure", 95.0)
    0.95
    >>> from_percent("sure", 0.95)
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: certainty is 0.95 %; write 95 for 95 %
    """
    if 0 < value < 1:
        words = AMOUNTS[name].words
        raise InputError(f"{words} is {value:g} %", mend=f"write {100 * value:g} for {100 * value:g} %")
    return value / 100


def check_amount(name: str, value: Any, *, whose: str = "", needed: bool = False) -> None:
    """Raise `OutOfRange` unless an amount is a number within its range; None passes as unknown.

    name : one of `AMOUNTS`; whose : what it belongs to, for the message; needed : whether None is refused too

    >>> check_amount("start_charge", 0.8)
    >>> check_amount("start_charge", 80)
    Traceback (most recent call last):
    ...
    estimator.errors.OutOfRange: start charge is 80; give a share from 0 to 1, such as 0.8 for 80 %
    """
    if value is None and not needed:
        return
    amount = AMOUNTS[name]
    if not is_number(value):
        place = f"{whose}: " if whose else ""
        raise InputError(f"{place}{amount.words} is {value!r}", mend="give a number")
    if not amount.low <= value <= amount.high:
        raise OutOfRange(
            amount.words, float(value), amount.low, amount.high, unit=amount.unit, share=amount.share,
            whose=whose,
        )  # fmt: skip


def check_amounts(what: Any, names: Iterable[str], *, whose: str = "") -> None:
    """Check the named amounts of an object."""
    for name in names:
        check_amount(name, getattr(what, name), whose=whose)


def is_number(value: Any) -> bool:
    """Whether a value is a finite number; texts and truth values are not.

    >>> is_number(3), is_number("3"), is_number(True), is_number(float("nan"))
    (True, False, False, False)
    """
    if isinstance(value, (bool, str)) or value is None:
        return False
    try:
        return math.isfinite(value)
    except (TypeError, ValueError, OverflowError):
        return False
