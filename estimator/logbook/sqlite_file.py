"""How SQLite opens a logbook's file: with its journal, read-only, on a full disk, in another file's place."""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from estimator.errors import LogbookError

BUSY_S = 60.0
"""How long readers, writers and copies wait for others [s]."""

ROOM_BYTES = 256 * 1024
"""How much of the disk stays free [bytes]: even to read a logbook, SQLite makes files beside it."""

WRITE_OPTION = "mowcharge_writing"


def connect_sqlite(path: Path) -> sqlite3.Connection:
    """A connection to an SQLite file; read-only where the file, its folder or its disk cannot be written."""
    connection = sqlite3.connect(_uri(path), timeout=BUSY_S, uri=True, check_same_thread=False)
    try:
        connection.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        code = (error.sqlite_errorcode or 0) & 0xFF
        no_room = code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
        if not no_room or has_room(path) or pending(path):
            raise
        connection = sqlite3.connect(_uri(path, "ro&immutable=1"), uri=True, check_same_thread=False)
    except BaseException:
        connection.close()
        raise
    return connection


def is_there(path: Path) -> bool:
    """Whether something is at a path; LogbookError where the system does not say."""
    try:
        os.fsencode(path)  # refuses half of a surrogate pair, for which `exists` only says False
        return path.exists()
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or "that is not the name of a file"
        raise LogbookError(
            f"{path} cannot be looked for ({said})", mend="check its name and the permissions of its folders"
        ) from None


def _uri(path: Path, mode: str | None = None) -> str:
    if mode is None:
        mode = "rw" if writable(path) else "ro"
        if mode == "ro" and not pending(path):
            mode = "ro&immutable=1"  # else SQLite makes files beside it even to read one in WAL mode
    return f"{path.absolute().as_uri()}?mode={mode}"


def writable(path: Path) -> bool:
    """Whether a file and its folder can be written."""
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def has_room(path: Path) -> bool:
    """Whether the disk of a file has room for more than reading it needs."""
    try:
        return shutil.disk_usage(path.parent).free >= ROOM_BYTES
    except OSError:
        return True  # not known; writing will show it


def pending(path: Path) -> bool:
    """Whether the write-ahead file of an SQLite file holds something."""
    ahead = path.with_name(f"{path.name}-wal")
    return ahead.exists() and ahead.stat().st_size > 0


@contextmanager
def half_beside(path: Path, mend: str) -> Iterator[Path]:
    """A temporary file beside `path`, to be renamed to `path` once it is complete; deleted if it is left.

    Raises LogbookError with `mend` where it cannot be made.
    """
    half = path.with_name(f".{path.name}.{secrets.token_hex(6)}.half")
    try:
        half.touch(exist_ok=False)
        if not path.exists():
            _set_aside_leftovers(path, half.stat().st_mtime_ns)
        yield half
    except OSError as error:
        raise LogbookError(f"{path} cannot be made ({error.strerror or error})", mend=mend) from error
    finally:
        with suppress(OSError):
            half.unlink()


def _set_aside_leftovers(path: Path, begun_ns: int) -> None:
    """Rename what SQLite left beside a file that is gone: it would be read into the next file of that name.

    A file can be deleted without its write-ahead file after a crash (https://www.sqlite.org/howtocorrupt.html,
    1.4). `begun_ns` is when the new file was begun, by the clock of its disk: anything younger belongs to
    another process that made its file first.
    """
    for ending in ("-wal", "-shm", "-journal"):
        left = path.with_name(path.name + ending)
        with suppress(FileNotFoundError):
            if left.stat().st_mtime_ns < begun_ns:
                left.replace(left.with_name(f"{left.name}.left-over"))


def is_cut_short(path: Path) -> bool:
    """Whether the file is shorter than its header says; SQLite itself does not notice half a last page.

    Header fields after https://www.sqlite.org/fileformat2.html, 1.3: page size at 16, page count at 28.
    """
    with path.open("rb") as file:
        header = file.read(100)
    if len(header) < 100 or not header.startswith(b"SQLite format 3\0"):
        return False
    size = int.from_bytes(header[16:18], "big")
    wanted = (65536 if size == 1 else size) * int.from_bytes(header[28:32], "big")
    short = path.stat().st_size < wanted and not pending(path)
    return short and path.stat().st_size < wanted  # again: a checkpoint may have ended meanwhile


def stamped(path: Path, what: str) -> Path:
    """The name of a copy beside a file, such as logbook.version-2.2026-05-01T091407.sqlite."""
    return path.with_name(f"{path.stem}.{what}.{datetime.now(UTC):%Y-%m-%dT%H%M%S}{path.suffix}")


def identity(path: Path) -> tuple[int, int] | None:
    """What tells a file from another one that takes its place under the same name; None without a file."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def sqlite_engine(path: Path) -> sa.Engine:
    """An engine on one SQLite file, with foreign keys, full synchronisation and honest transactions."""

    def connected() -> sqlite3.Connection:
        connection = connect_sqlite(path)
        connection.isolation_level = None  # SQLAlchemy's BEGIN below, not the driver's late one
        for pragma in ("foreign_keys=ON", "synchronous=FULL", "secure_delete=ON"):
            connection.execute(f"PRAGMA {pragma}")
        return connection

    engine = sa.create_engine(
        "sqlite://",
        creator=connected,
        poolclass=sa.QueuePool,
        pool_size=8,
        max_overflow=24,
        pool_timeout=BUSY_S,
    )

    @sa.event.listens_for(engine, "begin")
    def _on_begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get(WRITE_OPTION)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
