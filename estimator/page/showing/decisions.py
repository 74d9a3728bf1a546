"""What the importer decided about a file, and how a user overrules it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.requests import Request

from estimator.answers.keeping.read_files import used_meters
from estimator.errors import InputError
from estimator.importer.cleaning.mending import Examined
from estimator.importer.read import examine_once
from estimator.page.door.forms import Sent, number_of
from estimator.page.showing.decision_fields import DECISIONS, QUANTITIES

METERS = ("meter_1", "meter_2")
"""The fields that name the meter of each file."""
YES_NO = {"yes": True, "no": False}


def touched_columns(sent: Sent) -> dict[str, str]:
    """Decisions from what was chosen for each column of a table; quantities that no column holds are blank.

    >>> said = touched_columns(Sent({"hold_1": "time", "hold_3": "current[mA]"}, {}))
    >>> said["column_current"], said["column_time"], said["column_voltage"]
    ('3[mA]', '1', '')
    """
    held = {name[5:]: sent.text(name) for name in sent.fields if re.fullmatch(r"hold_\d{1,3}", name)}
    if not any(held.values()):
        return {}
    said = {f"column_{quantity}": "" for quantity in QUANTITIES} | {"state": ""}
    for number, text in held.items():
        quantity, bracket, unit = text.partition("[")
        name = "state" if quantity == "state" else f"column_{quantity}"
        if name in said:
            said[name] = number + bracket + unit
    return said


def decisions_of(said: Mapping[str, str]) -> dict[str, Any]:
    """The overruled decisions in what was said of an upload, as the importer takes them.

    >>> decisions_of({"column_current": "3", "day_first": "yes", "zero_a": "0,1", "lawn": "orchard"})
    {'columns': {'current': 3}, 'day_first': True, 'zero_a': 0.1}
    """
    decisions: dict[str, Any] = {}
    columns = {
        quantity: int(text) if text.isdecimal() else text
        for quantity in QUANTITIES
        if (text := said.get(f"column_{quantity}", "").strip())
    }
    if columns:
        decisions["columns"] = columns
    for name in ("day_first", "reverse"):
        if said.get(name):
            if said[name] not in YES_NO:
                raise InputError(f"{name} is {said[name][:20]!r}", mend="say yes or no")
            decisions[name] = YES_NO[said[name]]
    for name in ("decimal", "gaps", "sheet", "state"):
        if said.get(name):
            decisions[name] = said[name]
    for name in ("zero_a", "offset_s", "interval_s", "gap_s"):
        value = number_of(Sent(said, {}), name, DECISIONS[name].label.lower())
        if value is not None:
            decisions[name] = value
    return decisions


def meters_of(said: Mapping[str, str]) -> tuple[str, ...]:
    """The meters that the user named for the files, each once.

    >>> meters_of({"meter_1": "shed clamp", "meter_2": ""})
    ('shed clamp',)
    """
    return tuple(dict.fromkeys(said[name] for name in METERS if said.get(name)))


def examine_upload(request: Request, files: Sequence[tuple[str, bytes]], said: Mapping[str, str]) -> Examined:
    """Read uploaded files within the page's limits, with every decision that was taken.

    said : what the user overruled and which meters they named; without names, meters are recognised by the
        titles of their files
    """
    book, settings = request.app.state.book, request.app.state.settings
    return examine_once(
        list(files),
        **decisions_of(said),
        meters=used_meters(book, meters_of(said)),
        max_bytes=settings.upload_bytes,
        max_rows=settings.upload_rows,
    )
