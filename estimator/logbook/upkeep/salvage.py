"""Keep what can still be read of a damaged logbook file, in a new one; nothing is taken over unverified."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from estimator.errors import InputError
from estimator.logbook.handle import Logbook, told
from estimator.logbook.opening import make_sqlite, sqlite_engine
from estimator.logbook.records.changes import RENAMED
from estimator.logbook.records.uploads import put_bytes
from estimator.logbook.sqlite_file import BUSY_S, connect_sqlite, is_there
from estimator.logbook.tables import (
    LOOK,
    SUMMED,
    about,
    changes,
    events,
    file_bytes,
    files,
    lawns,
    machines,
    metadata,
    mows,
    packs,
)
from estimator.logbook.upkeep.checksums import holds, with_sum
from estimator.logbook.upkeep.compression import decompressed
from estimator.logbook.upkeep.copying import number_on
from estimator.logbook.upkeep.parity import mended
from estimator.logbook.upkeep.sqlite_pages import found_rows


@dataclass(frozen=True)
class SalvageReport:
    """What was kept, and in sentences what was lost or put together from the history."""

    mows: int
    files: int
    notes: tuple[str, ...]


@dataclass
class _Finds:
    rows: dict[str, dict[Any, dict[str, Any]]] = field(default_factory=lambda: {t.name: {} for t in SUMMED})
    blobs: dict[int, bytes] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def salvage(source: str | Path, target: str | Path) -> SalvageReport:
    """Read a damaged logbook file, row by row and then page by page, and keep in a new file all rows whose
    checksums hold. Derived figures are left out, to be worked out anew; the damaged file stays as it is.

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
        raise InputError(f"{old} is no file", mend="name the damaged logbook")
    if is_there(new):
        raise InputError(f"{new} is there already", mend="name a new file")
    finds = _Finds()
    with _held(old) as connection:
        for table_name, row in _by_sql(connection) if connection is not None else ():
            _sort_in(finds, table_name, row)
        for found in found_rows(old.read_bytes()):
            _recognise(finds, found.rowid, found.cells)
    if not any(finds.rows.values()) and not finds.blobs:
        raise InputError("nothing of a logbook is left in it", file=old, mend="restore a backup")
    _mend_from_history(finds)
    make_sqlite(new)
    with Logbook(sqlite_engine(new), str(new), new) as book, book.writing() as connection:
        kept_files = _insert(connection, finds, new)
        number_on(connection)
    return SalvageReport(len(finds.rows["mows"]), kept_files, tuple(finds.notes))


@contextmanager
def _held(path: Path) -> Iterator[sqlite3.Connection | None]:
    """What SQLite reads of a file, with writers held off meanwhile; None where it does not even begin."""
    try:
        connection = connect_sqlite(path, BUSY_S)
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
    """What SQLite itself still reads, with what stands in its write-ahead file."""
    for table in (*SUMMED, file_bytes):
        try:
            for cells in connection.execute(f"SELECT {', '.join(_names(table))} FROM {table.name}"):
                yield table.name, dict(zip(_names(table), cells, strict=True))
        except (sqlite3.Error, UnicodeDecodeError):
            continue


def _sort_in(finds: _Finds, table_name: str, row: dict[str, Any]) -> None:
    if table_name == "file_bytes":
        if isinstance(row["packed"], bytes):
            finds.blobs.setdefault(row["file_id"], _whole(row["packed"], row["guard"]))
        return
    table = metadata.tables[table_name]
    key = next(iter(table.primary_key.columns)).name
    if row[key] not in finds.rows[table_name] and holds(table, row):
        finds.rows[table_name][row[key]] = row


def _recognise(finds: _Finds, rowid: int, cells: tuple[Any, ...]) -> None:
    """A row from a page belongs to the table under whose name its checksum holds."""
    if len(cells) == 3 and cells[0] is None and isinstance(cells[1], bytes):
        if rowid not in finds.blobs or _digest(finds.blobs[rowid]) is None:
            finds.blobs[rowid] = _whole(cells[1], cells[2])
        return
    for table in SUMMED:
        names = _names(table)
        if len(cells) != len(names):
            continue
        row = dict(zip(names, cells, strict=True))
        row |= {"id": rowid} if "id" in row else {}
        row |= {name: float(row[name]) for name in _reals(table) if isinstance(row[name], int)}
        _sort_in(finds, table.name, row)


def _whole(packed: bytes, guard: Any) -> bytes:
    """Kept bytes, damage in one place mended where their guard is there."""
    found = mended(packed, guard) if isinstance(guard, bytes) else None
    return packed if found is None else found


def _names(table: sa.Table) -> list[str]:
    return [column.name for column in table.columns]


def _reals(table: sa.Table) -> list[str]:
    return [column.name for column in table.columns if isinstance(column.type, sa.Double)]


def _mend_from_history(finds: _Finds) -> None:
    """Put lost descriptions and mows together from the edits that the history kept of them."""
    told: dict[str, dict[str, Any]] = {}
    for number in sorted(finds.rows["changes"]):
        row = finds.rows["changes"][number]
        if row["what"] == "purged":
            told.pop(row["subject"], None)
        elif row["what"] == RENAMED:
            _rename(told, row["subject"], json.loads(row["before"])["name"], json.loads(row["after"]))
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
                text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
                row = {"name": name, "plain": text, "since": ""}
                finds.rows[table.name][name] = with_sum(table, row)
                finds.notes.append(f"{kind} {name!r} was put together from the history")
    for subject, after in told.items():
        mow_id = int(subject.removeprefix("mow ")) if subject.startswith("mow ") else 0
        if mow_id and mow_id not in finds.rows["mows"] and set(after) >= set(_names(mows)) - {"id", "sum"}:
            said = {name: after.get(name) for name in _names(mows) if name != "sum"}
            finds.rows["mows"][mow_id] = with_sum(mows, {**said, "id": mow_id})
            finds.notes.append(f"mow {mow_id} was put together from the history")
        _mend_files(finds, mow_id, after.get("files", ()))


def _rename(told: dict[str, dict[str, Any]], subject: str, old: str, plain: dict[str, Any]) -> None:
    """Let what the history told of a description, and of its mows, go on under its new name."""
    kind = subject.split(" ", 1)[0]
    told.pop(f"{kind} {old}", None)
    told[subject] = plain
    for other, after in told.items():
        if other.startswith("mow ") and after.get(kind) == old:
            after[kind] = plain["name"]


def _mend_files(finds: _Finds, mow_id: int, kept: Sequence[Mapping[str, Any]]) -> None:
    """Put back what the history says of the files of a mow, with the bytes that have their checksum."""
    known = {row["sha256"] for row in finds.rows["files"].values()}
    for position, file in enumerate(kept):
        if file["sha256"] in known or mow_id not in finds.rows["mows"]:
            continue
        found = [number for number, blob in finds.blobs.items() if _digest(blob) == file["sha256"]]
        number = found[0] if found else max([0, *finds.blobs, *finds.rows["files"]]) + 1
        codec = _codec(finds.blobs[number]) if found else "plain"
        row = {**file, "id": number, "mow_id": mow_id, "position": position, "codec": codec}
        finds.rows["files"][number] = with_sum(files, row)
        finds.notes.append(f"what is said of {file['name']} (mow {mow_id}) was put together from the history")


def _insert(connection: sa.Connection, finds: _Finds, target: Path) -> int:
    for table in SUMMED:
        if table in (mows, files, events, changes):
            continue
        _insert_all(connection, table, finds.rows[table.name].values())
    for mow_id, row in sorted(finds.rows["mows"].items()):
        lost = [kind for kind in ("lawn", "pack", "machine") if _lost(finds, kind, row[kind])]
        if lost:
            finds.notes.append(f"mow {mow_id} is lost: nothing is left of its {lost[0]} {row[lost[0]]!r}")
            del finds.rows["mows"][mow_id]
    _insert_all(connection, mows, finds.rows["mows"].values())
    kept = {
        number: row
        for number, row in finds.rows["events"].items()
        if not _lost(finds, "machine", row["machine"])
    }
    _insert_all(connection, events, kept.values())
    _insert_all(connection, changes, finds.rows["changes"].values())
    connection.execute(sa.delete(about).where(about.c.name == LOOK))  # these mows may be older
    return _insert_files(connection, finds, target)


def _lost(finds: _Finds, kind: str, name: str | None) -> bool:
    return name is not None and name not in finds.rows[f"{kind}s"]


def _insert_all(connection: sa.Connection, table: sa.Table, rows: Any) -> None:
    listed = list(rows)
    if listed:
        connection.execute(sa.insert(table), listed)


def _insert_files(connection: sa.Connection, finds: _Finds, target: Path) -> int:
    whole = 0
    for file_id, row in sorted(finds.rows["files"].items()):
        if row["mow_id"] not in finds.rows["mows"]:
            finds.notes.append(f"{row['name']} belonged to mow {row['mow_id']}, which is lost")
            continue
        connection.execute(sa.insert(files).values(**row))
        if file_id not in finds.blobs or _digest(finds.blobs[file_id]) != row["sha256"]:
            finds.notes.append(
                f"mow {row['mow_id']}: the bytes of {row['name']} are lost; upload the file again"
            )
            continue
        put_bytes(connection, file_id, finds.blobs.pop(file_id))
        whole += 1
    known = {row["sha256"] for row in finds.rows["files"].values() if row["mow_id"] in finds.rows["mows"]}
    for file_id, packed in sorted(finds.blobs.items()):
        if _digest(packed) not in {None, *known}:
            loose = target.with_name(f"{target.stem}-loose-file-{file_id}")
            loose.write_bytes(decompressed(_codec(packed), packed))
            finds.notes.append(f"an uploaded file whose mow is lost was written to {loose.name}")
    owners = {row["mow_id"] for row in finds.rows["files"].values()}
    for mow_id in sorted(set(finds.rows["mows"]) - owners):
        finds.notes.append(f"mow {mow_id}: nothing is left of its files")
    return whole


def _codec(packed: bytes) -> str:
    """The codec that bytes were compressed by, told from how they begin."""
    if packed.startswith(b"BZh"):
        return "bz2"
    try:
        decompressed("zlib", packed)
    except ValueError:
        return "plain"
    return "zlib"


def _digest(packed: bytes) -> str | None:
    """SHA-256 of what bytes decompress to; None where they are damaged."""
    try:
        return hashlib.sha256(decompressed(_codec(packed), packed)).hexdigest()
    except ValueError:
        return None
