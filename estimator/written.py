"""Amounts as people write them, understood in one place: areas, lengths, times, readings.

Factors: NIST SP 811 (2008), appendix B.8 (foot, inch, square foot, horsepower of 550 ft·lbf/s, US gallon,
degree Fahrenheit); an acre is 43 560 square feet.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from difflib import get_close_matches

from estimator.errors import InputError

_FOOT_M, _YARD_M, _ACRE_M2 = 0.3048, 0.9144, 43_560 * 0.09290304  # exact: NIST SP 811, appendix B
_AREA_M2 = {
    "m2": 1.0, "m²": 1.0, "sqm": 1.0, "sqmetres": 1.0, "sqmeters": 1.0, "ha": 10_000.0, "hectare": 10_000.0,
    "hectares": 10_000.0, "are": 100.0, "ares": 100.0, "acre": _ACRE_M2, "acres": _ACRE_M2, "ac": _ACRE_M2,
    "sqft": _FOOT_M**2, "ft2": _FOOT_M**2, "ft²": _FOOT_M**2, "sqfeet": _FOOT_M**2,
    "sqyd": _YARD_M**2, "yd2": _YARD_M**2, "yd²": _YARD_M**2, "sqyards": _YARD_M**2, "qm": 1.0,
}  # fmt: skip
_LENGTH_M = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "cm": 0.01, "mm": 0.001,
    "ft": _FOOT_M, "feet": _FOOT_M, "foot": _FOOT_M, "'": _FOOT_M, "yd": _YARD_M, "yards": _YARD_M,
    "in": 0.0254, "inch": 0.0254, "inches": 0.0254, '"': 0.0254,
}  # fmt: skip
# NIST SP 811: mechanical horsepower 745.6999 W, mile 1609.344 m.
_POWER_W = {"W": 1.0, "watt": 1.0, "watts": 1.0, "kW": 1000.0, "hp": 745.6999}
_PACE_M_S = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "mph": 0.44704}  # NIST SP 811
_MINUTES = {"min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0, "h": 60.0, "hour": 60.0, "hours": 60.0,
            "hr": 60.0, "hrs": 60.0, "s": 1 / 60, "sec": 1 / 60, "seconds": 1 / 60}  # fmt: skip
_GALLON_L = 3.785412  # the US gallon: NIST SP 811
_FAHRENHEIT = re.compile(r".*\d\s*(°\s?)?f(ahrenheit)?\.?\s*", re.IGNORECASE)
_UNITS = {
    "A": {"A": 1.0, "amp": 1.0, "amps": 1.0, "mA": 0.001},
    "V": {"V": 1.0, "volt": 1.0, "volts": 1.0, "mV": 0.001},
    "Wh": {"Wh": 1.0, "kWh": 1000.0},
    "Ah": {"Ah": 1.0, "mAh": 0.001},
    "min": _MINUTES,
    "mm": {name: 1000.0 * factor for name, factor in _LENGTH_M.items()},
    "%": {"%": 1.0, "percent": 1.0},
    "l": {"l": 1.0, "litre": 1.0, "litres": 1.0, "liter": 1.0, "liters": 1.0, "ml": 0.001,
          "gal": _GALLON_L, "gallon": _GALLON_L, "gallons": _GALLON_L},
    "per l": {"per l": 1.0, "/l": 1.0, "/litre": 1.0, "/liter": 1.0, "/gal": 1 / _GALLON_L,
              "per gal": 1 / _GALLON_L, "/gallon": 1 / _GALLON_L, "per gallon": 1 / _GALLON_L},
    "°C": {"°C": 1.0, "C": 1.0, "celsius": 1.0, "°F": 5 / 9, "F": 5 / 9, "fahrenheit": 5 / 9},
}  # fmt: skip
"""The units that may follow an amount, by the unit that is meant where none follows."""
_CHARGES = {"full": 100.0, "half": 50.0, "half full": 50.0}
_AMOUNT = re.compile(r"\s*([-+]?(?:\d+\s+)?\d+\s*/\s*\d+|[-+]?\d*[.,]?\d+)\s*(.*?)\s*")
_WORDS_FOR = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "half an": "1/2", "half a": "1/2", "half": "1/2",
              "a quarter of an": "1/4", "quarter of an": "1/4", "quarter": "1/4", "one": "1",
              "an hour": "1 hour", "square ": "sq", "sq. ": "sq", "sq ": "sq"}  # fmt: skip
MOST_DIGITS = 40
"""No number that anybody reads is longer; bounds the work."""
_COMMA = re.compile(r"\s*[-+]?\d*,\d+\s*")
_THOUSANDS = re.compile(r"\s*[-+]?[1-9]\d{0,2}(,\d{3})+\s*")
_POINTED_M2 = re.compile(r"\s*[1-9]\d?\.\d{3}\s*(m2|m²|sqm|qm|square met\w+)?\s*", re.IGNORECASE)
"""An area whose point is a thousands mark in half of Europe; nobody measures a lawn to a thousandth of it."""
_STOPWATCH = re.compile(r"(?:(\d+)(?: ?h\w* |:))?(\d+)(?: ?m\w* |:)(\d+(?:[.,]\d+)?)(?: ?s\w*)?")
_H = r" ?h(?:(?:ou)?rs?)?"
_HOURS = re.compile(rf"(\d+)(?:{_H}\.?,? ?(?:and )?([0-5]?\d)(?: ?m(?:in(?:ute)?s?)?\.?)?|:([0-5]\d){_H})")
LONGEST_H = 5
"""From here up, a clock of two fields such as 24:30 is minutes and seconds; below, it is hours and minutes in
a file, and refused where it is typed, since it can be asked again (common practice)."""
_RANGE = re.compile(r"[^\d]*?(?:[-–—]|\bto\b)\s*(\d+(?:[.,]\d+)?)[^\d]*")  # what follows its first number
_BY = re.compile(r"(.*\d\D*?)\s*(?:x|×|\*|by)\s*(\d.*)")


def with_point(text: str, what: str = "number") -> str:
    """A number with its decimal comma turned into a point; other words as they are.

    Raises InputError for a number whose comma may be a thousands mark.

    >>> with_point("10,5"), with_point("-0,05"), with_point("0,125"), with_point("dry")
    ('10.5', '-0.05', '0.125', 'dry')
    >>> with_point("1,200", "ah")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: ah is '1,200': the comma may be a decimal or a thousands mark; leave it out
    """
    if _THOUSANDS.fullmatch(text):
        raise InputError(
            f"{what} is {text!r}: the comma may be a decimal or a thousands mark", mend="leave it out"
        )
    return text.replace(",", ".") if _COMMA.fullmatch(text) else text


def number(text: str, what: str, unit: str = "") -> float:
    """A number as it was typed, which may have a decimal comma or its unit; InputError where it is endless.

    >>> number(" 2,5", "growth"), number("17 A", "amps", "A")
    (2.5, 17.0)
    """
    try:
        found = float(with_point(text, what)) if len(text) <= MOST_DIGITS else math.nan
    except ValueError:
        found = measured(text, what, unit)
    if not math.isfinite(found):
        raise InputError(f"{what} is {text[:MOST_DIGITS]}", mend="give a number")
    return found


def _amount(text: str | float, what: str, units: Mapping[str, float], bare: str, mend: str = "") -> float:
    if isinstance(text, (int, float)):
        return float(text)
    known = ", ".join(
        unit for unit, factor in units.items() if unit == next(k for k in units if units[k] == factor)
    )
    tidy = text.strip().casefold()
    for words, short in _WORDS_FOR.items():
        tidy = tidy.replace(words, short)
    found = _AMOUNT.fullmatch(tidy)
    if not found:
        raise InputError(f"{what} is {text!r}", mend=mend or f"give a number and a unit ({known})")
    number = with_point(found[1], what)
    factors = {unit.casefold(): factor for unit, factor in units.items()}
    factor = factors.get(found[2].rstrip(".") or bare.casefold())
    if factor is None:
        if "/" not in number and (upper_end := _RANGE.fullmatch(found[2])):
            middle = (float(number) + float(with_point(upper_end[1], what))) / 2
            raise InputError(f"{what} is {text!r}, a range", mend=f"give one number, such as {middle:.3g}")
        near = get_close_matches(found[2], factors, n=1)
        mend = f"did you mean {near[0]}?" if near else f"use one of {known}" if known else mend
        raise InputError(f"{what} is {text!r}: unit {found[2]!r} is not known", mend=mend)
    if "/" not in number:
        return float(number) * factor
    *whole, upper, lower = map(float, re.findall(r"[-+]?\d+", number))
    if not lower:
        raise InputError(f"{what} is {text!r}", mend="give a number")
    return (sum(whole) + upper / lower) * factor


def area_m2(text: str | float) -> float:
    """An area [m²]; a bare number is in square metres, and two lengths are multiplied.

    >>> area_m2("420"), round(area_m2("1/4 acre")), round(area_m2("4500 sq ft")), area_m2("20 x 35 m")
    (420.0, 1012, 418, 700.0)
    >>> area_m2("1.600 m2")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: area is '1.600 m2': the point may be a decimal or a thousands mark; leave it
    out
    """
    if isinstance(text, str) and _POINTED_M2.fullmatch(text):
        raise InputError(
            f"area is {text!r}: the point may be a decimal or a thousands mark", mend="leave it out"
        )
    sides = _BY.fullmatch(text.casefold()) if isinstance(text, str) else None
    if sides is None:
        return _amount(text, "area", _AREA_M2, "m2")
    one, other = sides[1], sides[2]
    unit = re.sub(r"[-+\d.,/\s]+|[2²]$", "", other)
    if not re.search(r"[^-+\d.,/\s]", one):
        one += unit
    whole = f"area is {text!r}: a side"
    return length_m(one, whole) * length_m(re.sub(r"(?<=[a-z])[2²]$", "", other), whole)


def length_m(text: str | float, what: str = "length", bare: str = "m") -> float:
    """A length [m]; a bare number is in the unit `bare`.

    >>> length_m("43 cm"), round(length_m("17 1/2 in"), 4)
    (0.43, 0.4445)
    """
    return _amount(text, what, _LENGTH_M, bare)


def power_w(text: str | float) -> float:
    """A power [W]; a bare number is in watts.

    >>> round(power_w("5 hp")), power_w("2 kW")
    (3728, 2000.0)
    """
    return _amount(text, "power", _POWER_W, "W")


def pace_m_s(text: str | float) -> float:
    """A walking pace [m/s]; a bare number is in metres per second.

    >>> pace_m_s("3.6 km/h")
    1.0
    """
    return _amount(text, "pace", _PACE_M_S, "m/s")


def measured(text: str, what: str, unit: str) -> float:
    """A reading in its usual unit, which may follow the number.

    unit : A, V, Ah, Wh, min, mm, %, l, "per l" or °C, or any other, which is then the only one understood

    >>> measured("17 A", "amps", "A"), measured("54,2V", "volts", "V"), measured("half an hour", "", "min")
    (17.0, 54.2, 30.0)
    >>> measured("6:30", "", "min"), measured("1:06:30", "", "min"), measured("0.07 kWh", "", "Wh")
    (6.5, 66.5, 70.0)
    >>> measured("1h20", "", "min"), measured("1:20 h", "", "min"), measured("an hour", "", "min")
    (80.0, 80.0, 60.0)
    >>> round(measured("75 °F", "", "°C"), 1), round(measured("3/4 gal", "", "l"), 2)
    (23.9, 2.84)
    >>> round(measured("3.50/gal", "price", "per l"), 3)
    0.925
    >>> measured("0.5 kWh", "capacity", "Ah")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: capacity is '0.5 kWh', an energy; divide it by the volts on the label: at
    36 V it is 13.9 Ah
    >>> measured("1:20", "time", "min")
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: time is '1:20', which may be 80 min or 1 min 20 s; write 80, or 1.33
    """
    if unit == "%" and (said := _CHARGES.get(str(text).strip().casefold())) is not None:
        return said
    if unit == "min" and (parts := _HOURS.fullmatch(str(text).strip().casefold())):
        return 60.0 * int(parts[1]) + int(parts[2] or parts[3])
    if unit == "min" and (parts := _STOPWATCH.fullmatch(str(text).strip())):
        hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in parts.groups())
        found = 60 * hours + minutes + seconds / 60
        if minutes < LONGEST_H and re.fullmatch(r"\d+:[0-5]\d", parts[0]):
            long = 60 * minutes + seconds
            raise InputError(
                f"{what} is {text!r}, which may be {long:g} min or {minutes:g} min {seconds:g} s",
                mend=f"write {long:g}, or {found:.3g}",
            )
        return found
    if unit == "Ah" and str(text).casefold().rstrip().endswith("wh"):
        ah = _amount(text, what, _UNITS["Wh"], "Wh") / 36
        mend = f"divide it by the volts on the label: at 36 V it is {ah:.3g} Ah"
        raise InputError(f"{what} is {text!r}, an energy", mend=mend)
    units = _UNITS.get(unit, {unit: 1.0})
    zero = 32 * 5 / 9 if unit == "°C" and _FAHRENHEIT.fullmatch(str(text)) else 0.0
    such = ", such as 80 or 1 h 20" if unit == "min" else ""
    return -zero + _amount(text, what, units, unit, f"give a number{f' [{unit}]' if unit else ''}{such}")
