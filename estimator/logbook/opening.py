"""Find, make, check and open a logbook."""

from __future__ import annotations

import os
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

import platformdirs
import sqlalchemy as sa

from estimator.errors import LogbookError
from estimator.logbook import migrations, sqlite_file
from estimator.logbook.handle import Logbook, damaged, in_one_line
from estimator.logbook.sqlite_file import BUSY_S, sqlite_engine, writable
from estimator.logbook.tables import (
    APPLICATION_ID,
    LOOK,
    LOOK_VERSION,
    PAGE_SIZE,
    SCHEMA_VERSION,
    SUMMED,
    about,
    metadata,
)

ENVIRONMENT = "MOWCHARGE_LOGBOOK"


def default_place() -> str:
    """The path or URL that the environment variable names, else a file in the user's data folder."""
    named = os.environ.get(ENVIRONMENT, "").strip()
    return named or str(Path(platformdirs.user_data_dir("mowcharge", appauthor=False)) / "logbook.sqlite")


def open_logbook(where: str | Path | None = None, *, make: bool = True) -> Logbook:
    """Open the logbook at a path or PostgreSQL URL, making it where there is none yet.

    where : path of a file, or postgresql://user@host/name; None takes MOWCHARGE_LOGBOOK from the environment,
        else the user's data folder
    make : False refuses where there is none yet, and makes no file and no folder
    Raises LogbookError, one line, for a file that is damaged, newer than this program or something else.

    An older logbook is backed up and brought to the present schema. Use it as a context:

    >>> from estimator.logbook import keep_lawn, lawns
    >>> from estimator.descriptions import Lawn
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     [lawn.name for lawn in lawns(book)]
    ['orchard']
    """
    place = str(where) if where is not None else default_place()
    if place.startswith(("postgresql:", "postgres:", "postgresql+psycopg:")):
        return _open_postgres(place, make)
    if "://" in place:
        raise LogbookError(
            f"{place.split('://')[0]}:// is not a logbook that can be opened",
            mend="give a path or a postgresql:// URL",
        )
    return _open_sqlite(Path(place).expanduser(), make)


def is_there(where: str | Path | None = None) -> bool:
    """Whether there is a file at `where` (as for `open_logbook`); True for any URL: only opening it can tell.

    >>> is_there("nowhere/logbook.sqlite"), is_there("postgresql://club.example/mows")
    (False, True)
    """
    place = str(where) if where is not None else default_place()
    return "://" in place or sqlite_file.is_there(Path(place).expanduser())


def _open_sqlite(path: Path, make: bool) -> Logbook:
    there = sqlite_file.is_there(path)
    if path.is_dir():
        raise LogbookError(f"{path} is a folder", mend="name a file in it")
    if not there:
        if not make:
            raise _none_at(str(path))
        make_sqlite(path)
    book = Logbook(sqlite_engine(path), str(path), path, not writable(path), _admit_file)
    try:
        with book.reading():
            return book
    except BaseException:
        book.close()
        raise


def _admit_file(book: Logbook) -> None:
    """Raise LogbookError unless a file is a sound logbook; bring an older one to the present schema."""
    assert book.path is not None
    _refuse_no_file(book.path)
    with in_one_line(book.where):
        _check_on_opening(book)
    _at_present_version(book)


def _refuse_no_file(path: Path) -> None:
    """Raise LogbookError for what cannot be opened at all, before SQLite looks at it."""
    if not os.access(path, os.R_OK):
        raise LogbookError(f"{path} cannot be read", mend="look at the permissions of the file")
    if path.stat().st_size == 0:
        raise LogbookError(
            f"{path} is empty (0 bytes), so what it held is lost",
            mend="restore a backup, or delete it to start afresh",
        )
    if sqlite_file.is_cut_short(path):
        raise damaged(str(path), "is damaged (its end is missing)")


def _none_at(where: str) -> LogbookError:
    return LogbookError(
        f"there is no logbook at {where}", mend="check the path, or begin one there with `mowcharge describe`"
    )


def make_sqlite(path: Path) -> None:
    """Make a new logbook file under another name, then rename it, so that it is never half there."""
    with suppress(OSError):  # the error of making the file in it, below, says more
        path.parent.mkdir(parents=True, exist_ok=True)
    with sqlite_file.half_beside(path, "choose another folder") as half:
        with in_one_line(str(path)):
            engine = sqlite_engine(half)
            with engine.connect() as connection:
                raw = connection.connection.driver_connection
                assert raw is not None
                raw.execute(f"PRAGMA page_size={PAGE_SIZE}")
                raw.execute("PRAGMA journal_mode=WAL")
                raw.execute(f"PRAGMA application_id={APPLICATION_ID}")
            with Logbook(engine, str(path), half).writing() as connection:
                make_tables(connection)
            engine.dispose()
        try:
            os.link(half, path)
        except FileExistsError:  # another process was first
            pass
        except OSError:  # no hard links on this disk
            if not path.exists():
                half.replace(path)


def make_tables(connection: sa.Connection) -> None:
    """Make the tables of the present schema and write its version into them."""
    metadata.create_all(connection)
    said = {"schema": str(SCHEMA_VERSION), LOOK: LOOK_VERSION}
    connection.execute(sa.insert(about), [{"name": name, "value": value} for name, value in said.items()])


def _check_on_opening(book: Logbook) -> None:
    """Raise LogbookError unless the file is ours and what every answer needs is sound.

    Uploads are checked when they are read.
    """
    with book.engine.connect() as connection:
        if connection.exec_driver_sql("PRAGMA application_id").scalar() != APPLICATION_ID:
            raise LogbookError(
                f"{book.where} is not a logbook but a file of another program", mend="give another path"
            )
        for table in (about, *SUMMED):
            if not sa.inspect(connection).has_table(table.name):
                continue
            said = connection.exec_driver_sql(f"PRAGMA integrity_check('{table.name}')").scalar()
            if said != "ok":
                raise damaged(book.where, f"is damaged ({said})")


def _open_postgres(url_text: str, make: bool) -> Logbook:
    if find_spec("psycopg") is None:
        raise LogbookError(
            "psycopg is missing, which PostgreSQL needs", mend="pip install 'mowcharge[postgres]'"
        )
    try:
        url = sa.make_url(url_text).set(drivername="postgresql+psycopg")
    except (sa.exc.ArgumentError, ValueError):
        raise LogbookError(
            "the PostgreSQL URL cannot be read", mend="write postgresql://user@host/name"
        ) from None
    where = url.set(drivername="postgresql").render_as_string(hide_password=True)
    engine = sa.create_engine(url, pool_size=4, max_overflow=28, pool_timeout=BUSY_S, pool_pre_ping=True)
    book = Logbook(engine, where)
    try:
        _make_postgres(book, make)
        return _at_present_version(book)
    except BaseException:
        book.close()
        raise


def _make_postgres(book: Logbook, make: bool) -> None:
    ours = set(metadata.tables)
    with book.reading() as connection:
        present = ours & set(sa.inspect(connection).get_table_names())
    if "about" in present:
        return
    if not make:
        raise _none_at(book.where)
    with book.writing() as connection:
        present = ours & set(sa.inspect(connection).get_table_names())
        if "about" in present:  # another client was first
            return
        if present:
            raise LogbookError(
                f"{book.where} holds {min(present)!r} of another program",
                mend="give the logbook its own database",
            )
        make_tables(connection)


def _at_present_version(book: Logbook) -> Logbook:
    version = migrations.version_of(book)
    if version > SCHEMA_VERSION:
        raise LogbookError(
            f"{book.where} is of a newer mowcharge (schema {version}; this one knows {SCHEMA_VERSION})",
            mend="update mowcharge",
        )
    if version < SCHEMA_VERSION:
        migrations.migrate(book)
    return book
