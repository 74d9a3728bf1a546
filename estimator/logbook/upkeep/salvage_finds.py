"""What is found in a damaged logbook file, sorted by table, and what can be rebuilt from its history."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from estimator.logbook.records.changes import MERGED, RENAMED
from estimator.logbook.tables import SUMMED, files, lawns, machines, metadata, mows, packs
from estimator.logbook.upkeep.checksums import canonical, holds, with_sum
from estimator.logbook.upkeep.compression import decompressed
from estimator.logbook.upkeep.parity import mended


@dataclass
class Finds:
    """Rows by table and key, uploaded bytes by number, and sentences on what was lost or rebuilt."""

    rows: dict[str, dict[Any, dict[str, Any]]] = field(default_factory=lambda: {t.name: {} for t in SUMMED})
    blobs: dict[int, bytes] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def sort_in(finds: Finds, table_name: str, row: dict[str, Any]) -> None:
    """Keep a row of a table, or the bytes of a file, unless it was already found."""
    if table_name == "file_bytes":
        if isinstance(row["packed"], bytes):
            finds.blobs.setdefault(row["file_id"], _whole(row["packed"], row["guard"]))
        return
    table = metadata.tables[table_name]
    key = next(iter(table.primary_key.columns)).name
    if row[key] not in finds.rows[table_name] and holds(table, row):
        finds.rows[table_name][row[key]] = row


def recognise(finds: Finds, rowid: int, cells: tuple[Any, ...]) -> None:
    """Sort in a row from a page: bytes of a file, or a row of the table for which its checksum matches."""
    if len(cells) == 3 and cells[0] is None and isinstance(cells[1], bytes):
        if rowid not in finds.blobs or digest_of(finds.blobs[rowid]) is None:
            finds.blobs[rowid] = _whole(cells[1], cells[2])
        return
    for table in SUMMED:
        names = column_names(table)
        if len(cells) != len(names):
            continue
        row = dict(zip(names, cells, strict=True))
        row |= {"id": rowid} if "id" in row else {}
        reals = [column.name for column in table.columns if isinstance(column.type, sa.Double)]
        row |= {name: float(row[name]) for name in reals if isinstance(row[name], int)}
        sort_in(finds, table.name, row)


def _whole(packed: bytes, guard: Any) -> bytes:
    """Kept bytes, with damage in one place mended where their guard was found."""
    found = mended(packed, guard) if isinstance(guard, bytes) else None
    return packed if found is None else found


def column_names(table: sa.Table) -> list[str]:
    """The columns of a table in their order."""
    return [column.name for column in table.columns]


def mend_from_history(finds: Finds) -> None:
    """Rebuild lost descriptions and mows from their edits in the history."""
    told: dict[str, dict[str, Any]] = {}
    for number in sorted(finds.rows["changes"]):
        row = finds.rows["changes"][number]
        if row["what"] == "purged":
            told.pop(row["subject"], None)
        elif row["what"] in (RENAMED, MERGED):
            old, after = json.loads(row["before"])["name"], json.loads(row["after"])
            _rename(told, row["subject"], old, after)
        elif row["after"] is not None:
            told[row["subject"]] = {**told.get(row["subject"], {}), **json.loads(row["after"])}
    for table in (lawns, packs, machines):
        kind = table.name.removesuffix("s")
        wanted = {row[kind] for row in finds.rows["mows"].values()} | {
            after.get(kind) for subject, after in told.items() if subject.startswith("mow ")
        }
        for name in sorted({name for name in wanted if name} - set(finds.rows[table.name])):
            plain = told.get(f"{kind} {name}")
            if plain is not None:
                row = {"name": name, "plain": canonical(plain), "since": ""}
                finds.rows[table.name][name] = with_sum(table, row)
                finds.notes.append(f"{kind} {name!r} was put together from the history")
    for subject, after in told.items():
        mow_id = int(subject.removeprefix("mow ")) if subject.startswith("mow ") else 0
        if (
            mow_id
            and mow_id not in finds.rows["mows"]
            and set(after) >= set(column_names(mows)) - {"id", "sum"}
        ):
            said = {name: after.get(name) for name in column_names(mows) if name != "sum"}
            finds.rows["mows"][mow_id] = with_sum(mows, {**said, "id": mow_id})
            finds.notes.append(f"mow {mow_id} was put together from the history")
        _mend_files(finds, mow_id, after.get("files", ()))


def _rename(told: dict[str, dict[str, Any]], subject: str, old: str, plain: dict[str, Any]) -> None:
    """Move what the history says of a description and of its mows to its new name."""
    kind = subject.split(" ", 1)[0]
    told.pop(f"{kind} {old}", None)
    told[subject] = plain
    for other, after in told.items():
        if other.startswith("mow ") and after.get(kind) == old:
            after[kind] = plain["name"]


def _mend_files(finds: Finds, mow_id: int, kept: Sequence[Mapping[str, Any]]) -> None:
    """Put back what the history says of a mow's files, each with the bytes that match its checksum."""
    known = {row["sha256"] for row in finds.rows["files"].values()}
    for position, file in enumerate(kept):
        if file["sha256"] in known or mow_id not in finds.rows["mows"]:
            continue
        found = [number for number, blob in finds.blobs.items() if digest_of(blob) == file["sha256"]]
        number = found[0] if found else max([0, *finds.blobs, *finds.rows["files"]]) + 1
        codec = codec_of(finds.blobs[number]) if found else "plain"
        row = {**file, "id": number, "mow_id": mow_id, "position": position, "codec": codec}
        finds.rows["files"][number] = with_sum(files, row)
        finds.notes.append(f"what is said of {file['name']} (mow {mow_id}) was put together from the history")


def codec_of(packed: bytes) -> str:
    """The codec that bytes were compressed with, recognised by how they begin."""
    if packed.startswith(b"BZh"):
        return "bz2"
    try:
        decompressed("zlib", packed)
    except ValueError:
        return "plain"
    return "zlib"


def digest_of(packed: bytes) -> str | None:
    """SHA-256 of the decompressed bytes; None where they are damaged."""
    try:
        return hashlib.sha256(decompressed(codec_of(packed), packed)).hexdigest()
    except ValueError:
        return None
