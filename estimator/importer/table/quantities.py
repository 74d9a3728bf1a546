"""What a column title or a unit means, in English, German, French, Spanish, Dutch, Italian, Portuguese,
the Nordic languages, Polish and Czech."""

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
MEASURED = (CURRENT, VOLTAGE, POWER, TEMPERATURE)


@dataclass(frozen=True)
class Unit:
    """A unit: what it measures, and factor and shift to A, V, W, °C or s."""

    quantity: str
    scale: float = 1.0
    shift: float = 0.0


@dataclass(frozen=True)
class Meaning:
    """What a title means; `doubt` grows with words such as min, max, cell or limit."""

    quantity: str
    unit: Unit | None = None
    doubt: int = 0


_PREFIXES = {"u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3}
_UNITS: dict[str, Unit] = {}
for _base, _quantity in (("A", CURRENT), ("V", VOLTAGE), ("W", POWER)):
    for _prefix, _factor in _PREFIXES.items():
        _UNITS[_prefix + _base] = Unit(_quantity, _factor)
for _words, _unit in (
    ("amp amps ampere amperes amperios ampère ampères", Unit(CURRENT)),
    ("milliamp milliamps milliampere", Unit(CURRENT, 1e-3)),
    ("volt volts voltios", Unit(VOLTAGE)),
    ("millivolt millivolts", Unit(VOLTAGE, 1e-3)),
    ("watt watts vatios", Unit(POWER)),
    ("°C ºC ℃ degC C deg_C celsius grad", Unit(TEMPERATURE)),
    ("°F ºF ℉ degF F fahrenheit", Unit(TEMPERATURE, 5 / 9, -160 / 9)),
    ("K kelvin", Unit(TEMPERATURE, 1.0, -273.15)),
    (
        "s sec secs second seconds sek sekunde sekunden seconde secondes segundo segundos seg seconden",
        Unit(TIME),
    ),
    ("ms msec millis milliseconds millisekunden millisecondes milisegundos milliseconden", Unit(TIME, 1e-3)),
    ("us µs μs", Unit(TIME, 1e-6)),
    ("min mins minute minutes minuten minutos", Unit(TIME, 60.0)),
    ("h hr hrs hour hours std stunden heures horas uur uren", Unit(TIME, 3600.0)),
    ("Ah mAh Wh kWh J kJ % Ohm ohms Ω mΩ kΩ MΩ Hz kHz VA var rpm m m/s km/h", Unit(OTHER)),
):
    for _word in _words.split():
        _UNITS.setdefault(_word.replace("_", " "), _unit)
_LOWER = {word.casefold(): unit for word, unit in reversed(_UNITS.items())}
_SCALED = re.compile(r"[x×*]?\s*(0[.,]0*1|10+)\s*([^\d\s].*)", re.IGNORECASE)
_CURRENT_KIND = re.compile(r"[\s.]*(dc|ac\+dc|ac|gs|trms|rms|=|⎓)$", re.IGNORECASE)


def plain(text: str) -> str:
    """Lower case without accents, underscores as blanks.

    >>> plain("Intensité_du courant")
    'intensite du courant'
    """
    if text.isascii():
        return text.lower().replace("_", " ").strip()
    bare = unicodedata.normalize("NFKD", text.casefold().replace("_", " "))
    return "".join(c for c in bare if not unicodedata.combining(c)).strip()


@lru_cache(maxsize=4096)
def unit_of(text: str) -> Unit | None:
    """The unit that a text is, None where it is none.

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
    if scaled and unit and unit.quantity in MEASURED and (scaled.group(1)[0] == "0" or unit.scale < 1):
        return Unit(unit.quantity, unit.scale * float(scaled.group(1).replace(",", ".")))
    return None


_STEMS: tuple[tuple[str, str], ...] = (
    (OTHER, r"energ|kapazit|capacit|capacid|\bcharge$|\bcharge \(?m?ah|ladung|\bahr?\b|\bwhr?\b|resist|"
            r"widerst|weerstand"
            r"|\bpower factor|frequen|humid|feucht|altitud|speed|\bnote|\bcomment|kommentar|remark|"
            r"status|alarm|flag|error"),
    (FUNCTION, r"\b(function|funktion|fonction|funcion|functie|mode|modus|modo|measurement type|messart|"
               r"parameter|quantity|"
               r"messgrosse|grandeur|magnitud|grootheid)\b"),
    (UNIT, r"\b(units?|einheit|unite|unidad(es)?|eenheid)\b"),
    (TEMPERATURE, r"temperat|\btemp\b|\bcelsius\b"),
    (CURRENT, r"current|strom|courant|corriente|corrente|intensit|intensid|stroom|"
              r"\bstrøm|\bprad|proud|\bamp|\bi\d?\b|\bi(bat|batt|dc|"
              r"pack)\b"),
    (VOLTAGE, r"volt|spannung|\btension[e]?\b|\btensao\b|spanning|\bspænding|"
              r"\bspenning|napiecie|napeti|\bu\d?\b|\bv\d?\b|\b[uv](bat|batt|dc|pack)\b"),
    (POWER, r"\bpower|leistung|puissance|potencia|vermogen|watt|\bp\b"),
    (VALUE, r"\b(values?|wert|messwert|valeur|mesure|valor|medicion|waarde|meetwaarde|reading|main "
            r"display|lectura|"
            r"anzeige|display)\b"),
)  # fmt: skip
_TIME_WORDS = re.compile(
    r"time|zeit|\bheure|horodat|\btemps\b|\bhora\b|tiempo|tijd|elapsed|duree|duracion|dauer|\bduur\b|\bclock\b|verstreken|"
    r"ecoule|transcurrido|\bseconds?\b|sekunden|secondes|segundos|seconden|minuten?\b|\bminutes\b|\bepoch\b|\bstamp\b|\bt\b|\bunix\b|"
    r"\bora\b|\borario\b|\btempo\b|\btid\b|tidpunkt|\bczas\b|godzina|\bcas\b|\bmillis\b"
)
_DATE_WORDS = re.compile(r"\bdate\b|\bdatum\b|fecha|\bjour\b|\btag\b|\bdia\b|\bdag\b|\bday\b|^data$|\bdato\b")
_DOUBT = (
    (re.compile(r"\b(avg|average|mean|mittel\w*|moyen\w*|medi[oa]|promedio|gemiddeld\w*)\b"), 1),
    (re.compile(r"\b(min|max|minimum|maximum|peak|spitze\w*|maxi\w*|mini\w*)\b"), 3),
    (
        re.compile(
            r"cell|zelle|cellule|celda|\bcel\b|\bset\b|limit|target|soll|cut ?off|charger|motor|phase|"
            r"aux|\bac\b"
        ),
        2,
    ),
)
_BRACKET = re.compile(r"[\[({<]\s*([^\])}>]{1,16}?)\s*[\])}>]")
_TRAILING = re.compile(r"(?:^|[\s_/,:;|-]|\bin\s)\s*([A-Za-zµμ°º℃℉%ΩΩ]{1,14}(?:\s?[DA]C)?)\.?$")


@lru_cache(maxsize=4096)
def meaning(title: str) -> Meaning | None:
    """What a column title means, None where it says nothing.

    >>> meaning("Strom [mA]").quantity, meaning("Strom [mA]").unit.scale
    ('current', 0.001)
    >>> meaning("Tensión (V)").quantity, meaning("temperature_c").quantity, meaning("Uhrzeit").quantity
    ('voltage', 'temperature', 'time')
    >>> meaning("orchard") is None
    True
    """
    text = title.strip().strip('"').strip()
    if not text or len(text) > 80:
        return None
    unit = None
    rest = text
    for found in (_BRACKET.search(text), _TRAILING.search(text)):
        unit = unit_of(found.group(1)) if found else None
        if found and unit is not None:
            rest = text[: found.start()] + " " + text[found.end() :]
            break
    words = _bare_words(rest)
    doubt = _doubt_of(words)
    quantity = _by_words(words)
    if unit is not None and unit.quantity == TIME and quantity in (*MEASURED, VALUE):
        # "Amps min" is the lowest reading of an interval, no minutes.
        unit = None
        doubt = _doubt_of(_bare_words(text))
    if unit is None and "%" in text and quantity in MEASURED:
        return Meaning(OTHER)
    if unit is not None and unit.quantity == OTHER:
        return Meaning(OTHER, unit)
    if unit is not None and quantity in (None, VALUE):
        return Meaning(unit.quantity, unit, doubt + (quantity is None and bool(words)))
    if quantity is None:
        return None
    if unit is not None and unit.quantity != quantity and not (quantity == DATE and unit.quantity == TIME):
        if quantity in (CURRENT, VOLTAGE, POWER) and unit.quantity in (CURRENT, VOLTAGE, POWER):
            return Meaning(unit.quantity, unit, doubt + 1)
        unit = None
    return Meaning(quantity, unit, doubt)


def _bare_words(text: str) -> str:
    words = plain(re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text))
    return re.sub(r"[^\w%/()+-]+", " ", words).strip()


def _doubt_of(words: str) -> int:
    return sum(weight for pattern, weight in _DOUBT if pattern.search(words))


def _by_words(words: str) -> str | None:
    if not words:
        return None
    is_time, is_date = bool(_TIME_WORDS.search(words)), bool(_DATE_WORDS.search(words))
    for quantity, pattern in _STEMS:
        if re.search(pattern, words):
            if (
                is_time
                and quantity in (POWER, VALUE, OTHER, VOLTAGE, CURRENT)
                and re.match(r"(time|zeit|t)\b", words)
            ):
                break
            return quantity
    if is_time:
        return TIME
    return DATE if is_date else None
