"""Days and hours as people write them."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from estimator.errors import InputError

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_WEEKDAY = rf"({'|'.join(_WEEKDAYS)})(?:[a-z]*day|s|rs?)?"
_CLOCK = re.compile(
    r"(?:\bat\b|t(?=\d))?\s*(?<!\d)(?P<hour>\d{1,2})"
    r"(?:(?::|\.(?=\d\d\s*[ap]\.?m\b))(?P<minute>\d\d)(?::(?P<second>\d\d))?)?"
    r"(?:\s*(?P<half>[ap])\.?m\b\.?)?"
)
_DATE_MEND = "write it as 2025-05-01 or 2025-05-01T09:30, or as 12 Sep 2026, yesterday or 9:30"


def day_and_time(at: datetime) -> str:
    """A moment as it is shown; midnight stands for a day given without an hour.

    >>> day_and_time(datetime(2026, 9, 12, 9, 30)), day_and_time(datetime(2026, 9, 12))
    ('2026-09-12 09:30', '2026-09-12')
    """
    return f"{at:%Y-%m-%d}" if at.time() == time() else f"{at:%Y-%m-%d %H:%M}"


def moment(text: str, now: datetime | None = None, before: datetime | None = None) -> datetime:
    """A date, or a date and time, as a person writes it; today where no day is named.

    now : what today and yesterday are counted from; the computer's clock if left out
    before : what was said before; a day or a time of day that is not named stays as it was there

    Raises InputError for what is not a date, and for a date whose day and month may be swapped.

    >>> at = datetime(2026, 9, 14, 18, 0)
    >>> str(moment("12 Sep 2026", at)), str(moment("yesterday at 9:30", at)), str(moment("sat 2 pm", at))
    ('2026-09-12 00:00:00', '2026-09-13 09:30:00', '2026-09-12 14:00:00')
    >>> str(moment("Sat 12 Sep 10:00", at)), str(moment("10 May 10.15am", at))
    ('2026-09-12 10:00:00', '2026-05-10 10:15:00')
    >>> spring = datetime(2026, 4, 11, 9, 30)
    >>> [str(moment(each, at, spring)) for each in ("10:12", "yesterday", "2026-04-12")]
    ['2026-04-11 10:12:00', '2026-09-13 09:30:00', '2026-04-12 09:30:00']
    >>> moment("3/4/2026", at)
    Traceback (most recent call last):
    ...
    estimator.errors.InputError: date '3/4/2026' may be 3 April or 4 March; write 3 Apr 2026 or 4 Mar 2026
    """
    try:
        told = datetime.fromisoformat(text.strip()).replace(tzinfo=None)
        return told if before is None or ":" in text else datetime.combine(told, before.time())
    except ValueError:
        pass
    now, words = now or datetime.now(), text.casefold().replace("noon", "12:00")
    at = time() if before is None else before.time()
    try:
        clock = next((each for each in _CLOCK.finditer(words) if each["minute"] or each["half"]), None)
        if clock:
            half = clock["half"]
            hour, minute, second = (int(each or 0) for each in clock.group("hour", "minute", "second"))
            if half and hour > 12 and not clock["minute"]:  # "10 May 10.15am" would be the year 2010
                raise ValueError(text)
            if half and 1 <= hour <= 12:
                hour = hour % 12 + 12 * (half == "p")
            at = time(hour, minute, second)
            words = f"{words[: clock.start()]} {words[clock.end() :]}".strip()
            words = words or f"{before or now:%Y-%m-%d}"
        words = " ".join(re.findall(r"[a-z]+|\d+|[/.-]", words))
        of_week = re.fullmatch(rf"{_WEEKDAY}(?: of| the| [.-])* (.*\d.*)", words)
        found = datetime.combine(_day(text, of_week[2] if of_week else words, now.date()), at)
    except ValueError:
        raise InputError(f"date {text[:40]!r} cannot be read", mend=_DATE_MEND) from None
    if of_week and _WEEKDAYS[found.weekday()] != of_week[1]:
        raise InputError(
            f"date {text[:40]!r}: {found.day} {found:%b %Y} is a {found:%A}",
            mend="correct the day or the date",
        )
    return found


def _day(text: str, words: str, today: date) -> date:
    """The day in words separated by spaces; ValueError where they are not a day."""
    if words in ("today", "now", "just now", "this morning", "this evening", "this afternoon"):
        return today
    if words in ("yesterday", "yesterday morning", "yesterday evening", "yesterday afternoon"):
        return today - timedelta(days=1)
    ago = re.fullmatch(r"(\d+) days? ago", words)
    if ago:
        return today - timedelta(days=int(ago[1]))
    named_day = re.fullmatch(rf"(?:last |on )?{_WEEKDAY}", words)
    if named_day:
        return today - timedelta(days=(today.weekday() - _WEEKDAYS.index(named_day[1])) % 7 or 7)
    turned = re.fullmatch(r"(\d{4}) ([/.-]) (\d{1,2}) \2 (\d{1,2})", words)
    if turned:
        return date(int(turned[1]), int(turned[3]), int(turned[4]))
    figures = re.fullmatch(r"(\d{1,2}) ([/.-]) (\d{1,2}) \2 (\d{4})", words)
    if figures:
        first, second, year = int(figures[1]), int(figures[3]), int(figures[4])
        if figures[2] == "." or first > 12 or first == second:
            return date(year, second, first)
        if second > 12:
            return date(year, first, second)
        one, other = date(year, second, first), date(year, first, second)
        raise InputError(
            f"date {text!r} may be {one.day} {one:%B} or {other.day} {other:%B}",
            mend=f"write {one.day} {one:%b} {year} or {other.day} {other:%b} {year}",
        )
    parts = [
        each for each in words.split() if each not in (".", "-", "/", "of", "the", "st", "nd", "rd", "th")
    ]
    named = [each for each in parts if each.isalpha()]
    numbers = [int(each) for each in parts if each.isdigit()]
    months = [place for place, name in enumerate(_MONTHS, start=1) if named and named[-1].startswith(name)]
    if len(named) != 1 or not months or len(numbers) not in (1, 2):
        raise ValueError(words)
    if len(numbers) == 2:
        day, year = sorted(numbers)
        return date(year if year > 99 else 2000 + year, months[0], day)
    found = date(today.year, months[0], numbers[0])
    return found if found <= today + timedelta(days=1) else found.replace(year=today.year - 1)
