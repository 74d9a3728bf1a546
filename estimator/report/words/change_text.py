"""Edits of a mow or a description in plain words, and the findings of a check as text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from estimator.amounts import AMOUNTS
from estimator.logbook import Change
from estimator.logbook.records.mow_values import HAND, PART, decisions_said
from estimator.logbook.upkeep.checking import CheckReport
from estimator.report.words.text import bullets, counted
from estimator.written_days import day_and_time

_NAMES = {
    "started": "start",
    "current_zero_a": "zero of the current (standard uncertainty)",
    "current_gain": "gain of the current (standard uncertainty)",
    "voltage_zero_v": "zero of the voltage (standard uncertainty)",
    "voltage_gain": "gain of the voltage (standard uncertainty)",
}
"""Words for fields that are not among the amounts that people give."""
_FOLLOWS = ("removed", "notes")
"""Fields that follow from an action or a decision, and need no clause of their own."""


def changed_words(change: Change) -> list[str]:
    """What one edit changed, a clause for each field; nothing where something was added or deleted.

    That a mow was removed or restored is said by the action, not by the time that is kept for it.

    >>> before = {"start_charge": None, "lawn": "verge", "tags": "[]"}
    >>> after = {"start_charge": 1.0, "lawn": "verge", "tags": '["new cable"]'}
    >>> changed_words(Change("mow 3", "2025-05-01T09:00:00Z", "edited", before, after))
    ['start charge was not given, now 100 %', 'tags were none, now new cable']
    >>> before = {"resistance_ohm": 0.081, "minutes": 14.0}
    >>> after = {"resistance_ohm": 0.0855, "minutes": 44 / 3}
    >>> changed_words(Change("pack crate", "2025-05-01T09:00:00Z", "edited", before, after))
    ['resistance was 0.081 ohm, now 0.0855 ohm', 'minutes of mowing was 14 min, now 14.67 min']
    >>> read, corrected = ({"decisions": f'{{"hand": {{"typical_a": {amps}}}}}'} for amps in (71.0, 15.0))
    >>> changed_words(Change("mow 3", "2025-05-01T09:00:00Z", "edited", read, corrected))
    ['typical current was 71 A, now 15 A']
    >>> whole, part = {"decisions": "{}"}, {"decisions": '{"part": [0.0, 1050.0]}'}
    >>> changed_words(Change("mow 3", "2025-05-01T09:00:00Z", "split", whole, part))
    ['part was the whole log, now minute 0 to minute 17.5']
    """
    if not change.before or not change.after:
        return []
    before, after = _each_apart(change.before), _each_apart(change.after)
    return [
        f"{field_words(name)} {'were' if name == 'tags' else 'was'} {_words(name, before.get(name))}, "
        f"now {_words(name, after.get(name))}"
        for name in dict.fromkeys((*after, *before))
        if name not in _FOLLOWS and before.get(name) != after.get(name)
    ]


def _each_apart(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was said, with each decision on the files and each corrected hand reading as a field."""
    decided = decisions_said(said)
    return {**said, "decisions": None, **decided, HAND: None, **(decided.get(HAND) or {})}


def field_words(name: str) -> str:
    """What people read for a field of a description or a mow.

    >>> field_words("temperature_c"), field_words("series")
    ('temperature', 'series count')
    """
    return AMOUNTS[name].words if name in AMOUNTS else _NAMES.get(name, name.replace("_", " "))


def _words(name: str, value: Any) -> str:
    if name == "tags" and isinstance(value, str):
        value = json.loads(value)
    if name == PART:
        begin_s, end_s = value or (0.0, None)
        until = "the end" if end_s is None else f"minute {end_s / 60:.4g}"
        return "the whole log" if value is None else f"minute {begin_s / 60:.4g} to {until}"
    if isinstance(value, list | tuple):
        return ", ".join(str(each) for each in value) or "none"
    if value is None or value == "":
        return "not given"
    if value is True:
        return "yes"
    if not isinstance(value, int | float):
        return day_and_time(datetime.fromisoformat(str(value))) if name == "started" else str(value)
    known = AMOUNTS.get(name)
    if name.endswith("_gain") or (known and known.share):
        return f"{100 * value:.3g} %"
    if name == "days_since_cut":
        return f"{value:g} days"
    shown = round(value, 2) if value > 1 else value  # a resistance is some hundredths of an ohm
    return f"{shown:g} {known.unit if known else {'_v': 'V', '_a': 'A'}.get(name[-2:], '')}".rstrip()


def check_text(found: CheckReport, width: int) -> str:
    """One line if all is well, else one for each problem.

    >>> check_text(CheckReport(mows=3, files=4, file_bytes=5000, problems=()), 72)
    'All is well: 3 mows, 4 files, 5000 bytes; every checksum holds.'
    """
    mended = bullets(found.mended, width)
    kept = f"{counted(found.mows)}, {counted(found.files, 'file')}, {found.file_bytes} bytes"
    if not found.problems:
        return "\n".join([*mended, f"All is well: {kept}; every checksum holds."])
    heading = f"{counted(len(found.problems), 'problem')} in {kept}:"
    return "\n".join([*mended, heading, *bullets(found.problems, width)])
