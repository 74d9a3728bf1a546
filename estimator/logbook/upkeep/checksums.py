"""Checksums of rows, and JSON whose text is the same for the same content."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from functools import cache
from typing import Any

import sqlalchemy as sa

from estimator.logbook.handle import damaged, mappings

_encode = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode


def canonical(plain: Any) -> str:
    """JSON text with sorted keys and no spaces; the same content always gives the same text.

    >>> canonical({"b": 1.5, "a": "ü"})
    '{"a":"ü","b":1.5}'
    """
    return _encode(plain)


@cache
def _summed_names(table: sa.Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.columns if column.name != "sum")


def row_sum(table: sa.Table, values: Mapping[str, Any]) -> int:
    """CRC-32 over the table's name and every column of a row but the checksum; missing columns as null.

    It finds flipped bits in the words and figures of a row, which the database would not notice.

    >>> from estimator.logbook.tables import events
    >>> dry = row_sum(events, {"id": 1, "day": "2025-05-01", "kind": "blade care", "words": "sharpened"})
    >>> dry == row_sum(events, {"id": 1, "day": "2025-05-01", "kind": "blade care", "words": "sharpenee"})
    False
    """
    cells = [values.get(name) for name in _summed_names(table)]
    return zlib.crc32(canonical([table.name, cells]).encode())


def holds(table: sa.Table, row: Mapping[str, Any]) -> bool:
    """Whether a row matches its checksum."""
    try:
        return bool(row["sum"] == row_sum(table, row))
    except (TypeError, ValueError):
        return False


def verified_rows(where: str, connection: sa.Connection, chosen: sa.Select[Any]) -> list[dict[str, Any]]:
    """The selected rows of one table; LogbookError unless each matches its checksum."""
    (table,) = chosen.get_final_froms()
    assert isinstance(table, sa.Table)
    rows = list(mappings(connection, chosen))
    for row in rows:
        if not holds(table, row):
            key = row.get("id", row.get("name"))
            raise damaged(where, f"is damaged: row {key!r} of the {table.name} does not match its checksum")
    return rows


def with_sum(table: sa.Table, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values of a row with their checksum, ready to be inserted."""
    return {**values, "sum": row_sum(table, values)}
