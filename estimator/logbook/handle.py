"""An open logbook: readers see one moment, writers take turns, and failures are one line."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from estimator.errors import LogbookError

BUSY_S = 60.0
"""So long who reads, writes or copies waits for others."""
WRITE_OPTION = "mowcharge_writing"
_POSTGRES_WRITERS_LOCK = 0x6D6F7763


@dataclass(frozen=True)
class Logbook:
    """A handle on one logbook; the functions of this folder take it as their first argument.

    where : path or URL as shown to people, never with a password
    path : the file of an SQLite logbook, None on PostgreSQL
    read_only : True where the file or its folder cannot be written
    """

    engine: sa.Engine
    where: str
    path: Path | None = None
    read_only: bool = False
    _current: threading.local = field(default_factory=threading.local, repr=False, compare=False)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or the server."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection that sees one moment of the logbook, however much others write meanwhile."""
        current = getattr(self._current, "connection", None)
        if current is not None:
            yield current
            return
        with in_one_line(self.where), self.engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with self._as_current(connection, writes=False):
                yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """One transaction: all of it is kept on leaving, or nothing after an error.

        Writers take turns, also those of other processes and clients. Functions that write join the
        transaction around them, so several can be bound together:

        >>> from estimator.logbook import events_of, keep_event, open_logbook
        >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
        ...     try:
        ...         with book.writing():
        ...             keep_event(book, "2025-05-01", "blade care", "sharpened")
        ...             raise KeyboardInterrupt
        ...     except KeyboardInterrupt:
        ...         events_of(book)
        1
        ()
        """
        current = getattr(self._current, "connection", None)
        if current is not None and getattr(self._current, "writes", False):
            yield current
            return
        if self.read_only:
            raise LogbookError(f"{self.where} cannot be written", mend="copy it to a folder of your own")
        with (
            in_one_line(self.where),
            self.engine.connect().execution_options(**{WRITE_OPTION: True}) as connection,
            connection.begin(),
        ):
            if connection.dialect.name == "postgresql":
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_POSTGRES_WRITERS_LOCK)))
            with self._as_current(connection, writes=True):
                yield connection

    @contextmanager
    def _as_current(self, connection: sa.Connection, *, writes: bool) -> Iterator[None]:
        """Let functions that are called meanwhile use this connection."""
        before = getattr(self._current, "connection", None), getattr(self._current, "writes", False)
        self._current.connection, self._current.writes = connection, writes
        try:
            yield
        finally:
            self._current.connection, self._current.writes = before


def sqlite_uri(path: Path) -> str:
    """The URI that opens an SQLite file, to read only where it or its folder cannot be written."""
    mode = "rw" if writable(path) else "ro"
    if mode == "ro" and not pending(path):
        mode = "ro&immutable=1"  # without it, SQLite makes files beside it to read one in WAL mode
    return f"{path.absolute().as_uri()}?mode={mode}"


def writable(path: Path) -> bool:
    """Whether a file and its folder can be written."""
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def pending(path: Path) -> bool:
    """Whether the write-ahead file of an SQLite file holds something."""
    ahead = path.with_name(f"{path.name}-wal")
    return ahead.exists() and ahead.stat().st_size > 0


def prepare_sqlite(engine: sa.Engine, *, busy_s: float) -> None:
    """Set WAL, foreign keys and honest transactions on every connection of an SQLite engine."""

    @sa.event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # SQLAlchemy's BEGIN below, not the driver's late one
        for pragma in (
            f"busy_timeout={int(busy_s * 1000)}",
            "foreign_keys=ON",
            "synchronous=FULL",
            "secure_delete=ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def _on_begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get(WRITE_OPTION)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def mappings(connection: sa.Connection, chosen: sa.Select[Any]) -> Iterator[dict[str, Any]]:
    """The rows of a choice by the names of their columns."""
    result = connection.execute(chosen)
    names = tuple(result.keys())
    for row in result:
        yield dict(zip(names, row, strict=True))


_SQLITE_SAYS = {
    sqlite3.SQLITE_FULL: ("has no room left on its disk; nothing of this step was kept", "free some space"),
    sqlite3.SQLITE_IOERR: (
        "could not be read or written by the disk; nothing of this step was kept",
        "look at its free space and its health",
    ),
    sqlite3.SQLITE_READONLY: ("cannot be written", "copy it to a folder of your own"),
    sqlite3.SQLITE_CANTOPEN: ("cannot be opened or made", "look at the rights of the file and its folder"),
    sqlite3.SQLITE_BUSY: ("is held by another program that is writing", "try again in a minute"),
    sqlite3.SQLITE_CONSTRAINT: ("refuses what does not fit together", "look at the names that were given"),
    sqlite3.SQLITE_CORRUPT: (
        "is damaged",
        "keep the file; restore a backup, or salvage it into a new logbook",
    ),
    sqlite3.SQLITE_NOTADB: ("is damaged or is no logbook", "give another path, or restore a backup"),
}


@contextmanager
def in_one_line(where: str) -> Iterator[None]:
    """Turn what the database complains about into one LogbookError line."""
    try:
        yield
    except SQLAlchemyError as error:
        raise told(where, error.orig if isinstance(error, DBAPIError) else error) from error
    except sqlite3.Error as error:
        raise told(where, error) from error


def told(where: str, error: BaseException | None) -> LogbookError:
    """The LogbookError that says in plain words what SQLite or PostgreSQL complained about."""
    if isinstance(error, sqlite3.Error):
        code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
        if code in _SQLITE_SAYS:
            problem, mend = _SQLITE_SAYS[code]
            return LogbookError(f"{where} {problem}", mend=mend)
    if isinstance(error, sa.exc.TimeoutError):
        return LogbookError(f"{where} is asked too much at once", mend="try again in a minute")
    said = " ".join(str(error).strip().splitlines()[:1])[:200] or type(error).__name__
    if isinstance(error, sqlite3.Error):
        problem, mend = _SQLITE_SAYS[sqlite3.SQLITE_CORRUPT]
        return LogbookError(f"{where} {problem} ({said})", mend=mend)
    return LogbookError(f"{where}: {said}", mend="look at the server and the URL")
