"""Back up a logbook to a file while it is in use, and restore it from one."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from estimator.errors import InputError, LogbookError
from estimator.logbook.handle import Logbook
from estimator.logbook.opening import default_place, make_sqlite, open_logbook
from estimator.logbook.sqlite_file import is_there, sqlite_engine, stamped
from estimator.logbook.upkeep.checking import check
from estimator.logbook.upkeep.copying import copy_rows, copy_sqlite


def backup(book: Logbook, target: str | Path) -> Path:
    """Copy the logbook as it is at this moment to a new file; others may go on writing. Returns its path.

    The backup is itself a logbook file, even where the logbook is on PostgreSQL.

    >>> from estimator.logbook import open_logbook
    >>> folder = getfixture("tmp_path")
    >>> with open_logbook(folder / "logbook.sqlite") as book:
    ...     backup(book, folder / "copy.sqlite").name
    'copy.sqlite'
    """
    path = Path(target).expanduser()
    if is_there(path):
        raise InputError(f"{path} is there already", mend="name a new file")
    if book.path is not None:
        copy_sqlite(book.path, path)
        return path
    make_sqlite(path)
    try:
        with (
            book.reading() as source,
            Logbook(sqlite_engine(path), str(path), path) as copy,
            copy.writing() as target_rows,
        ):
            copy_rows(source, target_rows)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return path


def restore(source: str | Path, where: str | Path | None = None) -> Path | None:
    """Check the whole of a backup, then put it in the place of the logbook at `where` (as for open_logbook).

    The logbook that was there, damaged or not, is first kept under another name (for PostgreSQL in the
    current folder), whose path is returned, or None where there was none. An older backup is brought to
    the present schema; the backup file stays.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import backup, keep_lawn, lawns, open_logbook
    >>> folder = getfixture("tmp_path")
    >>> with open_logbook(folder / "logbook.sqlite") as book:
    ...     kept = backup(book, folder / "spring.sqlite")
    ...     keep_lawn(book, Lawn("by mistake", area_m2=1))
    >>> before = restore(kept, folder / "logbook.sqlite")
    >>> with open_logbook(folder / "logbook.sqlite") as book, open_logbook(before) as old:
    ...     len(lawns(book)), len(lawns(old))
    (0, 1)
    """
    backup_file = Path(source).expanduser()
    if not is_there(backup_file) or not backup_file.is_file():
        raise InputError(f"{backup_file} is not a file", mend="name a backup")
    place = str(where) if where is not None else default_place()
    with TemporaryDirectory(prefix="mowcharge-") as folder:
        tried = Path(folder) / "backup.sqlite"
        copy_sqlite(backup_file, tried)
        with open_logbook(tried) as copy:
            problems = check(copy).problems
            if problems:
                raise LogbookError(
                    f"{backup_file} is damaged itself ({problems[0]})", mend="take another backup"
                )
            return _put(copy, place)


def _put(copy: Logbook, place: str) -> Path | None:
    path = None if "://" in place else Path(place).expanduser()
    if path is not None and not path.exists():
        assert copy.path is not None
        path.parent.mkdir(parents=True, exist_ok=True)
        copy_sqlite(copy.path, path)
        return None
    aside = stamped(path or Path("logbook.sqlite").absolute(), "before-restoring")
    try:
        with open_logbook(place) as book:
            backup(book, aside)
            with copy.reading() as source, book.writing() as target:
                copy_rows(source, target)
    except LogbookError:
        if path is None or _readable(path):
            raise
        _move_aside(path, aside)
        assert copy.path is not None
        copy_sqlite(copy.path, path)
    return aside


def _move_aside(path: Path, aside: Path) -> None:
    for ending in ("-wal", "-shm"):
        companion = path.with_name(path.name + ending)
        if companion.exists():
            companion.replace(aside.with_name(aside.name + ending))
    path.replace(aside)


def _readable(path: Path) -> bool:
    try:
        open_logbook(path).close()
    except LogbookError:
        return False
    return True
