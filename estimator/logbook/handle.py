"""An open logbook: readers see one moment, writers take turns, and failures are one line."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from estimator.errors import LogbookError
from estimator.logbook.sqlite_file import WRITE_OPTION, has_room, identity

_POSTGRES_WRITERS_LOCK = 0x6D6F7763
"""The letters "mowc": a number that no other program is likely to take."""


@dataclass(frozen=True)
class Logbook:
    """A handle on one logbook; the functions of this folder take it as their first argument.

    where : path or URL as shown to people, never with a password
    path : the file of an SQLite logbook, None on PostgreSQL
    read_only : True where the file or its folder cannot be written
    admit : checks the file as on opening, once another file has taken its place at the path
    """

    engine: sa.Engine
    where: str
    path: Path | None = None
    read_only: bool = False
    admit: Callable[[Logbook], None] = field(default=lambda _book: None, repr=False, compare=False)
    _admitted: list[tuple[int, int] | None] = field(default_factory=list, repr=False, compare=False)
    _current: threading.local = field(default_factory=threading.local, repr=False, compare=False)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or the server; the next use opens it again.

        A file that nobody holds is complete by itself: it can be copied, moved or replaced by hand.
        """
        self.engine.dispose()

    @property
    def keeps(self) -> bool:
        """Whether figures can be kept now: the file can be written and its disk has room."""
        return not self.read_only and (self.path is None or has_room(self.path))

    def refuse_unwritable(self) -> None:
        """Raise LogbookError where nothing can be written now."""
        if self.read_only:
            raise LogbookError(f"{self.where} cannot be written", mend="copy it to a folder of your own")
        if not self.keeps:
            raise _said_by_sqlite(self.where, sqlite3.SQLITE_FULL)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection that sees the logbook as it is at one moment, whatever others write meanwhile."""
        current = getattr(self._current, "connection", None)
        if current is not None:
            yield current
            return
        self._look_at_file()
        with in_one_line(self.where), self.engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with self._as_current(connection, writes=False):
                yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """One transaction: on leaving, all of it is kept; after an error, none of it.

        Writers take turns, in other processes and clients too. Functions that write join the transaction
        around them, so several can be kept together or not at all:

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
        self._look_at_file()
        self.refuse_unwritable()
        held = self._admitted[0] if self._admitted else None
        with (
            in_one_line(self.where),
            self.engine.connect().execution_options(**{WRITE_OPTION: True}) as connection,
            connection.begin(),
        ):
            if connection.dialect.name == "postgresql":
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_POSTGRES_WRITERS_LOCK)))
            with self._as_current(connection, writes=True):
                yield connection
            self._refuse_if_replaced(held)
        self._refuse_if_replaced(held)

    def settle(self) -> None:
        """Move what is in the write-ahead file into the logbook's own file, which is then complete by itself.

        Raises LogbookError where another file has taken the path meanwhile: it lacks what was just kept.
        """
        if self.path is None or getattr(self._current, "connection", None) is not None:
            return
        held = self._admitted[0] if self._admitted else None
        with in_one_line(self.where), self.engine.connect() as connection:
            wait_ms = connection.exec_driver_sql("PRAGMA busy_timeout").scalar()
            connection.exec_driver_sql("PRAGMA busy_timeout=0")  # do not wait for readers
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.exec_driver_sql(f"PRAGMA busy_timeout={wait_ms}")
        self._refuse_if_replaced(held)

    def _look_at_file(self) -> None:
        """Check the file as on opening where it is not the one that was checked before."""
        if self.path is None:
            return
        there = identity(self.path)
        if self._admitted and self._admitted[0] == there:
            return
        if self._admitted:
            self.engine.dispose()  # its connections lead to a file that is gone
            if there is None:
                raise LogbookError(
                    f"{self.where} is not there any more", mend="put it, or a backup of it, back in its place"
                )
        before, self._admitted[:] = [*self._admitted], [there]
        try:
            self.admit(self)
        except BaseException:
            self._admitted[:] = before
            raise

    def _refuse_if_replaced(self, held: tuple[int, int] | None) -> None:
        """Raise LogbookError where the file written to is no longer the one at the path."""
        if self.path is not None and identity(self.path) != held:
            raise LogbookError(
                f"{self.where} was replaced or deleted meanwhile; what is there now is without this step",
                mend="do it again",
            )

    @contextmanager
    def _as_current(self, connection: sa.Connection, *, writes: bool) -> Iterator[None]:
        """Let functions called inside the context use this connection."""
        before = getattr(self._current, "connection", None), getattr(self._current, "writes", False)
        self._current.connection, self._current.writes = connection, writes
        try:
            yield
        finally:
            self._current.connection, self._current.writes = before


def mappings(connection: sa.Connection, chosen: sa.Select[Any]) -> Iterator[dict[str, Any]]:
    """The selected rows, as dicts by column name."""
    result = connection.execute(chosen)
    names = tuple(result.keys())
    for row in result:
        yield dict(zip(names, row, strict=True))


_KEEP_DAMAGED = "keep the file; restore a backup, or salvage it into a new logbook"
_SQLITE_SAYS = {
    sqlite3.SQLITE_FULL: ("has no room left on its disk; nothing of this step was kept", "free some space"),
    sqlite3.SQLITE_IOERR: (
        "could not be read or written by the disk; nothing of this step was kept",
        "look at its free space and its health",
    ),
    sqlite3.SQLITE_READONLY: ("cannot be written", "copy it to a folder of your own"),
    sqlite3.SQLITE_CANTOPEN: (
        "cannot be opened or made",
        "look at the permissions of the file and its folder",
    ),
    sqlite3.SQLITE_BUSY: ("is held by another program that is writing", "try again in a minute"),
    sqlite3.SQLITE_CONSTRAINT: ("refuses what does not fit together", "look at the names that were given"),
    sqlite3.SQLITE_CORRUPT: ("is damaged", _KEEP_DAMAGED),
    sqlite3.SQLITE_NOTADB: ("is damaged or is not a logbook", "give another path, or restore a backup"),
}


@contextmanager
def in_one_line(where: str) -> Iterator[None]:
    """Turn errors of the database into a LogbookError of one line."""
    try:
        yield
    except SQLAlchemyError as error:
        raise told(where, error.orig if isinstance(error, DBAPIError) else error) from error
    except (sqlite3.Error, UnicodeDecodeError) as error:  # text can be damaged, in SQLite's own messages too
        raise told(where, error) from error


def _said_by_sqlite(where: str, code: int) -> LogbookError:
    problem, mend = _SQLITE_SAYS[code]
    return LogbookError(f"{where} {problem}", mend=mend)


def damaged(where: str, problem: str) -> LogbookError:
    """The LogbookError for a file that no longer holds what was kept in it."""
    return LogbookError(f"{where} {problem}", mend=_KEEP_DAMAGED)


def told(where: str, error: BaseException | None) -> LogbookError:
    """The LogbookError that says in plain words what went wrong in SQLite or PostgreSQL."""
    if isinstance(error, sqlite3.Error):
        code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
        if code in _SQLITE_SAYS:
            return _said_by_sqlite(where, code)
    if isinstance(error, sa.exc.TimeoutError):
        return LogbookError(f"{where} gets too many requests at once", mend="try again in a minute")
    said = " ".join(str(error).strip().splitlines()[:1])[:200] or type(error).__name__
    if isinstance(error, sqlite3.Error | UnicodeDecodeError):
        return damaged(where, f"is damaged ({said})")
    return LogbookError(f"{where}: {said}", mend="look at the server and the URL")
