"""Verify every checksum of a logbook and say in sentences what is wrong."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import sqlalchemy as sa

from estimator.logbook.handle import Logbook
from estimator.logbook.records.uploads import whole
from estimator.logbook.tables import SUMMED, derived, file_bytes, files, mows
from estimator.logbook.upkeep.checksums import holds
from estimator.logbook.upkeep.copying import rows_of
from estimator.logbook.upkeep.parity import guard_of


@dataclass(frozen=True)
class CheckReport:
    """What a check looked at, and its findings as sentences; no problems means that all checksums hold.

    mended : what was damaged and is whole again
    """

    mows: int
    files: int
    file_bytes: int
    problems: tuple[str, ...]
    mended: tuple[str, ...] = ()


def check(book: Logbook) -> CheckReport:
    """Read the whole logbook, compare every checksum, and report.

    Bytes of uploads that are damaged in one place are mended from their guard; nothing else is changed.

    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     check(book)
    CheckReport(mows=0, files=0, file_bytes=0, problems=(), mended=())
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
        looked = _check_files(connection, problems, keeps=book.keeps)
        for row in rows_of(connection, derived):
            try:
                zlib.decompress(row["packed"])
            except zlib.error:
                problems.append(
                    f"the kept {row['kind']} of {row['subject']} is damaged; work it out anew (logbook renew)"
                )
        total = connection.scalar(sa.select(sa.func.count()).select_from(mows)) or 0
    return CheckReport(int(total), looked.count, looked.size, tuple(problems), _mend(book, looked.mendable))


@dataclass
class _Looked:
    """Files that are whole or can be made so: how many, their bytes, and sentences of those to mend."""

    count: int = 0
    size: int = 0
    mendable: dict[int, str] = field(default_factory=dict)


def _mend(book: Logbook, mendable: Mapping[int, str]) -> tuple[str, ...]:
    """Keep what the guards give back; a sentence for each file."""
    if not mendable:
        return ()
    with book.writing() as connection:
        for file_id in mendable:
            row = connection.execute(_FILES.where(files.c.id == file_id)).one()
            found = whole(row.codec, row.sha256, row.packed, row.guard)
            if found is not None:  # else it was deleted or mended by another just now
                connection.execute(
                    sa.update(file_bytes)
                    .where(file_bytes.c.file_id == file_id)
                    .values(packed=found.packed, guard=guard_of(found.packed))
                )
    return tuple(mendable.values())


_FILES = sa.select(files, file_bytes.c.packed, file_bytes.c.guard).join_from(files, file_bytes, isouter=True)


def _check_files(connection: sa.Connection, problems: list[str], *, keeps: bool) -> _Looked:
    looked = _Looked()
    for row in connection.execute(_FILES.order_by(files.c.id).execution_options(yield_per=50)):
        found = whole(row.codec, row.sha256, row.packed, row.guard)
        if found is None:
            problems.append(f"mow {row.mow_id}: the bytes of {row.name} do not match their checksum")
            continue
        looked.count, looked.size = looked.count + 1, looked.size + len(found.data)
        if found.packed is not row.packed or row.guard != guard_of(row.packed):
            said = "the bytes of {} were damaged and are whole again"
            if found.packed is row.packed:
                said = "what guards the bytes of {} was damaged and is whole again"
            if keeps:
                looked.mendable[row.id] = f"mow {row.mow_id}: {said.format(row.name)}"
            else:
                problems.append(f"mow {row.mow_id}: {row.name} can be mended once the logbook can be written")
    owners = set(connection.scalars(sa.select(files.c.mow_id)))
    without = sorted(set(connection.scalars(sa.select(mows.c.id))) - owners)
    problems += [f"mow {mow_id} has no file" for mow_id in without]
    return looked
