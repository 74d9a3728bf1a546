"""Keep in a new file what can still be read of a damaged logbook; nothing is taken over unverified."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from estimator.errors import InputError
from estimator.logbook.handle import Logbook, told
from estimator.logbook.opening import make_sqlite
from estimator.logbook.records.mow_values import FILES_OF
from estimator.logbook.records.uploads import put_bytes
from estimator.logbook.sqlite_file import connect_sqlite, is_there, sqlite_engine
from estimator.logbook.tables import LOOK, SUMMED, about, file_bytes, files
from estimator.logbook.upkeep.compression import decompressed
from estimator.logbook.upkeep.copying import number_on
from estimator.logbook.upkeep.salvage_finds import (
    Finds,
    codec_of,
    column_names,
    digest_of,
    mend_from_history,
    recognise,
    sort_in,
)
from estimator.logbook.upkeep.sqlite_pages import found_rows


@dataclass(frozen=True)
class SalvageReport:
    """What was kept, and in sentences what was lost or rebuilt from the history."""

    mows: int
    files: int
    notes: tuple[str, ...]


def salvage(source: str | Path, target: str | Path) -> SalvageReport:
    """Read a damaged logbook file row by row, then page by page, and keep all rows whose checksums match in a
    new file. Derived figures are left out, to be worked out again; the damaged file stays as it is.

    Uploaded bytes whose mow is lost are written beside the new file.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import keep_lawn, lawns, open_logbook
    >>> folder = getfixture("tmp_path")
    >>> with open_logbook(folder / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    >>> image = (folder / "logbook.sqlite").read_bytes()
    >>> _ = (folder / "logbook.sqlite").write_bytes(bytes(100) + image[100:])
    >>> salvage(folder / "logbook.sqlite", folder / "new.sqlite").notes
    ()
    >>> with open_logbook(folder / "new.sqlite") as book:
    ...     [lawn.name for lawn in lawns(book)]
    ['orchard']
    """
    old, new = Path(source).expanduser(), Path(target).expanduser()
    if not is_there(old) or not old.is_file():
        raise InputError(f"{old} is not a file", mend="name the damaged logbook")
    if is_there(new):
        raise InputError(f"{new} is there already", mend="name a new file")
    finds = Finds()
    with _held(old) as connection:
        for table_name, row in _by_sql(connection) if connection is not None else ():
            sort_in(finds, table_name, row)
        for found in found_rows(old.read_bytes()):
            recognise(finds, found.rowid, found.cells)
    if not any(finds.rows.values()) and not finds.blobs:
        raise InputError("nothing of a logbook is left in it", file=old, mend="restore a backup")
    mend_from_history(finds)
    make_sqlite(new)
    with Logbook(sqlite_engine(new), str(new), new) as book, book.writing() as connection:
        kept_files = _insert(connection, finds, new)
        number_on(connection)
    return SalvageReport(len(finds.rows["mows"]), kept_files, tuple(finds.notes))


@contextmanager
def _held(path: Path) -> Iterator[sqlite3.Connection | None]:
    """A connection to a file, with writers held off meanwhile; None where SQLite cannot even open it."""
    try:
        connection = connect_sqlite(path)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if _is_busy(error):
            raise told(str(path), error) from None
        yield None
        return
    with closing(connection):
        try:
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.DatabaseError as error:
            if _is_busy(error):
                raise told(str(path), error) from None
        yield connection


def _is_busy(error: Exception) -> bool:
    return (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF == sqlite3.SQLITE_BUSY


def _by_sql(connection: sqlite3.Connection) -> Iterator[tuple[str, dict[str, Any]]]:
    """The rows that SQLite itself can still read, including those in its write-ahead file."""
    for table in (*SUMMED, file_bytes):
        try:
            for cells in connection.execute(f"SELECT {', '.join(column_names(table))} FROM {table.name}"):
                yield table.name, dict(zip(column_names(table), cells, strict=True))
        except (sqlite3.Error, UnicodeDecodeError):
            continue


def _insert(connection: sa.Connection, finds: Finds, target: Path) -> int:
    for mow_id, row in sorted(finds.rows["mows"].items()):
        lost = [kind for kind in ("lawn", "pack", "machine") if _lost(finds, kind, row[kind])]
        if lost:
            finds.notes.append(f"mow {mow_id} is lost: nothing is left of its {lost[0]} {row[lost[0]]!r}")
            del finds.rows["mows"][mow_id]
    for number, row in list(finds.rows["events"].items()):
        if _lost(finds, "machine", row["machine"]):
            del finds.rows["events"][number]
    for table in SUMMED:  # rows that others refer to come first
        if table is not files and (rows := list(finds.rows[table.name].values())):
            connection.execute(sa.insert(table), rows)
    connection.execute(sa.delete(about).where(about.c.name == LOOK))  # these mows may be older
    return _insert_files(connection, finds, target)


def _lost(finds: Finds, kind: str, name: str | None) -> bool:
    return name is not None and name not in finds.rows[f"{kind}s"]


def _insert_files(connection: sa.Connection, finds: Finds, target: Path) -> int:
    whole = 0
    for file_id, row in sorted(finds.rows["files"].items()):
        if row["mow_id"] not in finds.rows["mows"]:
            finds.notes.append(f"{row['name']} belonged to mow {row['mow_id']}, which is lost")
            continue
        connection.execute(sa.insert(files).values(**row))
        if file_id not in finds.blobs or digest_of(finds.blobs[file_id]) != row["sha256"]:
            finds.notes.append(
                f"mow {row['mow_id']}: the bytes of {row['name']} are lost; upload the file again"
            )
            continue
        put_bytes(connection, file_id, finds.blobs.pop(file_id))
        whole += 1
    known = {row["sha256"] for row in finds.rows["files"].values() if row["mow_id"] in finds.rows["mows"]}
    for file_id, packed in sorted(finds.blobs.items()):
        if digest_of(packed) not in {None, *known}:
            loose = target.with_name(f"{target.stem}-loose-file-{file_id}")
            loose.write_bytes(decompressed(codec_of(packed), packed))
            finds.notes.append(f"an uploaded file whose mow is lost was written to {loose.name}")
    owners = {row["mow_id"] for row in finds.rows["files"].values()}
    for mow_id, row in sorted(finds.rows["mows"].items()):
        if json.loads(row["decisions"]).get(FILES_OF, mow_id) not in owners:
            finds.notes.append(f"mow {mow_id}: nothing is left of its files")
    return whole
