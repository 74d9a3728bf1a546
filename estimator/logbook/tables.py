"""The tables of a logbook, alike in SQLite and PostgreSQL.

Columns are only ever added at the end, so that salvage finds migrated and new files laid out alike.
"""

from __future__ import annotations

import sqlalchemy as sa

SCHEMA_VERSION = 3  # raised with every step of `migrations`
PAGE_SIZE = 1024  # of SQLite files [bytes]; wastes least with uploads and figures of 2 to 20 kB
APPLICATION_ID = 0x6D6F7763  # "mowc", tells a logbook from other SQLite files
LOOK, LOOK_VERSION = "second look", "2"
"""Kept in `about` once all mows were checked for what can hardly be true. Raise it when that doubts more."""

metadata = sa.MetaData()

about = sa.Table(
    "about",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)


def _checksum() -> sa.Column[int]:
    return sa.Column("sum", sa.BigInteger, nullable=False, server_default="0")


def _described(table_name: str) -> sa.Table:
    return sa.Table(
        table_name,
        metadata,
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("plain", sa.Text, nullable=False),
        sa.Column("since", sa.Text, nullable=False),
        _checksum(),
    )


lawns = _described("lawns")
packs = _described("packs")
machines = _described("machines")
meters = _described("meters")

mows = sa.Table(
    "mows",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("lawn", sa.Text, sa.ForeignKey("lawns.name"), nullable=False),
    sa.Column("pack", sa.Text, sa.ForeignKey("packs.name")),
    sa.Column("machine", sa.Text, sa.ForeignKey("machines.name")),
    sa.Column("started", sa.Text),
    sa.Column("start_charge", sa.Double),
    sa.Column("tags", sa.Text, nullable=False),
    sa.Column("notes", sa.Text, nullable=False),
    sa.Column("decisions", sa.Text, nullable=False),
    sa.Column("added", sa.Text, nullable=False),
    sa.Column("removed", sa.Text),
    sa.Column("moisture", sa.Text),
    sa.Column("growth_mm", sa.Double),
    sa.Column("days_since_cut", sa.Double),
    sa.Column("temperature_c", sa.Double),
    _checksum(),
    sqlite_autoincrement=True,
)

files = sa.Table(
    "files",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("mow_id", sa.Integer, sa.ForeignKey("mows.id"), nullable=False, index=True),
    sa.Column("position", sa.Integer, nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("sha256", sa.Text, nullable=False, unique=True),
    sa.Column("codec", sa.Text, nullable=False, server_default="zlib"),
    _checksum(),
    sqlite_autoincrement=True,
)

file_bytes = sa.Table(
    "file_bytes",
    metadata,
    sa.Column("file_id", sa.Integer, sa.ForeignKey("files.id"), primary_key=True, autoincrement=False),
    sa.Column("packed", sa.LargeBinary, nullable=False),
    sa.Column("guard", sa.LargeBinary),
)

changes = sa.Table(
    "changes",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("subject", sa.Text, nullable=False, index=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("before", sa.Text),
    sa.Column("after", sa.Text),
    _checksum(),
    sqlite_autoincrement=True,
)

derived = sa.Table(
    "derived",
    metadata,
    sa.Column("subject", sa.Text, primary_key=True),
    sa.Column("kind", sa.Text, primary_key=True),
    sa.Column("version", sa.Text, nullable=False),
    sa.Column("packed", sa.LargeBinary, nullable=False),
)

events = sa.Table(
    "events",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("day", sa.Text, nullable=False),
    sa.Column("machine", sa.Text, sa.ForeignKey("machines.name")),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("words", sa.Text, nullable=False),
    sa.Column("removed", sa.Text),
    _checksum(),
    sqlite_autoincrement=True,
)

SUMMED = tuple(table for table in metadata.sorted_tables if "sum" in table.c)
NUMBERED = tuple(table for table in metadata.sorted_tables if "id" in table.c)
