"""Verify every checksum of a logbook and say in sentences what is wrong."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import sqlalchemy as sa

from estimator.logbook.handle import Logbook
from estimator.logbook.records.mow_values import FILES_OF
from estimator.logbook.records.uploads import put_bytes, whole
from estimator.logbook.tables import SUMMED, derived, file_bytes, files, mows
from estimator.logbook.upkeep.checksums import holds
from estimator.logbook.upkeep.copying import rows_of
from estimator.logbook.upkeep.parity import guard_of
from estimator.logbook.upkeep.rotating import in_backups


@dataclass(frozen=True)
class CheckReport:
    """What a check read, and its findings as sentences; without problems all checksums match.

    mended : what was damaged and is repaired now
    """

    mows: int
    files: int
    file_bytes: int
    problems: tuple[str, ...]
    mended: tuple[str, ...] = ()


def check(book: Logbook) -> CheckReport:
    """Read the whole logbook, compare every checksum, and report.

    Damaged bytes of uploads are mended from their guard, or from one of the daily backups; nothing else is
    changed.

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
        looked = _check_files(connection, book, problems)
        for row in rows_of(connection, derived):
            try:
                zlib.decompress(row["packed"])
            except zlib.error:
                problems.append(
                    f"the kept {row['kind']} of {row['subject']} is damaged; "
                    "work it out again (logbook renew)"
                )
        total = connection.scalar(sa.select(sa.func.count()).select_from(mows)) or 0
    return CheckReport(int(total), looked.count, looked.size, tuple(problems), _mend(book, looked.mendable))


@dataclass(frozen=True)
class _Mendable:
    """The sentence about a file that can be mended, and its bytes as they are to be kept."""

    said: str
    packed: bytes


@dataclass
class _Looked:
    """Files that are sound or can be mended: how many, their size [bytes], and those to mend by number."""

    count: int = 0
    size: int = 0
    mendable: dict[int, _Mendable] = field(default_factory=dict)


def _mend(book: Logbook, mendable: Mapping[int, _Mendable]) -> tuple[str, ...]:
    """Keep the bytes that were mended; a sentence for each file."""
    if not mendable:
        return ()
    with book.writing() as connection:
        there = set(connection.scalars(sa.select(files.c.id).where(files.c.id.in_(mendable))))
        for file_id in there:  # others may have been deleted meanwhile
            connection.execute(sa.delete(file_bytes).where(file_bytes.c.file_id == file_id))
            put_bytes(connection, file_id, mendable[file_id].packed)
    return tuple(each.said for each in mendable.values())


_FILES = sa.select(files, file_bytes.c.packed, file_bytes.c.guard).join_from(files, file_bytes, isouter=True)


def _check_files(connection: sa.Connection, book: Logbook, problems: list[str]) -> _Looked:
    looked = _Looked()
    for row in connection.execute(_FILES.order_by(files.c.id).execution_options(yield_per=50)):
        found = whole(row.codec, row.sha256, row.packed, row.guard)
        said = "the bytes of {} were damaged and are whole again"
        if found is None:
            found = in_backups(book, row.codec, row.sha256)
            said += ", out of a backup"
        if found is None:
            problems.append(f"mow {row.mow_id}: the bytes of {row.name} do not match their checksum")
            continue
        looked.count, looked.size = looked.count + 1, looked.size + len(found.data)
        if found.packed is row.packed:
            if row.guard == guard_of(row.packed):
                continue
            said = "what guards the bytes of {} was damaged and is whole again"
        if book.keeps:
            said = f"mow {row.mow_id}: {said.format(row.name)}"
            looked.mendable[row.id] = _Mendable(said, found.packed)
        else:
            problems.append(f"mow {row.mow_id}: {row.name} can be repaired once the logbook can be written")
    owners = set(connection.scalars(sa.select(files.c.mow_id)))
    of = connection.execute(sa.select(mows.c.id, mows.c.decisions))
    without = [mow_id for mow_id, said in of if json.loads(said).get(FILES_OF, mow_id) not in owners]
    problems += [f"mow {mow_id} has no file" for mow_id in without]
    return looked
