"""What a column title means, in English, German, French, Spanish, Dutch, Italian, Portuguese,
the Nordic languages, Polish, Czech, Hungarian, Turkish, Russian, Indonesian, Vietnamese, Japanese, Chinese
and Korean."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import BRACKET, Unit, plain, unit_of


@dataclass(frozen=True)
class Meaning:
    """What a title means; `doubt` grows with words such as min, max, cell or limit.

    way : of a current or a counter, 1 if it is of what left the pack, -1 of what was put in, 0 unsaid
    """

    quantity: str
    unit: Unit | None = None
    doubt: int = 0
    way: int = 0


_STEMS: tuple[tuple[str, str], ...] = (
    (q.OTHER, r"resist|widerst|weerstand|ohms?\b|impedan"
            r"|\bpower factor|frequen|humid|feucht|altitud|speed|\bnote|\bcomment|kommentar|remark|\brange\b|"
            r"status|alarm|flag|error|\bphase\b.*\bdeg|rotation"),
    (q.CHARGE, r"kapazit|capacit|capacid|\bcapa?\b|\b(chg|dchg) cap\b|\bcharge$|\bcharged\b|\bladung|"
             r"\b(chg|dis|dchg)? ?m?u?ahr?s?\b|\bm?amp[a-z]* ?-? ?h(ou)?r?s?\b|\bm?amphrs?\b|"
             r"\bah[ -]?(accu|cha|dch|ch|dis|step|prev|set|used|drawn)"
             r"|\b(consumption|consumed)\b|coulomb|\b(q|dq)\b|\bq ?(charge|discharge|-qo)\b"),
    (q.ENERGY, r"ene?rg|\bwhr?\b|\bmwh\b|\bener\b|\bm?watt[a-z]* ?-? ?h(ou)?r?s?\b|\bm?watthrs?\b|"
             r"\bwh[ -]?(accu|cha|dch|ch|dis)"),
    (q.FUNCTION, r"\b(function|funktion|fonction|funcion|functie|mode|modus|modo|measurement type|messart|"
               r"parameter|quantity|"
               r"messgrosse|grandeur|magnitud|grootheid)\b"),
    (q.UNIT, r"\b(units? ?\d?|einheit ?\d?|unite|unidad(es)?|eenheid)\b"),
    (q.TEMPERATURE, r"温度|溫度|temperat|\btemp\b|lampotila|homerseklet|температура|\bcelsius\b"),
    (q.CURRENT, r"電流|电流|" + plain("전류") + r"|"
              r"current|strom|courant|\barus\b|dong đien|corriente|corrente|intensit|intensid|stroom|"
              r"\bstrøm|\bprad|proud|\bvirta\b|\baram|\bak[iı]m|\bток\b|струм|"
              r"\bm?amp|\bcurr?\d*\b|\bi\d?\b|\bi ?(bat|batt|batterie|battery|dc|akku|"
              r"pack|inst|in|out|load|avg|meas|mot)\b"),
    (q.VOLTAGE, r"電圧|電壓|电压|" + plain("전압") + r"|"
              r"volt|spannung|tegangan|đien ap|\btension[e]?\b|\btensao\b|spanning|\bspænding|"
              r"\bspenning|napiecie|napeti|jannite|feszultseg|gerilim|напряжение|напруга|напрежение|"
              r"\bpotential\b|\be ?cell\b|\bewe\b|\b[uv]\d{0,2}\b|"
              r"\b[uv] ?(bat|batt|batterie|battery|dc|akku|pack|inst|in|out|load|avg|meas|mot)\b"),
    (q.POWER, r"電力|功率|" + plain("전력") + r"|"
            r"\bpower|leistung|puissance|potencia|vermogen|\bteho\b|teljesitmeny|мощность|watt|\bp\b"),
    (q.VALUE, r"\b((?:values?|wert|messwert) ?\d?|valeur|mesure|valor|medicion|waarde|meetwaarde|reading|"
            r"main display|lectura|anzeige|display)\b"),
)  # fmt: skip
_TIME_WORDS = re.compile(
    plain("시간") + r"|時刻|時間|时间|日時|"
    r"time|zeit|\bheure|horodat|\btemps\b|\bhora\b|tiempo|tijd|elapsed|duree|duracion|dauer|\bduur\b|\bclock\b|verstreken|"
    r"ecoule|transcurrido|\bseconds?\b|sekunden|secondes|segundos|seconden|minuten?\b|\bminutes\b|\bepoch\b|\bstamp\b|\bt\b|\bunix\b|"
    r"\bts\b|^jd\b|\bjulian|^when\b|^wann\b|\bora\b|\borario\b|\btempo\b|\btid\b|tids?punkt|klokke|kello|\bsaat\b|\bczas\b|godzina|\bcas\b|\bmi(lli|cro)s\b|"
    r"\butc\b|\bgmt\b|^local$|\bwaktu\b|thoi gian|\baika\b|\bido(pont)?\b|\bzaman\b|время|време|\bчас\b|"
    r"^ms\b|\bhms\b|\bmm ss\b|\bhhmmss\b|\bticks?\b|^at\b|\bdatetime\b"
)
_DATE_WORDS = re.compile(
    r"日付|日期|\bdate\b|\bdatum\b|fecha|дата|tarih|\bjour\b|\btag\b|\bdia\b|\bdag\b|\bday\b|^data$|\bdato\b"
)
_DOUBT = (
    (re.compile(r"\b(avg|average|mean|mittel\w*|moyen\w*|medi[oa]|promedio|gemiddeld\w*|rms)\b"), 1),
    (re.compile(r"\b[a-z]\d{1,2}\b|\b[a-z]+ \d\b|\bload\b(?! on)|\bdod\b|open circuit|\bocv\b"), 1),
    (re.compile(r"\b(min|max|minimum|maximum|peak|spitze\w*|maxi\w*|mini\w*|lowest|highest)\b"), 3),
    (re.compile(r"\b(prev|previous|delta|diff|ripple)\b|\|"), 3),
    (
        re.compile(
            r"\bcell|cells?\b(?<!ecell)(?<!e cell)|zelle|cellule|celda|\bcels?\b|\bset\b|limit|"
            r"target|soll|cut ?off|"
            r"charger|\bi?mot(or)?\b|phase|aux|\bac\b|\braw\b|\badc\b|\bcounts?\b|\bcontrol\b|\bpanel|solar|\bpv\b|"
            r"receiver|\brx|\btx|servo|\bbec\b|\bshunt\b|\bgps\b|\bboard\b|\bref|\bnominal\b|\bcase\b|mains|"
            r"axis\b|filter"
        ),
        2,
    ),
)
"""Words against a column, with their doubt: means, extremes, parts of the pack, settings, other supplies."""
_MEASURED = re.compile(r"\b(measured|meas|calibrated|cal)\b")
_SHORT_CLOCK = re.compile(
    r"\b(ticks?|step|load on|charge|discharge|idle|start|position|remaining|cycle|loop|round)\b|schritt"
)
"""Clocks that stop or restart while the recording goes on, or whose unit is not known."""
_TRAILING = re.compile(r"(?:^|[\s_/,:;.|-]|\bin\s)\s*([A-Za-zµμ°º℃℉%ΩΩ]{1,14}(?:[.·]h)?(?:\s?[DA]C)?)\.?$")
_GAUGE = re.compile(r"soc\b|charge|battery|batt?\b|akku|fuel|kapazit|capacit|ladung|remaining|level|gauge")
_DISCHARGE = re.compile(r"dis|dch|entlad|\bused|consum|drawn|\bout\b|decharg|descarg|ontlad|uit\b")
_CHARGED = re.compile(r"chg|cha\b|charged?\b|\blad|\bgelad|carga|\bin\b|regen")


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
    text = _JOINED_UNIT.sub(" ", title.strip().strip('"').strip())
    if not text or len(text) > 80 or _NUMBER.fullmatch(text):
        return None
    if _CELL.fullmatch(plain(text)):
        return Meaning(q.VOLTAGE, None, 2)
    if _NO_READING.search(plain(text)) or (_MAINS.search(text) and not re.search(r"\bDC\b", text)):
        return Meaning(q.OTHER)
    unit = None
    rest = text
    for found in (BRACKET.search(text), _TRAILING.search(text)):
        unit = unit_of(found.group(1)) if found else None
        if found and unit is not None:
            rest = text[: found.start()] + " " + text[found.end() :]
            break
    whole = _by_words(_bare_words(text))
    if unit is not None and unit.quantity == q.TIME and whole in (q.CHARGE, q.ENERGY):
        unit, rest = None, text  # "Amp-hr" is not a time
    words = _bare_words(rest)
    doubt = _doubt_of(words) + 2 * (unit is not None and re.search(r"\bAC\b", text) is not None)
    quantity = _by_words(words)
    if quantity in _ELECTRIC and _NO_UNIT.search(plain(text)):
        return Meaning(q.OTHER)
    if text.rstrip(")]}").endswith("%"):
        return Meaning(q.GAUGE if _GAUGE.search(words) else q.OTHER)
    if unit is not None and unit.quantity in (q.CHARGE, q.ENERGY):
        return Meaning(q.OTHER) if quantity == q.OTHER else Meaning(unit.quantity, unit, doubt, _way(words))
    if quantity in (q.CHARGE, q.ENERGY):
        if unit is not None and unit.quantity in q.MEASURED:
            quantity = unit.quantity  # such as "charge [A]", a current
        else:
            milli = re.search(r"\bm(?=a|w)", words) is not None
            return Meaning(quantity, Unit(quantity, 1e-3) if milli else None, doubt, _way(words))
    if unit is not None and unit.quantity == q.TIME and quantity in (*q.MEASURED, q.VALUE):
        # "Amps min" is the lowest reading of an interval, not minutes.
        unit = None
        doubt = _doubt_of(_bare_words(text))
    if unit is None and "%" in text and quantity in q.MEASURED:
        return Meaning(q.OTHER)
    if unit is not None and unit.quantity == q.OTHER:
        return Meaning(q.OTHER, unit)
    if unit is not None and quantity in (None, q.VALUE):
        return Meaning(unit.quantity, unit, doubt + (quantity is None and bool(_OURS.sub("", words).strip())))
    if quantity is None:
        return None
    if unit is not None and unit.quantity != quantity:
        if quantity in _ELECTRIC and unit.quantity in _ELECTRIC:
            return Meaning(unit.quantity, unit, doubt + 1)
        if unit.quantity == q.TEMPERATURE and quantity == q.TIME:  # "Temps (°C)", in English
            return Meaning(q.TEMPERATURE, unit, doubt)
        unit = None
    if quantity == q.TIME:
        first = unit_of(words.split()[0]) if words and unit is None else None
        unit = first if first is not None and first.quantity == q.TIME and first.scale < 1 else unit
        doubt += 2 * (_SHORT_CLOCK.search(words) is not None)
    return Meaning(quantity, unit, doubt, _way(words) if quantity == q.CURRENT else 0)


_ENGLISH = re.compile(
    r"time|date|day|clock|stamp|when|elapsed|second|minute|hour|epoch|current|amp|volt|temp|power|watt|millis"
)


def is_foreign(title: str) -> bool:
    """Whether a title says what it means in a word that is not English.

    >>> [is_foreign(x) for x in ("Horodatage", "Date", "Stroom [A]", "t", "Shunt [A]")]
    [True, False, True, False, False]
    """
    words = _bare_words(title)
    return (
        re.search(r"\w{4}", words) is not None and not _ENGLISH.search(words) and _by_words(words) is not None
    )


_ELECTRIC = (q.CURRENT, q.VOLTAGE, q.POWER)
_JOINED_UNIT = re.compile(r"(?<=[a-z])(?=m[AVW]h?\b)")
_NUMBER = re.compile(r"[-+\d.,:;/ ]*(e[-+]?\d+)?", re.IGNORECASE)
_NO_READING = re.compile(r"\bd[vqie]m?/? ?d[vqite]\b|/ ?m?g\b|\bspec\b|specific|\bc-?rate\b|\bk?m ?/ ?[hs]\b")
_NO_UNIT = re.compile(r"[\[(] ?(c|c[- ]?rate|1/h|h-1|p\.?u\.?|counts?|lsb|bits?|digits?|dbm?v?) ?[\])]")
"""What is neither amps nor volts although it is called so: per gram, multiples of the capacity, counts."""
_CELL = re.compile(r"(?:v ?)?(?:cell|zelle|cellule|celda|cel|cella) ?#?\d{1,2}(?: ?v)?")


def may_be_titles(cells: Sequence[str]) -> bool:
    """Whether a line may hold titles: two cells or more, most of them not numbers.

    >>> may_be_titles(["time", "amps", "2"]), may_be_titles(["1", "2,5"]), may_be_titles(["1;2;3"])
    (True, False, False)
    """
    filled = [c for c in cells if c]
    numbers = sum(_NUMBER.fullmatch(c) is not None for c in filled)
    return len(filled) > 1 and 2 * numbers < len(filled)


_MAINS = re.compile(r"\b[AV] ?AC\b|\bAC ?[AV]\b|\b(VAC|AAC)\b|\bmains\b")
_CAMEL = re.compile(r"(?<=[a-z])(?<!\b[mkuµ])(?=[A-Z])")
_OURS = re.compile(r"\b(battery|batt?|akku|pack|load|total|main|dc|meas|measured|cal|calibrated|bus)\b")
"""Words beside a unit that say that it is measured at the pack."""


def _bare_words(text: str) -> str:
    words = plain(_CAMEL.sub(" ", text.replace("_", " ")))
    return re.sub(r"[^\w%/()|+-]+", " ", words).strip()


def _way(words: str) -> int:
    """Which way a counter counts by its words: 1 out of the pack, -1 into it, 0 where they do not say."""
    return 1 if _DISCHARGE.search(words) else -1 if _CHARGED.search(words) else 0


def _doubt_of(words: str) -> int:
    return sum(weight for pattern, weight in _DOUBT if pattern.search(words)) - bool(_MEASURED.search(words))


def _by_words(words: str) -> str | None:
    if not words:
        return None
    words = re.sub(r"^current (?=time|date|clock)", "", words)  # the time now, not amps
    words = re.sub(r"^(data|datum|date|fecha|den|dag) \w{1,2} (?=\w{3})", r"\1 ", words)  # "data i godzina"
    is_time, is_date = bool(_TIME_WORDS.search(words)), bool(_DATE_WORDS.search(words))
    for quantity, pattern in _STEMS:
        if re.search(pattern, words):
            if (
                is_time
                and quantity in (q.POWER, q.VALUE, q.OTHER, q.VOLTAGE, q.CURRENT)
                and re.match(r"(time|zeit|t)\b", words)
            ):
                break
            return quantity
    if is_time:
        return q.TIME
    return q.DATE if is_date else None
