"""Files named on the command line, and what is said about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

from estimator.errors import InputError
from estimator.mends import Give, worded_for
from estimator.written import with_point
from estimator.written_days import moment

if TYPE_CHECKING:
    from estimator.importer.log import SpotNotes


def notes_of(readings: Any, files: Sequence[str] | None) -> SpotNotes | None:
    """The hand readings that were given; None where there are none, InputError where files are named too."""
    from estimator.importer.log import SpotNotes

    notes = SpotNotes(**asdict(readings))
    if notes == SpotNotes():
        return None
    if files:
        raise InputError("a file and readings by hand are given", mend="give one of the two")
    return notes


def read_files(names: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    """Names and bytes of files; InputError for what cannot be read."""
    found = []
    for name in names:
        path = Path(name)
        try:
            found.append((path.name, path.read_bytes()))
        except IsADirectoryError:
            raise InputError("is a folder", file=path, mend="name a file in it") from None
        except FileNotFoundError:
            raise InputError("is not there", file=path, mend="check its name and folder") from None
        except (OSError, ValueError) as error:
            said = getattr(error, "strerror", None) or "that is not the name of a file"
            raise InputError(f"cannot be read ({said})", file=path, mend="check its permissions") from None
    return tuple(found)


def instant(text: str | None, before: datetime | None = None) -> datetime | None:
    """A date, or a date and time, as the user wrote it; what it does not name stays as it was before."""
    return None if text is None else moment(text, before=before)


def decisions(
    overrules: Sequence[str] | None,
    columns: Sequence[str] | None = None,
    interval_s: float | None = None,
    gap_s: float | None = None,
    sheet: str | None = None,
) -> dict[str, Any]:
    """Decisions for the importer, from texts NAME=VALUE; numbers and yes/no are recognised.

    >>> decisions(["day_first=yes", "offset_s=-37.5", "zero_a=0,05"], ["current=Amps", "voltage=3"])
    {'day_first': True, 'offset_s': -37.5, 'zero_a': 0.05, 'columns': {'current': 'Amps', 'voltage': 3}}
    """
    found = {name.replace("-", "_"): _value(text) for name, text in _pairs(overrules, "decision")}
    if columns:
        titles = dict(_pairs(columns, "column"))
        if "state" in titles:
            found["state"] = titles.pop("state")
        if titles:
            found["columns"] = {what: int(text) if text.isdigit() else text for what, text in titles.items()}
    told = {"interval_s": interval_s, "gap_s": gap_s, "sheet": sheet}
    return found | {name: value for name, value in told.items() if value is not None}


_DECIDED = ("day_first", "decimal", "gaps", "offset_s", "reverse", "zero_a")
"""Decisions that `--decide` takes; the others have options of their own."""


def as_option(give: Give) -> str:
    """What a mend asks for, written as the option that gives it.

    >>> as_option(Give("columns", "3[mA]", "current")), as_option(Give("day_first", False))
    ('--column current=3[mA]', '--decide day_first=no')
    >>> as_option(Give("interval_s", 0.5)), as_option(Give("started")), as_option(Give("sheet", "May 3"))
    ('--interval-s 0.5', '--started', "--sheet 'May 3'")
    """
    if give.quantity:
        return f"--column {give.quantity}={give.plain_value}"
    if give.name in _DECIDED:
        return f"--decide {give.name}={give.plain_value}"
    return f"--{give.name.replace('_', '-')}" + ("" if give.value is None else f" {quote(give.plain_value)}")


def noted(notes: Sequence[str]) -> tuple[str, ...]:
    """Notes on decisions, each with the option that overrules it."""
    return worded_for(notes, as_option)


def _pairs(words: Sequence[str] | None, what: str) -> list[tuple[str, str]]:
    found = []
    for word in words or ():
        name, mark, text = word.partition("=")
        if not mark or not name.strip():
            raise InputError(f"{what} {word!r} has no value", mend="write it as name=value")
        found.append((name.strip(), text.strip()))
    return found


def _value(text: str) -> Any:
    if text.casefold() in ("yes", "true", "on"):
        return True
    if text.casefold() in ("no", "false", "off"):
        return False
    try:
        return float(with_point(text))
    except ValueError:
        return text


def day(text: str | None) -> date | None:
    """A day as the user wrote it."""
    return None if text is None else moment(text).date()
