"""The uploaded bytes, kept unchanged: compressed, checksummed, and recognised when uploaded again."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from estimator.errors import AlreadyKept, InputError, LogbookError
from estimator.logbook.handle import Logbook
from estimator.logbook.records.changes import insert_summed, update_summed
from estimator.logbook.tables import file_bytes, files, mows
from estimator.logbook.upkeep.compression import compressed, decompressed
from estimator.logbook.upkeep.parity import guard_of, mended


@dataclass(frozen=True)
class KeptFile:
    """An uploaded file: its name, size [bytes] and the SHA-256 of its bytes as uploaded."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class ReadyFile:
    """A file ready to be kept: compressed where that makes it smaller."""

    file: KeptFile
    codec: str
    data: bytes


def ready_file(name: str, data: bytes) -> ReadyFile:
    """Checksum and compress the bytes of a file.

    >>> ready = ready_file("mow.csv", b"time,amps\\n" * 100)
    >>> ready.file.size, ready.codec, len(ready.data) < 100
    (1000, 'bz2', True)
    """
    if not data:
        raise InputError("the file is empty", file=name, mend="export it from the meter again")
    tidy = name.replace("\\", "/").rsplit("/", 1)[-1].encode("utf-8", "replace").decode().replace("\0", "")
    kept = KeptFile(tidy or "unnamed", len(data), hashlib.sha256(data).hexdigest())
    squeezed = compressed("bz2", data)
    if len(squeezed) < len(data):
        return ReadyFile(kept, "bz2", squeezed)
    return ReadyFile(kept, "plain", data)


def refuse_known(connection: sa.Connection, file: KeptFile) -> None:
    """Raise AlreadyKept, naming the mow, where the same bytes are kept already under whatever file name."""
    row = connection.execute(
        sa.select(files.c.mow_id, files.c.name, mows.c.removed)
        .join(mows, mows.c.id == files.c.mow_id)
        .where(files.c.sha256 == file.sha256)
    ).one_or_none()
    if row is None:
        return
    raise AlreadyKept(file.name, row.mow_id, kept_as=row.name, removed=row.removed is not None)


def put_files(connection: sa.Connection, mow_id: int, ready_files: Sequence[ReadyFile]) -> None:
    """Insert the files of a mow inside a transaction that is already open."""
    for position, ready in enumerate(ready_files):
        refuse_known(connection, ready.file)
        file_id = insert_summed(
            connection,
            files,
            {
                "mow_id": mow_id,
                "position": position,
                "name": ready.file.name,
                "size": ready.file.size,
                "sha256": ready.file.sha256,
                "codec": ready.codec,
            },
        )
        put_bytes(connection, file_id, ready.data)


def put_bytes(connection: sa.Connection, file_id: int, packed: bytes) -> None:
    """Insert the bytes of a file with their guard."""
    connection.execute(sa.insert(file_bytes).values(file_id=file_id, packed=packed, guard=guard_of(packed)))


@dataclass(frozen=True)
class Whole:
    """The bytes of an upload as kept (packed) and as uploaded (data)."""

    packed: bytes
    data: bytes


def whole(codec: str, sha256: str, packed: bytes | None, guard: bytes | None) -> Whole | None:
    """The kept bytes of an upload, mended from their guard if need be; None where the checksum still fails.

    Where they had to be mended, `packed` of the result is not the object that was passed in.
    """
    tried = packed
    for _ in range(2):
        if tried is None:
            return None
        try:
            data = decompressed(codec, tried)
        except ValueError:
            data = None
        if data is not None and hashlib.sha256(data).hexdigest() == sha256:
            return Whole(tried, data)
        tried = None if guard is None else mended(tried, guard)
    return None


def as_uploaded(where: str, mow_id: int, row: Any) -> bytes:
    """The bytes of a file as uploaded, with damage in one place mended; LogbookError where more is damaged.

    row : name, codec, sha256, packed and guard of the file
    """
    found = whole(row.codec, row.sha256, row.packed, row.guard)
    if found is None:
        raise LogbookError(
            f"{where}: the bytes of {row.name} (mow {mow_id}) are damaged",
            mend="restore a backup, or repair them with the same file (logbook repair)",
        )
    return found.data


def mend_bytes(book: Logbook, name: str, data: bytes) -> int:
    """Replace the damaged or lost bytes of a file by the same file; returns the number of its mow.

    Raises InputError for bytes whose checksum belongs to no mow.
    """
    ready = ready_file(name, data)
    with book.writing() as connection:
        row = (
            connection.execute(sa.select(files).where(files.c.sha256 == ready.file.sha256))
            .mappings()
            .one_or_none()
        )
        if row is None:
            raise InputError(
                "belongs to no mow of the logbook", file=ready.file.name, mend="add it as a new mow"
            )
        update_summed(connection, files, {**row, "codec": ready.codec})
        connection.execute(sa.delete(file_bytes).where(file_bytes.c.file_id == row["id"]))
        put_bytes(connection, row["id"], ready.data)
        return int(row["mow_id"])
