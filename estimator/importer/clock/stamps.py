"""Time stamps taken apart: dates in any order, clocks, elapsed times, plain numbers.

Here a stamp is only split into parts; what the parts mean (day or month first, midnight, summer time) is
decided from the whole file in `clocks`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from estimator.importer.arrays import Floats, Ints
from estimator.importer.table.numbers import Cell, number
from estimator.importer.table.quantities import plain

_TIME = (
    r"(?:(?P<days>\d{1,4})\s?(?:d|days?|tage?|jours?|j|dias?|dagen?)\.?,?\s*)?(?P<h>\d{1,5}):(?P<m>\d{1,2})"
    r"(?::(?P<s>\d{1,2})(?:[.,:](?P<f>\d{1,9}))?|[.,](?P<mf>\d{1,9}))?"
    r"\s?(?P<half>[ap]\.?\s?m\.?)?\s?(?P<zone>Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?|[A-Z]{2,4}[TZ])?"
)
_AFTER_DATE = _TIME.replace(":(?P<m>", "(?P<mark>[:.])(?P<m>").replace("(?::(?P<s>", "(?:(?P=mark)(?P<s>")
"""After a date, 9.14.07 can only be a clock."""
_DAY = r"(?:[^\W\d]{2,10}\.?,?\s)?"
_NAMED_DAY = r"(?P<name>[^\W\d]{3,10})\.?\s{1,2}(?P<a>\d{1,2})\s"
_JOIN = r"(?:(?:\s?T\s?|[ ,;]{1,3}|\s-\s|,?\s(?:kl|um|at|à|om|alle|a las)\.?\s)" + _AFTER_DATE + r")"
_MARK = r"(?:[-/ ]|\. ?)"
_YEAR_LAST = rf"(?P<a>\d{{1,2}}){_MARK}(?P<b>\d{{1,2}}){_MARK}(?P<c>\d{{4}}|\d{{2}})"
_YEAR_FIRST = r"(?P<a>\d{4})[-/.年년] ?(?P<b>\d{1,2})[-/.月월] ?(?P<c>\d{1,2})[.日일]?"
STYLES: dict[str, re.Pattern[str]] = {
    name: re.compile(pattern, re.IGNORECASE)
    for name, pattern in (
        ("year first", _DAY + _YEAR_FIRST + _JOIN),
        ("year last", _DAY + _YEAR_LAST + _JOIN),
        ("short year first", r"(?P<a>\d{2})[-/.](?P<b>\d{2})[-/.](?P<c>\d{2})" + _JOIN),
        ("no year", _DAY + r"(?P<a>\d{1,2})[-/.](?P<b>\d{1,2})\.?(?:\s?T\s?|[ ,;]{1,3})" + _TIME),
        ("named month", _DAY + r"(?P<a>\d{1,2})\.?[ -]?(?P<name>[^\W\d]{3,10})\.?[ ,-]{0,2}(?P<c>\d{4}|"
                               r"\d{2})?" + _JOIN),
        ("month named first", _DAY + r"(?P<name>[^\W\d]{3,10})\.?\s(?P<a>\d{1,2}),?\s(?P<c>\d{4})" + _JOIN),
        ("year at the end", _DAY + _NAMED_DAY + _TIME + r"\s(?P<c>\d{4})"),
        ("month without year", _DAY + _NAMED_DAY + _TIME),
        ("clock", _TIME),
        ("dotted clock", r"(?P<h>\d{1,2})\.(?P<m>\d{2})\.(?P<s>\d{2})(?:[.,](?P<f>\d{1,9}))?"),
        ("lettered clock", r"(?P<h>\d{1,3})\s?h\s?(?P<m>\d{1,2})(?:\s?(?:m|min|')?\s?(?P<s>\d{1,2})\s?s?)?"),
        ("compact", r"(?P<a>\d{4})(?P<b>\d{2})(?P<c>\d{2})(?:[T "
                    r"_-]?(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})(?P<zone>Z)?)"),
    )
}  # fmt: skip
FIRST_YEAR = 2015
"""Earlier dates come from a clock that was never set (common practice)."""
CLOCKS = ("clock", "dotted clock", "lettered clock")
"""The styles that hold no date."""
_MONTHS = {
    "jan": 1, "ene": 1, "feb": 2, "fev": 2, "mar": 3, "mrt": 3,
    "maa": 3, "mrz": 3, "apr": 4, "avr": 4, "abr": 4,
    "may": 5, "mai": 5, "mei": 5, "jun": 6, "jul": 7, "aug": 8, "aou": 8, "ago": 8, "sep": 9, "set": 9,
    "okt": 10, "oct": 10, "out": 10, "nov": 11, "dec": 12, "dez": 12, "dic": 12,
}  # fmt: skip


@lru_cache(maxsize=256)
def _month(name: str) -> int | None:
    bare = plain(name)
    if bare.startswith("juin"):
        return 6
    if bare.startswith("juil"):
        return 7
    return _MONTHS.get(bare[:3])


@dataclass(frozen=True)
class Stamps:
    """The parts of n stamps in one style.

    date : (n, 3) the three date fields as written (year, month, day for named months); zeros where missing
    seconds : (n,) seconds of the clock or the plain number
    zone_s : (n,) seconds east of Greenwich, nan where none is written
    short : whether the clock has only two fields (h:mm or mm:ss)
    example : one of them as written
    day_likely_first : whether dates that can be read both ways probably begin with the day
    """

    style: str
    date: Ints
    seconds: Floats
    zone_s: Floats
    short: bool
    example: str = ""
    day_likely_first: bool = False

    @property
    def date_written(self) -> str:
        """The date of the example in the file's own form."""
        found = STYLES[self.style].fullmatch(self.example.strip())
        last = "b" if self.style == "no year" else "c"
        return found.string[found.start("a") : found.end(last)] if found else self.example


@dataclass(frozen=True)
class Parts:
    """The parts of one stamp."""

    a: int
    b: int
    c: int
    seconds: float
    zone_s: float
    short: bool


_NAN = float("nan")


def parts(text: str, style: str, decimal: str = ".") -> Parts | None:
    """One stamp taken apart in one style, None where it does not fit that style.

    >>> parts("25.11.2026 09:14:07", "year last").seconds
    33247.0
    """
    text = text.strip()
    if len(text) > 64:
        return None
    if style == "number":
        cell = number(text, decimal)
        return Parts(0, 0, 0, cell.value, _NAN, False) if cell.kind is Cell.NUMBER else None
    found = STYLES[style].fullmatch(text)
    if not found:
        return None
    g = {name: text for name, text in found.groupdict().items() if text is not None}
    month = _month(g["name"]) if "name" in g else 0
    told = {name: int(text) for name, text in g.items() if name in FIELDS}
    if month is None or not may_be_clock(style, told):
        return None
    if "half" in g:
        told["half"] = 1 + (g["half"][0] in "pP")
    (a, b, c), seconds = put_together(style, told, {name: len(g[name]) for name in told}, month)
    zone = g.get("zone", "").upper()
    zone_s = 0.0 if zone in ("Z", "UTC", "GMT") else _NAN
    if zone[:1] in ("+", "-"):  # a name such as CEST only says what the clock on the wall shows
        digits = zone[1:].replace(":", "")
        zone_s = (int(digits[:2]) * 3600.0 + int(digits[2:] or 0) * 60) * (-1 if zone[0] == "-" else 1)
    return Parts(a, b, c, seconds, zone_s, "h" in g and "s" not in g and "mf" not in g)


FIELDS = ("a", "b", "c", "days", "h", "m", "s", "f", "mf")
"""The fields of a stamp that are numbers: of its date, of its clock, and fractions of a second or minute."""


def may_be_clock(style: str, highest: Mapping[str, int]) -> bool:
    """Whether a clock can have fields as high as these."""
    at = highest.get
    return at("m", 0) < 60 and at("s", 0) <= 60 and (style in CLOCKS or at("h", 0) <= 24)


def put_together(
    style: str, told: Mapping[str, Any], digits: Mapping[str, int], month: int
) -> tuple[tuple[Any, Any, Any], Any]:
    """The three date fields and the seconds of the day, of one stamp or of many (n,).

    told : the fields, and half, which is 1 for am and 2 for pm; digits : how many digits each field has
    month : the month of a date that names it, else 0
    """
    at = told.get
    hours = at("h", 0) if "half" not in told else told["h"] % 12 + 12 * (told["half"] == 2)
    minute_s = 1.0 if "mf" in told else 60.0
    seconds = at("days", 0) * 86400.0 + hours * (60 * minute_s) + at("m", 0) * minute_s + at("s", 0)
    for name in {"f", "mf"} & told.keys():
        seconds = seconds + told[name] / 10.0 ** digits[name]
    year = "c" if month else {"year last": "c", "short year first": "a"}.get(style)
    a, b, c = (at(k, 0) + 2000 * (k == year and digits.get(k) == 2) for k in "abc")
    return ((c, month, a) if month else (a, b, c)), seconds


@lru_cache(maxsize=4096)
def _fits(text: str, style: str, decimal: str) -> bool:
    return parts(text, style, decimal) is not None


def style_of(cells: Iterable[str], decimal: str = ".") -> str | None:
    """The style that fits most of a sample of stamps, None where no style fits half of them.

    >>> style_of(["2026-05-04T09:14:07Z"]), style_of(["9:14:07 PM"]), style_of(["0.5"]), style_of(["orchard"])
    ('year first', 'clock', 'number', None)
    """
    sample = [c for c in cells if c.strip()][:24]
    best, most = None, 0
    for style in (*STYLES, "number"):
        fits = sum(_fits(c, style, decimal) for c in sample)
        if fits > most:
            best, most = style, fits
        if fits == len(sample) > 0 and style != "compact":
            break
    if best == "year last":
        told = ((c.strip()[2], parts(c, "short year first")) for c in sample)
        # 26-07-05 begins with its year if that is a likely one and hyphens say so or no likely one is last
        if all(p and may_be_year(p.a) and (m == "-" or not may_be_year(2000 + p.c)) for m, p in told):
            best = "short year first"
    return best if most * 2 >= max(1, len(sample)) else None


def may_be_year(year: int) -> bool:
    """Whether a log may date from this year."""
    return FIRST_YEAR <= year <= datetime.now().year
