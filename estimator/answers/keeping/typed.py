"""Amounts as people write them, turned into the units used inside.

Factors: NIST SP 811 (2008), appendix B.8 (foot, inch, square foot, horsepower of 550 ft·lbf/s); an acre is
43 560 square feet.

Which lawn, pack or machine is meant, also where the user does not say.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeVar

from estimator.descriptions import Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.logbook import Logbook
from estimator.logbook.records import descriptions as kept

_AREA_M2 = {
    "m2": 1.0, "m²": 1.0, "sqm": 1.0, "ha": 10_000.0, "are": 100.0, "ares": 100.0,
    "acre": 43_560 * 0.09290304, "acres": 43_560 * 0.09290304, "ac": 43_560 * 0.09290304,
    "sqft": 0.09290304, "ft2": 0.09290304, "ft²": 0.09290304,
    "sqyd": 0.83612736, "yd2": 0.83612736, "yd²": 0.83612736,
}  # fmt: skip
_LENGTH_M = {
    "m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "'": 0.3048,
    "in": 0.0254, "inch": 0.0254, "inches": 0.0254, '"': 0.0254,
}  # fmt: skip
_POWER_W = {"w": 1.0, "kw": 1000.0, "hp": 745.6999}
_PACE_M_S = {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "mph": 0.44704}
_AMOUNT = re.compile(r"^\s*([-+]?[0-9]*[.,]?[0-9]+)\s*(.*?)\s*$")


def _amount(text: str | float, what: str, units: dict[str, float], bare: str) -> float:
    if isinstance(text, (int, float)):
        return float(text)
    known = ", ".join(sorted({unit for unit in units if unit.isascii() and unit not in "'\""}))
    found = _AMOUNT.match(text)
    if not found:
        raise InputError(f"{what} is {text!r}", mend=f"give a number and a unit ({known})")
    if re.fullmatch(r"[-+]?[0-9]+,[0-9]{3}", found[1]):
        raise InputError(
            f"{what} is {text!r}: the comma may be a decimal or a thousands mark", mend="leave it out"
        )
    unit = found[2].lower().replace("sq ft", "sqft").replace("sq yd", "sqyd").replace("sq m", "sqm")
    factor = units.get(unit or bare)
    if factor is None:
        raise InputError(f"{what} is {text!r}: unit {found[2]!r} is not known", mend=f"use one of {known}")
    return float(found[1].replace(",", ".")) * factor


def area_m2(text: str | float) -> float:
    """An area [m²]; a bare number is square metres.

    >>> area_m2("420"), round(area_m2("0.25 acre")), round(area_m2("4500 sq ft"))
    (420.0, 1012, 418)
    """
    return _amount(text, "area", _AREA_M2, "m2")


def length_m(text: str | float, what: str = "length", bare: str = "m") -> float:
    """A length [m]; a bare number is in the unit `bare`.

    >>> length_m("43 cm"), round(length_m("17 in"), 3)
    (0.43, 0.432)
    """
    return _amount(text, what, _LENGTH_M, bare)


def power_w(text: str | float) -> float:
    """A power [W]; a bare number is watts.

    >>> round(power_w("5 hp")), power_w("2 kW")
    (3728, 2000.0)
    """
    return _amount(text, "power", _POWER_W, "w")


def pace_m_s(text: str | float) -> float:
    """A walking pace [m/s]; a bare number is metres per second.

    >>> pace_m_s("3.6 km/h")
    1.0
    """
    return _amount(text, "pace", _PACE_M_S, "m/s")


Described = TypeVar("Described", Pack, Machine)


def the_pack(logbook: Logbook, name: str | None = None) -> Pack:
    """The pack of that name, or the only one; InputError where there are several or none."""
    if name is not None:
        return kept.pack(logbook, name)
    return _the_only(kept.packs(logbook), "pack")


def the_machine(logbook: Logbook, name: str | None = None) -> Machine | None:
    """The machine of that name, or the only one; None where none is described."""
    if name is not None:
        return kept.machine(logbook, name)
    machines = kept.machines(logbook)
    return _the_only(machines, "machine") if machines else None


def the_lawns(logbook: Logbook, names: Sequence[str] = ()) -> tuple[Lawn, ...]:
    """The lawns of those names in that order, or all; InputError for an unknown name or an empty logbook."""
    if names:
        return tuple(kept.lawn(logbook, name) for name in names)
    lawns = kept.lawns(logbook)
    if not lawns:
        raise InputError("no lawn is described yet", mend="describe one with its name and area")
    return lawns


def described_names(logbook: Logbook, kind: str) -> tuple[str, ...]:
    """Names of all lawns, packs, machines or meters; `kind` is the word in the singular."""
    if kind == "meter":
        return tuple(kept.meters(logbook))
    if kind == "lawn":
        return tuple(each.name for each in kept.lawns(logbook))
    if kind == "pack":
        return tuple(each.name for each in kept.packs(logbook))
    return tuple(each.name for each in kept.machines(logbook))


def _the_only(found: Sequence[Described], kind: str) -> Described:
    if not found:
        raise InputError(f"no {kind} is described yet", mend=f"describe the {kind} first")
    if len(found) > 1:
        raise InputError(
            f"which {kind} is not said", mend=f"name one of {', '.join(each.name for each in found)}"
        )
    return found[0]
