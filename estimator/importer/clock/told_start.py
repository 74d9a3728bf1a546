"""When a log began whose rows hold no date, by the lines above them or the name of the file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import PurePath

import numpy as np

from estimator.errors import InputError
from estimator.importer.clock.alike import stamps_of
from estimator.importer.clock.clock_axes import dated
from estimator.importer.clock.stamps import style_of
from estimator.mends import Give, Note

_DATE = re.compile(
    r"(?<![\d.:/-])(?:\d{4}([-/.])\d{1,2}\1\d{1,2}|\d{1,2}([-/.])\d{1,2}\2(?:\d{4}|\d{2})"
    r"|\d{1,2}\.? ?[^\W\d]{3,10}\.?,? \d{4}|[^\W\d]{3,10}\.? \d{1,2},? \d{4})(?![\d/-]|\.\d)"
)
_OF_DAY = re.compile(r"(?<![\d:.])\d{1,2}:\d{2}(?::\d{2})?(?:\s?[ap]\.?\s?m\b\.?)?", re.IGNORECASE)
_EPOCH = re.compile(r"(?<![\d.])(1\d{9})(?:\d{3})?\W*$")
_NAMED = re.compile(
    r"(?<!\d)(?:(?P<y>20\d\d)([-_.]?)(?P<m>0[1-9]|1[0-2])\2(?P<d>0[1-9]|[12]\d|3[01])"
    r"|(?P<d2>0?[1-9]|[12]\d|3[01])\.(?P<m2>0?[1-9]|1[0-2])\.(?P<y2>20\d\d))(?!\d)"
    r"(?:[T _-]{1,3}(?P<h>[01]\d|2[0-3])[-_.:h]?(?P<min>[0-5]\d)(?:[-_.:]?(?P<s>[0-5]\d))?(?!\d))?"
)
_BEGIN = re.compile(
    r"start|begin|began|beginn|anfang|debut|début|inicio|aufzeichnung|aufgez|inizio|of test", re.I
)
_LATER = re.compile(
    r"export|print|today|saved|created|generat|erstellt|heute|gedruckt|\bend|stop|fin\b", re.I
)
_NOT_OF_THE_LOG = re.compile(
    r"calib|kalib|firmware|\bfw\b|vers|licen|built|compil|copyright|\(c\)|serial|\bs/?n\b|\bid\b|expir|\bdue\b",
    re.I,
)
_CLOCK_LINE = re.compile(r"\W*(?:\w+ )?(?:time|zeit|uhrzeit|heure|hora|tijd|ora|czas)\b", re.I)
_NO_INSTANT = re.compile(r"interval|intervall|duration|dauer|period|rate|elapsed|sampl", re.I)
_FIRST_YEAR = 2000
"""An earlier year means that the logger's clock was not set."""


@dataclass(frozen=True)
class ToldStart:
    """When a log began, the notes on it, and whether only the file's name says so, time of day included."""

    at: datetime
    notes: tuple[str, ...]
    by_name: bool = False


def told_start(
    above: Sequence[str],
    name: str,
    clock_s: float | None,
    day_first: bool | None,
    usual: bool | None,
    likely: bool,
) -> ToldStart | None:
    """When a log began whose rows hold no date; None where nothing says so, or where two days are named.

    above : the lines up to the first reading, which may hold its date in a column that is not used
    name : of the file; clock_s : time of day [s] of the first reading, None where rows count elapsed time
    day_first, usual : as for `dated`; likely : whether the log's language puts the day first

    >>> told_start(["Recorded 17.04.2025"], "log.csv", 36300.0, None, None, False).at
    datetime.datetime(2025, 4, 17, 10, 5)
    >>> told_start([], "20250420_verge.csv", None, None, None, False).notes
    ("Dated 2025-04-20 by the file's name; started overrules it.",)
    """
    by, told = "a line at its top", _of_lines(above, day_first, usual, likely)
    by_name = told is None
    if told is None:
        by, told = "the file's name", _of_name(PurePath(name).name)
    if told is None:
        return None
    at, notes = told.at, told.notes
    if clock_s is not None:
        at = datetime(at.year, at.month, at.day) + timedelta(seconds=clock_s)
    said = Note(f"Dated {at:%Y-%m-%d} by {by}", (Give("started"), " overrules it"))
    return ToldStart(at, (*notes, said), by_name and clock_s is None)


def day_first_by_name(name: str, first: int, second: int) -> bool | None:
    """Whether the day comes first in a date such as 05/04, where the file's name holds that date; else None.

    >>> [day_first_by_name(f"log 2025-{rest}.csv", 5, 4) for rest in ("04-05", "05-04", "06-07")]
    [True, False, None]
    """
    told = _of_name(PurePath(name).name)
    found = None if told is None or first == second else (told.at.day, told.at.month)
    return {(first, second): True, (second, first): False}.get(found) if found else None


def _of_lines(lines: Sequence[str], *order: bool | None) -> ToldStart | None:
    kept = [line for line in lines if not _NOT_OF_THE_LOG.search(line)]
    begin = [line for line in kept if _BEGIN.search(line) and not _LATER.search(line)]
    plain = [line for line in kept if not _LATER.search(line)]
    for some in (begin, plain, kept):
        found = [told for line in some for told in _in_line(line, *order)]
        if len({told.at.date() for told in found}) > 1:
            return None
        if found:
            clocks = {told.at for told in found if told.at.time() != datetime.min.time()}
            if not clocks:
                stamps = (f"{found[0].at:%Y-%m-%d} {clock}" for line in some if (clock := _clock_of(line)))
                clocks = {told.at for stamp in stamps for told in _in_line(stamp, *order)}
            return ToldStart(clocks.pop() if len(clocks) == 1 else found[0].at, found[0].notes)
    return None


def _clock_of(line: str) -> str | None:
    if not (_CLOCK_LINE.match(line) or _BEGIN.search(line)) or _NO_INSTANT.search(line):
        return None
    found = _OF_DAY.search(line)
    return found.group() if found else None


def _in_line(
    line: str, day_first: bool | None, usual: bool | None, likely: bool | None
) -> Iterator[ToldStart]:
    """The dates in a line, with the time of day it holds, and seconds since 1970 at its end."""
    if len(line) > 300:
        return
    clock = _OF_DAY.search(line)
    for found in _DATE.finditer(line):
        stamp = f"{found.group()} {clock.group() if clock else '00:00'}"
        style = style_of([stamp])
        if style is None or not ("year" in style or "month" in style):
            continue
        stamps = stamps_of([stamp], style)
        stamps = replace(stamps, day_likely_first=bool(likely))
        try:
            axis = dated(stamps, np.zeros(1, np.int64), day_first, usual)
        except InputError:
            continue
        if axis.base is not None and _may_be(axis.base):
            yield ToldStart(axis.base, axis.notes)
    epoch = _EPOCH.search(line)
    if epoch and _may_be(at := datetime.fromtimestamp(int(epoch.group(1)), UTC).replace(tzinfo=None)):
        yield ToldStart(at, ())


def _of_name(name: str) -> ToldStart | None:
    """The only date in a name, with its time of day if there is one."""
    days = set()
    for found in _NAMED.finditer(name):
        g = found.groupdict(default="0")
        year, month, day = (int(g[k] if g[k] != "0" else g[f"{k}2"]) for k in ("y", "m", "d"))
        try:
            days.add(datetime(year, month, day, int(g["h"]), int(g["min"]), int(g["s"])))
        except ValueError:
            continue
    at = days.pop() if len(days) == 1 else None
    return ToldStart(at, ()) if at is not None and _may_be(at) else None


def _may_be(at: datetime) -> bool:
    return at.year >= _FIRST_YEAR and at < datetime.now() + timedelta(days=2)
