"""What a unit means, in English, German, French, Spanish, Dutch, Italian, Portuguese,
the Nordic languages, Polish, Czech, Hungarian, Turkish and Russian."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

TIME, DATE, CURRENT, VOLTAGE, POWER, TEMPERATURE = (
    "time",
    "date",
    "current",
    "voltage",
    "power",
    "temperature",
)
VALUE, UNIT, FUNCTION, OTHER = "value", "unit", "function", "other"
CHARGE, ENERGY, GAUGE = "charge", "energy", "gauge"
"""What meters count next to amps and volts: Ah, Wh and the share of a full pack [%]."""
MEASURED = (CURRENT, VOLTAGE, POWER, TEMPERATURE)


@dataclass(frozen=True)
class Unit:
    """A unit: what it measures, and factor and shift to A, V, W, °C or s."""

    quantity: str
    scale: float = 1.0
    shift: float = 0.0


_LETTERS = {CURRENT: "A", VOLTAGE: "V", POWER: "W", TEMPERATURE: "°C", TIME: "s", CHARGE: "Ah", ENERGY: "Wh"}
_TIMES = {60.0: "min", 3600.0: "h", 86400.0: "days"}  # by seconds


def unit_name(quantity: str, scale: float = 1.0) -> str:
    """The name of a unit, by its size in A, V, W, °C, s, Ah or Wh.

    >>> unit_name(CURRENT, 1e-3), unit_name(TIME, 60.0), unit_name(VOLTAGE, 0.1)
    ('mA', 'min', 'counts of 0.1 V')
    """
    if quantity == TEMPERATURE or (quantity == TIME and scale in _TIMES):
        return _TIMES.get(scale, "°C")
    prefix = {1e-6: "µ", 1e-3: "m", 1.0: "", 1e3: "k"}.get(scale, f"counts of {scale:g} ")
    return f"{prefix}{_LETTERS[quantity]}"


# SI prefixes
_PREFIXES = {"u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "c": 1e-2, "d": 1e-1, "": 1.0, "k": 1e3}
_UNITS: dict[str, Unit] = {}
for _base, _quantity in (("A", CURRENT), ("V", VOLTAGE), ("W", POWER)):
    for _prefix, _factor in _PREFIXES.items():
        _UNITS[_prefix + _base] = Unit(_quantity, _factor)
for _words, _unit in (
    ("amp amps ampere amperes amperios ampère ampères", Unit(CURRENT)),
    ("milliamp milliamps milliampere milliamperes mAmp mAmps", Unit(CURRENT, 1e-3)),
    ("volt volts voltios", Unit(VOLTAGE)),
    ("millivolt millivolts mVolt mVolts", Unit(VOLTAGE, 1e-3)),
    ("watt watts vatios", Unit(POWER)),
    ("milliwatt milliwatts mWatt mWatts", Unit(POWER, 1e-3)),
    ("°C ºC ℃ degC C deg_C celsius grad", Unit(TEMPERATURE)),
    ("°F ºF ℉ degF F fahrenheit", Unit(TEMPERATURE, 5 / 9, -160 / 9)),
    ("K kelvin", Unit(TEMPERATURE, 1.0, -273.15)),
    (
        "s sec secs second seconds sek sekunde sekunden seconde secondes segundo segundos seg seconden",
        Unit(TIME),
    ),
    ("ms msec millis milliseconds millisekunden millisecondes milisegundos milliseconden", Unit(TIME, 1e-3)),
    ("us µs μs micros microsec microseconds", Unit(TIME, 1e-6)),
    ("min mins minute minutes minuten minutos", Unit(TIME, 60.0)),
    ("h hr hrs hour hours std stunden heures horas uur uren", Unit(TIME, 3600.0)),
    ("Ah A.h A·h Ahr Ahrs amphr", Unit(CHARGE)),
    ("mAh mA.h mA·h mAhr", Unit(CHARGE, 1e-3)),
    ("uAh µAh μAh", Unit(CHARGE, 1e-6)),
    ("Wh W.h W·h Whr", Unit(ENERGY)),
    ("mWh mW.h mW·h mWhr", Unit(ENERGY, 1e-3)),
    ("kWh kW.h", Unit(ENERGY, 1e3)),
    ("А", Unit(CURRENT)),
    ("мА", Unit(CURRENT, 1e-3)),
    ("В", Unit(VOLTAGE)),
    ("мВ", Unit(VOLTAGE, 1e-3)),
    ("Вт", Unit(POWER)),
    ("с сек", Unit(TIME)),
    ("мс", Unit(TIME, 1e-3)),
    ("мин", Unit(TIME, 60.0)),
    ("J kJ % Ohm ohms Ω mΩ kΩ MΩ Hz kHz VA var rpm m m/s km/h", Unit(OTHER)),
):
    for _word in _words.split():
        _UNITS.setdefault(_word.replace("_", " "), _unit)
# Without its capitals "cV" could be a phase of charging, and "dA" a word.
_LOWER = {w.casefold(): unit for w, unit in reversed(_UNITS.items()) if unit.scale not in (0.1, 0.01)}
_SCALED = re.compile(r"[x×*]?\s*(0[.,]0*1|10+)\s*([^\d\s].*)", re.IGNORECASE)
_CURRENT_KIND = re.compile(r"^[da]c\s*(?=\S?[avw]$)|[\s.]*(dc|ac\+dc|ac|gs|trms|rms|=|⎓)$", re.IGNORECASE)


def plain(text: str) -> str:
    """A text in lower case without accents, with underscores as blanks.

    >>> plain("Intensité_du courant")
    'intensite du courant'
    """
    if text.isascii():
        return text.lower().replace("_", " ").strip()
    bare = unicodedata.normalize("NFKD", text.casefold().replace("_", " "))
    return "".join(c for c in bare if not unicodedata.combining(c)).strip()


@lru_cache(maxsize=4096)
def unit_of(text: str) -> Unit | None:
    """The unit that a text names, None where it names none.

    >>> unit_of("mA").scale, unit_of("V DC").quantity, unit_of("furlong")
    (0.001, 'voltage', None)
    >>> unit_of("10 mV").scale, unit_of("0.1A").scale, unit_of("40A")  # the last is a range
    (0.01, 0.1, None)
    """
    bare = text.strip().strip("[](){}").strip()
    if not bare or len(bare) > 16:
        return None
    for candidate in (bare, _CURRENT_KIND.sub("", bare)):
        found = _UNITS.get(candidate) or _LOWER.get(candidate.casefold())
        if found:
            return found
    scaled = _SCALED.fullmatch(bare)
    unit = unit_of(scaled.group(2)) if scaled else None
    if (
        scaled
        and unit
        and unit.quantity in (*MEASURED, TIME)
        and (scaled.group(1)[0] == "0" or unit.scale < 1)
    ):
        return Unit(unit.quantity, unit.scale * float(scaled.group(1).replace(",", ".")))
    return None


BRACKET = re.compile(r"[\[({<]\s*([^\])}>]{1,16}?)\s*[\])}>]")
"""A unit beside a title."""
_LIKE_A_UNIT = re.compile(
    r"(?!(?:[ad]c|rms|trms|avg|min|max|bat|akk|bus|in|out|ist|ein|aus|tot|sum|abs|pos|neg|int|ext|mot|sys|cal|all|"
    r"low|hi|[iuvt][^\W\d_]{0,2})$)[^\W\d_]{1,3}|[^\W\d_]{1,3} ?[*/×÷^x] ?\d+|\d+ ?[*/×÷x] ?[^\W\d_]{1,3}",
    re.IGNORECASE,
)


def unknown_unit(title: str) -> str:
    """The text in a title's brackets, where it can only be a unit but is not a known one; else "".

    >>> [unknown_unit(x) for x in ("I (foo)", "U [V*64]", "Current (bat)", "I [mA]")]
    ['foo', 'V*64', '', '']
    """
    found = BRACKET.search(title)
    inside = found.group(1).strip() if found else ""
    return inside if _LIKE_A_UNIT.fullmatch(inside) and unit_of(inside) is None else ""
