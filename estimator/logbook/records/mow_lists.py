"""Lists of mows by their start, of a lawn, pack or season, and one mow by its number."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from estimator.descriptions import DOUBTFUL
from estimator.errors import NotFound
from estimator.logbook.handle import Logbook
from estimator.logbook.records.descriptions import check_name
from estimator.logbook.records.mow_values import FILES_OF, MowRecord, order_of, record_of
from estimator.logbook.records.names import kept_name
from estimator.logbook.records.uploads import KeptFile
from estimator.logbook.tables import files
from estimator.logbook.tables import mows as mow_table
from estimator.logbook.upkeep.checksums import verified_rows


def mows(
    book: Logbook,
    *,
    lawn: str | None = None,
    pack: str | None = None,
    machine: str | None = None,
    season: int | None = None,
    since: date | None = None,
    until: date | None = None,
    tag: str | None = None,
    above: int = 0,
    removed: bool = False,
    doubtful: bool | None = False,
) -> list[MowRecord]:
    """The mows by start, then number; mows of unknown start come last.

    lawn, pack, machine, tag : only mows of these; an unknown lawn, pack or machine raises InputError
    season : only mows of this year; since, until : only mows from and up to these days, both included
    above : only mows with a higher number, which are looked up without reading the others
    removed : True lists the removed mows instead
    doubtful : mows that are set aside, on which no answer rests: False leaves them out, True lists only
        them, None lists them with the others

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, mows, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     for number in (1, 2):
    ...         started = datetime(2024 + number, 5, 1)
    ...         _ = add_mow(book, [("mow.csv", b"%d" % number)], lawn="orchard", started=started)
    ...     [(mow.id, mow.started.year) for mow in mows(book)], [mow.id for mow in mows(book, season=2026)]
    ([(1, 2025), (2, 2026)], [2])
    """
    chosen = sa.select(mow_table).where(
        mow_table.c.removed.is_not(None) if removed else mow_table.c.removed.is_(None)
    )
    newer = (files.c.mow_id > above,) if above else ()
    if above:
        chosen = chosen.where(mow_table.c.id > above)
    with book.reading() as connection:
        for kind, name in (("lawn", lawn), ("pack", pack), ("machine", machine)):
            if name is not None:
                check_name(connection, kind, name)
                chosen = chosen.where(mow_table.c[kind] == kept_name(name))
        rows = verified_rows(book.where, connection, chosen)
        found = _records(book.where, connection, rows, *newer)
    if season is not None:
        since = max(date(season, 1, 1), since or date.min)
        until = min(date(season, 12, 31), until or date.max)
    if since is not None or until is not None:
        first, last = since or date.min, until or date.max
        found = [mow for mow in found if mow.started and first <= mow.started.date() <= last]
    if tag is not None:
        found = [mow for mow in found if tag in mow.tags]
    if doubtful is not None:
        found = [mow for mow in found if (DOUBTFUL in mow.tags) is doubtful]
    return sorted(found, key=order_of)


def mows_begun(book: Logbook, pack: str, first: datetime, last: datetime) -> list[MowRecord]:
    """The mows of a pack that began between two moments, both included, in order of their start."""
    chosen = sa.select(mow_table).where(
        mow_table.c.removed.is_(None),
        mow_table.c.pack == kept_name(pack),
        mow_table.c.started.between(first.isoformat(), last.isoformat()),
    )
    return _few(book, chosen)


def mows_before(book: Logbook, started: str, count: int) -> list[MowRecord]:
    """The latest mows that began before a moment (ISO) and count for answers, at most `count`, in order."""
    chosen = (
        sa.select(mow_table)
        .where(
            mow_table.c.removed.is_(None),
            mow_table.c.started < started,
            mow_table.c.tags.not_like(f'%"{DOUBTFUL}"%'),
        )
        .order_by(mow_table.c.started.desc(), mow_table.c.id.desc())
        .limit(count)
    )
    return _few(book, chosen)


def _few(book: Logbook, chosen: sa.Select[Any]) -> list[MowRecord]:
    """The mows that are chosen, in order, without a look at the others."""
    with book.reading() as connection:
        rows = verified_rows(book.where, connection, chosen)
        found = _records(book.where, connection, rows, files.c.mow_id.in_([row["id"] for row in rows]))
    return sorted(found, key=order_of)


def newest_number(book: Logbook) -> int:
    """The highest number of any mow, removed ones included; 0 where there is none."""
    with book.reading() as connection:
        return connection.scalar(sa.select(sa.func.max(mow_table.c.id))) or 0


def mow_count(book: Logbook, pack: str | None = None) -> int:
    """How many mows are in use, of one pack or of all."""
    chosen = sa.select(sa.func.count()).select_from(mow_table).where(mow_table.c.removed.is_(None))
    if pack is not None:
        chosen = chosen.where(mow_table.c.pack == kept_name(pack))
    with book.reading() as connection:
        return connection.scalar(chosen) or 0


def mow(book: Logbook, mow_id: int) -> MowRecord:
    """One mow, even a removed one; InputError where no mow has that number."""
    with book.reading() as connection:
        row = row_of(book.where, connection, mow_id)
        return _records(book.where, connection, [row], files.c.mow_id == mow_id)[0]


def row_of(where: str, connection: sa.Connection, mow_id: int) -> dict[str, Any]:
    chosen = sa.select(mow_table).where(mow_table.c.id == mow_id)
    # PostgreSQL's integers end at 2**31 - 1; it refuses to look for a larger number.
    for row in verified_rows(where, connection, chosen) if abs(mow_id) < 2**31 else ():
        return row
    newest = connection.scalar(sa.select(sa.func.max(mow_table.c.id)))
    raise NotFound("mow", mow_id, mend=f"the newest is mow {newest}" if newest else "none is kept yet")


def _records(
    where: str, connection: sa.Connection, rows: Sequence[Mapping[str, Any]], *which: sa.ColumnElement[bool]
) -> list[MowRecord]:
    """The records of rows with their files; a part of a log has the files of the mow it was split from."""
    owners = {row["id"]: json.loads(row["decisions"]).get(FILES_OF, row["id"]) for row in rows}
    if which and set(owners.values()) - set(owners):
        which = ()
    chosen = sa.select(files).where(*which).order_by(files.c.id)
    kept: dict[int, tuple[KeptFile, ...]] = {}
    for file in verified_rows(where, connection, chosen) if rows else ():
        one = KeptFile(file["name"], file["size"], file["sha256"])
        kept[file["mow_id"]] = (*kept.get(file["mow_id"], ()), one)
    return [record_of(row, kept.get(owners[row["id"]], ())) for row in rows]


def holders(connection: sa.Connection, sha256: str, sheet: str | None) -> tuple[int | None, int | None]:
    """The mow whose upload has this checksum, and the mow that was read from it, from its `sheet` if named.

    Each is None where there is none: a workbook may hold a mow on each of its sheets.
    """
    owner = connection.execute(sa.select(files.c.mow_id).where(files.c.sha256 == sha256)).scalar()
    if owner is None:
        return None, None
    for number, text in connection.execute(sa.select(mow_table.c.id, mow_table.c.decisions)):
        said = json.loads(text)
        if said.get(FILES_OF, number) == owner and (sheet is None or said.get("sheet", sheet) == sheet):
            return owner, number
    return owner, None


def mow_of_bytes(book: Logbook, data: bytes, sheet: str | None = None) -> int | None:
    """The number of the mow that was read from these bytes, from this sheet if named; None where none was."""
    with book.reading() as connection:
        return holders(connection, hashlib.sha256(data).hexdigest(), sheet)[1]
