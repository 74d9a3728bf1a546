"""How figures and short messages are worded on the page."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from estimator.answers.why import within
from estimator.errors import MowchargeError
from estimator.mends import Door
from estimator.page.showing.decision_fields import holds, labelled
from estimator.report.words.answer_text import certainty
from estimator.report.words.change_text import changed_words
from estimator.report.words.described_text import area_words
from estimator.report.words.mow_text import band_words, compared_words, in_100, left_words
from estimator.report.words.text import HALF_UP, UNIT, counted, figure
from estimator.results import odds

_LEFT_ALONE = r"<(option|textarea|script|style|svg)\b.*?</\2>|<[^>]*>"
_DAY = r"(?<![\w.-])(?<!as )(\d{4}-\d\d-\d\d)(?![\w-]|\.\w)( (?=\d\d:))?"
_LONG_MONTH = re.compile(r"([A-Z][a-z]{2})[a-z]+")
_DAY_IN_PICTURE = re.compile(r"(?<=>)([^<]*?)\b(\d{4}-\d\d-\d\d)\b")
_BEFORE_UNIT = re.compile(
    rf"({_LEFT_ALONE})|{_DAY}"
    rf"|(?<=\d) (?=(?:<span class=\"unit\">)?{UNIT})|(?<=±) ",
    re.DOTALL,
)
_CLAUSE_END = re.compile(r"[;.] ")
SAID = {
    "dropped": "Thrown away. Nothing of it was kept.",
    "changed": "Changed. The old value stays in the history.",
    "removed": "Removed. It can be restored here, and later under Logbook.",
    "restored": "Restored.",
    "purged": "Gone for good.",
    "described": "Described.",
    "renamed": "Renamed. Its mows and its history went with it.",
    "merged": "Merged. The other one has its mows now.",
    "deleted": "Deleted. Its description stays in the history.",
    "counts": "It counts from now on.",
    "aside": "Set aside: no answer rests on it.",
    "short": "Tagged as stopped short: it says nothing about the whole lawn.",
    "split": "Split. This is the second mow; the first keeps its number.",
    "again": "This file is in the logbook already; here it is.",
    "paired": "This device is paired now.",
    "closed": "No device is paired any more, and unused links no longer work.",
    "revoked": "That device is no longer let in.",
}
"""Sentences that a page may begin with; an address can only name one of them, not bring its own."""


def amount(value: float | None, unit: str = "") -> str:
    """A figure with three significant digits and its unit.

    >>> amount(61.23, "Wh"), amount(0.01234, "Wh/m²"), amount(None, "Ah"), amount(12345, "Wh")
    ('61.2 Wh', '0.0123 Wh/m²', 'unknown', '12345 Wh')
    """
    if value is None or not math.isfinite(value):
        return figure(value)
    text = f"{value:.0f}" if abs(value) >= 100 else f"{value:#.3g}" if value else "0"
    return f"{text.rstrip('.')} {unit}".rstrip()


def percent(value: float | None) -> str:
    """A fraction in whole percent.

    >>> percent(0.512), percent(None)
    ('51 %', 'unknown')
    """
    return "unknown" if value is None or value != value else f"{100 * value:.0f} %"


def percents(low: float, high: float) -> str:
    """The ends of a band of fractions in whole percent.

    >>> percents(0.772, 0.82)
    '77 to 82 %'
    """
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def day(value: date | datetime | str | None) -> str:
    """A date as people say it.

    >>> day("2025-05-04T09:14:07"), day(None)
    ('4 May 2025', 'day unknown')
    """
    if value is None or value == "":
        return "day unknown"
    try:
        found = date.fromisoformat(str(value)[:10])
    except ValueError:
        return str(value)
    return f"{found.day} {found:%B %Y}"


def minutes(value: float | None) -> str:
    """Minutes; from two hours on, hours and minutes.

    >>> minutes(31.4), minutes(150), minutes(float("inf"))
    ('31 min', '2 h 30 min', 'no end in sight')
    """
    if value is None or not math.isfinite(value):
        return figure(value)
    whole = round(value + HALF_UP)
    return f"{whole} min" if whole < 120 else f"{whole // 60} h {whole % 60:02d} min"


def span(low: float, high: float) -> str:
    """From so many minutes to so many.

    >>> span(14.6, 35), span(61, 127)
    ('15 to 35 min', '61 min to 2 h 07 min')
    """
    return f"{low:.0f} to {minutes(high)}" if high < 119.5 else f"{minutes(low)} to {minutes(high)}"


def sentence(error: Exception | str, door: Door = labelled) -> str:
    """What went wrong, as a sentence; `door` words what a mend asks for.

    >>> sentence("give a number"), sentence("may.csv, row 2: no volts")
    ('Give a number.', 'may.csv, row 2: no volts.')
    """
    line = error.said(door) if isinstance(error, MowchargeError) else str(error)
    first = line.split(" ", 1)[0]
    opening = line[:1] if set(first) & set("._") else line[:1].upper()
    return opening + line[1:] + ("" if line.endswith((".", "?")) else ".")


def unbroken(page: str) -> str:
    """The HTML with dates in words, and without line breaks inside them or between figures and units; what
    forms send back, figures in pictures, names of files and how to write a date stay as they are.

    >>> unbroken('<p title="9 %">90 % of 8.4 Ah</p><option>plot of 5 m</option>')
    '<p title="9 %">90\xa0% of 8.4\xa0Ah</p><option>plot of 5 m</option>'
    >>> unbroken("<b>2026-01-01.csv from 2026-01-01 09:30 on</b>")
    '<b>2026-01-01.csv from 1\xa0January\xa02026, 09:30 on</b>'
    """
    return _BEFORE_UNIT.sub(_joined, page)


def _joined(found: re.Match[str]) -> str:
    left_alone, kind, date_written, time_follows = found.groups()
    if date_written:
        return day(date_written).replace(" ", "\u00a0") + (", " if time_follows else "")
    if kind == "svg":
        # as short as it was: two of them stand side by side below a picture
        return _DAY_IN_PICTURE.sub(lambda text: text[1] + _LONG_MONTH.sub(r"\1", day(text[2])), left_alone)
    return left_alone or "\u00a0"


def clauses(text: str) -> list[str]:
    """The first clause of a long verdict and the rest, as two sentences; the second is blank without a rest.

    >>> clauses("The highest current is 17.6 A; no limit was given."), clauses("Look at the reel.")
    (['The highest current is 17.6 A.', 'No limit was given.'], ['Look at the reel.', ''])
    """
    first, *rest = _CLAUSE_END.split(text, maxsplit=1)
    return [sentence(first), *map(sentence, rest)] if rest else [sentence(first), ""]


FILTERS: dict[str, Callable[..., Any]] = {
    "number": lambda value, digits=0: figure(value, digits=digits),
    "amount": amount,
    "percent": percent,
    "to": percents,
    "certainty": certainty,
    "odds": odds,
    "day": day,
    "epoch_day": lambda seconds: day(datetime.fromtimestamp(seconds)),
    "minutes": minutes,
    "span": span,
    "within": within,
    "counted": counted,
    "area": area_words,
    "clauses": clauses,
    "changed": changed_words,
    "compared": compared_words,
    "band": band_words,
    "left": left_words,
    "in_100": in_100,
    "holds": holds,
    "listed": lambda names: " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:]))),
}
