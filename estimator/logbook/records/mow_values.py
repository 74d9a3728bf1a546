"""What the logbook holds of a mow, and the columns that it is kept in."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from estimator.amounts import check_amount
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.logbook.records.descriptions import check_text
from estimator.logbook.records.names import kept_name, kept_tag
from estimator.logbook.records.uploads import KeptFile
from estimator.logbook.upkeep.checksums import canonical

EDITABLE = (
    "lawn", "grass", "pack", "machine", "started", "start_charge", "temperature_c", "tags", "notes",
    "decisions",
)  # fmt: skip


_AS_KEPT = (
    "id", "lawn", "pack", "machine", "start_charge", "temperature_c", "notes", "added", "removed"
)  # fmt: skip
FILES_OF, PART, HAND = "files_of", "part", "hand"
"""Keys among a mow's decisions: the mow whose files it is read from, where it has none of its own; where in
the log it begins and ends [s]; the hand readings that were corrected."""
FIGURES_REST_ON = {"pack", "start_charge", "temperature_c", "decisions"}
"""Edits that change the figures of a mow's readings; the rest of a mow is read again for every answer."""


@dataclass(frozen=True)
class MowRecord:
    """A mow as the logbook lists it, without its readings.

    lawn, pack, machine : names of descriptions; started : by the meter's clock; start_charge : 0..1;
    temperature_c : of the air [°C]; tags : words that group mows; decisions : what overrules the importer;
    added, removed : instants in UTC, `removed` is None for a mow in use
    """

    id: int
    lawn: str
    grass: Grass = field(default_factory=Grass)
    pack: str | None = None
    machine: str | None = None
    started: datetime | None = None
    start_charge: float | None = None
    temperature_c: float | None = None
    tags: tuple[str, ...] = ()
    notes: str = ""
    decisions: Mapping[str, Any] = field(default_factory=dict)
    files: tuple[KeptFile, ...] = ()
    added: str = ""
    removed: str | None = None


def order_of(record: MowRecord) -> tuple[bool, str, int]:
    """The key by which mows are sorted: start, then number; mows of unknown start come last.

    >>> order_of(MowRecord(7, "orchard")) > order_of(MowRecord(8, "orchard", started=datetime(2025, 5, 1)))
    True
    """
    started = "" if record.started is None else record.started.isoformat()
    return record.started is None, started, record.id


def column_values(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was said of a mow, as values of its columns."""
    values: dict[str, Any] = {}
    for name, value in said.items():
        if name == "grass":
            value = value or Grass()
            values |= {
                "moisture": value.moisture,
                "growth_mm": _real(value.growth_mm),
                "days_since_cut": _real(value.days_since_cut),
            }
        elif name == "started":
            values[name] = None if value is None else value.replace(tzinfo=None).isoformat()
        elif name in ("start_charge", "temperature_c"):
            values[name] = _real(value)
        elif name in ("lawn", "pack", "machine"):
            values[name] = None if value is None else kept_name(value)
        elif name == "tags":
            values[name] = canonical(list(dict.fromkeys(tag for tag in map(kept_tag, value) if tag)))
        elif name == "decisions":
            try:
                values[name] = canonical(dict(value))
            except (TypeError, ValueError) as error:
                raise InputError(f"the import decisions cannot be kept as JSON ({error})") from error
        else:
            values[name] = value
    for name in ("start_charge", "temperature_c"):
        check_amount(name, values.get(name))
    for name in ("notes", "tags"):
        check_text(f"the {name}", values.get(name, ""))
    return values


def _real(value: float | None) -> float | None:
    """A float that every database gives back unchanged; SQLite has no negative zero."""
    return None if value is None else float(value) + 0.0


def decisions_said(said: Mapping[str, Any] | None) -> dict[str, Any]:
    """The decisions in one side of a kept change, which holds them as a row does, as text.

    >>> decisions_said({"decisions": '{"reverse": true}'}), decisions_said({"lawn": "verge"})
    ({'reverse': True}, {})
    """
    told = (said or {}).get("decisions") or {}
    return json.loads(told) if isinstance(told, str) else dict(told)


def record_of(row: Mapping[str, Any], kept: tuple[KeptFile, ...]) -> MowRecord:
    """The record for a row of the table of mows, with its files."""
    return MowRecord(
        **{name: row[name] for name in _AS_KEPT},
        grass=Grass(row["moisture"], row["growth_mm"], row["days_since_cut"]),
        started=None if row["started"] is None else datetime.fromisoformat(row["started"]),
        tags=tuple(json.loads(row["tags"])),
        decisions=json.loads(row["decisions"]),
        files=kept,
    )
