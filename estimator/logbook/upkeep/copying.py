"""Copy whole logbooks row by row, and tell whether two hold the same."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from estimator.logbook.handle import Logbook, in_one_line, mappings
from estimator.logbook.sqlite_file import connect_sqlite, half_beside
from estimator.logbook.tables import NUMBERED, about, changes, derived, file_bytes, files, metadata
from estimator.logbook.upkeep.checksums import canonical
from estimator.logbook.upkeep.compression import decompressed

_BATCH = 100
"""Rows read at a time, to bound the memory."""


def rows_of(connection: sa.Connection, table: sa.Table) -> Iterator[dict[str, Any]]:
    """The rows of a table in the order of its key, without holding them all in memory."""
    chosen = sa.select(table).order_by(*table.primary_key.columns)
    yield from mappings(connection, chosen.execution_options(yield_per=_BATCH))


def copy_rows(source: sa.Connection, target: sa.Connection) -> None:
    """Replace everything in the target with what the source holds, within the target's transaction."""
    for table in reversed(metadata.sorted_tables):
        target.execute(sa.delete(table))
    for table in metadata.sorted_tables:
        rows = rows_of(source, table)
        while some := list(islice(rows, _BATCH)):
            target.execute(sa.insert(table), some)
    number_on(target)


def number_on(connection: sa.Connection) -> None:
    """Make new rows numbered after the highest number ever used, even after rows were copied with theirs."""
    subjects = connection.scalars(
        sa.select(changes.c.subject).distinct().where(changes.c.subject.like("mow %"))
    )
    named = max((int(subject.removeprefix("mow ")) for subject in subjects), default=0)
    for table in NUMBERED:
        last = connection.scalar(sa.select(sa.func.max(table.c.id))) or 0
        last = max(last, named) if table.name == "mows" else last
        if connection.dialect.name == "postgresql":
            sequence = sa.func.setval(
                sa.func.pg_get_serial_sequence(table.name, "id"), max(last, 1), sa.literal(last > 0)
            )
            connection.execute(sa.select(sequence))
        else:
            connection.exec_driver_sql("DELETE FROM sqlite_sequence WHERE name = ?", (table.name,))
            connection.exec_driver_sql(
                "INSERT INTO sqlite_sequence(name, seq) VALUES (?, ?)", (table.name, last)
            )


def fingerprint(book: Logbook) -> str:
    """SHA-256 over all that a logbook holds; two logbooks with the same one hold the same.

    What does not count: how bytes are compressed, the order of rows, which each database sorts in its own
    way, and what is noted as done or shown once.
    """
    digests = []
    with book.reading() as connection:
        codecs = {row.id: row.codec for row in connection.execute(sa.select(files.c.id, files.c.codec))}
        for table in metadata.sorted_tables:
            for row in rows_of(connection, table):
                if table is about and row["name"] != "schema":
                    continue
                if table is derived:
                    row["packed"] = json.loads(zlib.decompress(row["packed"]))
                elif table is file_bytes:
                    del row["guard"]
                    row["packed"] = hashlib.sha256(
                        decompressed(codecs[row["file_id"]], row["packed"])
                    ).hexdigest()
                digests.append(hashlib.sha256(canonical([table.name, row]).encode()).digest())
    return hashlib.sha256(b"".join(sorted(digests))).hexdigest()


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy an SQLite file as it is at one moment, even while others write; the copy is whole or not there."""
    with half_beside(target, "choose another") as half:
        with closing(sqlite3.connect(half)) as new:
            with in_one_line(str(source)):
                old = connect_sqlite(source)
            with closing(old):
                with in_one_line(str(source)):
                    old.execute("SELECT count(*) FROM sqlite_schema").fetchone()
                with in_one_line(str(target)):
                    old.backup(new)
        half.replace(target)
