"""Verify every checksum of a logbook and say in sentences what is wrong."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import sqlalchemy as sa

from estimator.errors import LogbookError
from estimator.logbook.handle import Logbook
from estimator.logbook.records.uploads import as_uploaded
from estimator.logbook.tables import SUMMED, derived, file_bytes, files, mows
from estimator.logbook.upkeep.checksums import holds
from estimator.logbook.upkeep.copying import rows_of


@dataclass(frozen=True)
class CheckReport:
    """What a check looked at, and its findings as sentences; no problems means that all checksums hold."""

    mows: int
    files: int
    file_bytes: int
    problems: tuple[str, ...]


def check(book: Logbook) -> CheckReport:
    """Read the whole logbook, compare every checksum, and report; nothing is changed.

    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     check(book)
    CheckReport(mows=0, files=0, file_bytes=0, problems=())
    """
    problems: list[str] = []
    with book.reading() as connection:
        if connection.dialect.name == "sqlite":
            said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
            problems += [f"the file's structure: {line}" for line in said if line != "ok"]
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            problems += [f"{row[0]} row {row[1]} names a missing row of {row[2]}" for row in broken]
        for table in SUMMED:
            key = next(iter(table.primary_key.columns)).name
            for row in rows_of(connection, table):
                if not holds(table, row):
                    problems.append(f"{table.name}, {row[key]!r}: the row does not match its checksum")
        count, size = _check_files(connection, book.where, problems)
        for row in rows_of(connection, derived):
            try:
                zlib.decompress(row["packed"])
            except zlib.error:
                problems.append(
                    f"the kept {row['kind']} of {row['subject']} is damaged; work it out anew (logbook renew)"
                )
        total = connection.scalar(sa.select(sa.func.count()).select_from(mows)) or 0
    return CheckReport(int(total), count, size, tuple(problems))


def _check_files(connection: sa.Connection, where: str, problems: list[str]) -> tuple[int, int]:
    count = size = 0
    chosen = (
        sa.select(files, file_bytes.c.packed)
        .join_from(files, file_bytes, isouter=True)
        .order_by(files.c.id)
        .execution_options(yield_per=50)
    )
    for row in connection.execute(chosen):
        try:
            data = as_uploaded(where, row.name, row.mow_id, row.codec, row.sha256, row.packed)
            count, size = count + 1, size + len(data)
        except LogbookError:
            problems.append(f"mow {row.mow_id}: the bytes of {row.name} do not match their checksum")
    owners = set(connection.scalars(sa.select(files.c.mow_id)))
    without = sorted(set(connection.scalars(sa.select(mows.c.id))) - owners)
    problems += [f"mow {mow_id} has no file" for mow_id in without]
    return count, size
