"""Backups that nobody has to think of: one for each day on which a mow is kept, tested; old ones are deleted.

The setting MOWCHARGE_BACKUPS names their folder, or is `off`; without it they lie beside the logbook.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing, suppress
from datetime import date
from pathlib import Path
from time import time

from estimator.errors import LogbookError, MowchargeError
from estimator.logbook.handle import Logbook
from estimator.logbook.opening import open_logbook
from estimator.logbook.records.mow_lists import mow_count, mows
from estimator.logbook.records.uploads import Whole, whole
from estimator.logbook.sqlite_file import connect_sqlite
from estimator.logbook.upkeep.copying import copy_sqlite

SETTING = "MOWCHARGE_BACKUPS"
OFF = ("off", "no", "0")
NEWEST = 3
"""How many of the latest backups stay."""

FRESH_S = 3600.0
"""Age of the day's backup [s] from which the next kept mow has it made again."""

MONTHS = 6
"""For how many months the latest backup of the month stays."""


def backup_folder(book: Logbook) -> Path | None:
    """Where the backups of a logbook lie; None for one on a server, and where they are turned off."""
    said = os.environ.get(SETTING, "").strip()
    if book.path is None or said.lower() in OFF:
        return None
    return Path(said).expanduser() if said else book.path.with_name(f"{book.path.stem}-backups")


def backups_of(book: Logbook) -> list[Path]:
    """The backups of a logbook, the latest first."""
    folder = backup_folder(book)
    if folder is None or book.path is None or not folder.is_dir():
        return []
    named = re.compile(re.escape(book.path.stem) + r"\.\d{4}-\d\d-\d\d\.sqlite")
    return sorted((path for path in folder.iterdir() if named.fullmatch(path.name)), reverse=True)


def in_backups(book: Logbook, codec: str, sha256: str) -> Whole | None:
    """The bytes of an upload from the latest backup that has them undamaged; None where none has."""
    asked = "SELECT packed FROM file_bytes JOIN files ON files.id = file_id WHERE sha256 = ? AND codec = ?"
    for path in backups_of(book):
        try:
            with closing(connect_sqlite(path)) as connection:
                row = connection.execute(asked, (sha256, codec)).fetchone()
        except (sqlite3.Error, UnicodeDecodeError):
            continue  # a backup may be damaged too
        found = whole(codec, sha256, row[0], None) if row else None
        if found is not None:
            return found
    return None


def back_up_today(book: Logbook, today: date | None = None) -> tuple[str, ...]:
    """Make today's backup unless there is one of the last hour; returns a sentence where that fails.

    A backup counts only once it has been opened and lists as many mows as it should hold.

    >>> from estimator.logbook import open_logbook
    >>> folder = getfixture("tmp_path")
    >>> getfixture("monkeypatch").delenv("MOWCHARGE_BACKUPS", raising=False)
    >>> with open_logbook(folder / "logbook.sqlite") as book:
    ...     back_up_today(book, date(2025, 5, 1))
    ...     [path.name for path in backups_of(book)]
    ()
    ['logbook.2025-05-01.sqlite']
    """
    folder = backup_folder(book)
    if folder is None or book.path is None:
        return ()
    target = folder / f"{book.path.stem}.{today or date.today()}.sqlite"
    if target.exists() and 0 <= time() - target.stat().st_mtime < FRESH_S:
        return ()
    tried = folder / f".{target.name}.tried"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _drop(tried)
        copy_sqlite(book.path, tried)
        with open_logbook(tried, make=False) as copy:
            if len(mows(copy, doubtful=None)) != mow_count(copy):
                raise LogbookError("it does not list its mows")
        tried.replace(target)
        _let_go([path for path in backups_of(book) if path != target])
    except (MowchargeError, OSError) as error:
        said = error.problem if isinstance(error, MowchargeError) else f"{error.strerror or error}"
        return (f"Today's backup in {folder} failed: {said}. The mow is kept all the same.",)
    finally:
        _drop(tried)
    return ()


def _let_go(backups: list[Path]) -> None:
    """Delete all but the newest backups and the latest of each of the last months; the latest come first.

    Today's is not in the list: it stays, even where the clock was set back and others have later dates.
    """
    latest = {path.stem[-10:-3]: path for path in reversed(backups)}
    months = [latest[month] for month in sorted(latest, reverse=True)[:MONTHS]]
    for path in backups:
        if path not in (*backups[: NEWEST - 1], *months):
            path.unlink(missing_ok=True)


def _drop(path: Path) -> None:
    for left in (path, *(path.with_name(path.name + ending) for ending in ("-wal", "-shm"))):
        with suppress(OSError):
            left.unlink()
