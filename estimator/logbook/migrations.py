"""Bring the tables of an older logbook to the present schema, one version at a time, after a backup.

Schema 2 is that of mowcharge 0.1; there was none before it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import sqlalchemy as sa

from estimator.errors import LogbookError
from estimator.logbook.handle import Logbook
from estimator.logbook.sqlite_file import stamped
from estimator.logbook.tables import SCHEMA_VERSION, about, file_bytes, metadata
from estimator.logbook.upkeep.copying import copy_sqlite
from estimator.logbook.upkeep.parity import guard_of


def version_of(book: Logbook) -> int:
    """The schema version that is written in a logbook."""
    with book.reading() as connection:
        return _version(connection, book.where)


def _version(connection: sa.Connection, where: str) -> int:
    said = None
    if sa.inspect(connection).has_table("about"):
        said = connection.scalar(sa.select(about.c.value).where(about.c.name == "schema"))
    if said is None or not (said.isascii() and said.isdigit() and len(said) < 10):
        raise LogbookError(f"{where} does not say its schema version", mend="restore a backup, or salvage it")
    return int(said)


def migrate(book: Logbook) -> None:
    """Back the logbook up beside itself, then take every missing step in one transaction."""
    version = version_of(book)
    if version not in STEPS:
        raise LogbookError(f"{book.where} has a schema {version} that never existed", mend="restore a backup")
    if book.read_only:
        raise LogbookError(
            f"{book.where} is of an older schema and cannot be written",
            mend="copy it to a folder of your own",
        )
    book.refuse_unwritable()
    if book.path is not None:
        copy_sqlite(book.path, stamped(book.path, f"version-{version}"))
    with book.writing() as connection:
        version = _version(connection, book.where)  # another process may have been first
        if book.path is None and version < SCHEMA_VERSION:
            _copy_schema(connection, version)
        while version < SCHEMA_VERSION:
            STEPS[version](connection)
            version += 1
            connection.execute(sa.update(about).where(about.c.name == "schema").values(value=str(version)))


def _copy_schema(connection: sa.Connection, version: int) -> None:
    schema = f"mowcharge_version_{version}_{datetime.now(UTC):%Y%m%dt%H%M%S}"
    present = [name for name in sa.inspect(connection).get_table_names() if name in metadata.tables]
    connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
    for name in present:
        connection.exec_driver_sql(f"CREATE TABLE {schema}.{name} AS TABLE {name}")


def _from_2_to_3(connection: sa.Connection) -> None:
    """Add a guard to the bytes of each upload: damage in one place can be mended from it."""
    kind = "BYTEA" if connection.dialect.name == "postgresql" else "BLOB"
    connection.exec_driver_sql(f"ALTER TABLE file_bytes ADD COLUMN guard {kind}")
    for (file_id,) in connection.execute(sa.select(file_bytes.c.file_id)).all():
        this = file_bytes.c.file_id == file_id
        packed = connection.execute(sa.select(file_bytes.c.packed).where(this)).scalar_one()
        connection.execute(sa.update(file_bytes).where(this).values(guard=guard_of(packed)))


STEPS: dict[int, Callable[[sa.Connection], None]] = {2: _from_2_to_3}  # by schema
