"""Mows: kept in one transaction with their files, listed, edited with history, removed and brought back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from estimator.descriptions import DOUBTFUL, Grass
from estimator.errors import InputError, NotFound
from estimator.logbook.handle import Logbook, mappings
from estimator.logbook.records.changes import insert_summed, keep_change, now_utc
from estimator.logbook.records.derived import forget_summaries, put_derived
from estimator.logbook.records.descriptions import check_name
from estimator.logbook.records.mow_values import (
    EDITABLE,
    FIGURES_REST_ON,
    MowRecord,
    column_values,
    order_of,
    record_of,
)
from estimator.logbook.records.names import kept_name
from estimator.logbook.records.uploads import KeptFile, put_files, ready_file
from estimator.logbook.tables import changes, file_bytes, files
from estimator.logbook.tables import mows as mow_table
from estimator.logbook.upkeep.checksums import row_sum, verified


def add_mow(
    book: Logbook,
    files: Sequence[tuple[str, bytes]],
    *,
    lawn: str,
    grass: Grass | None = None,
    pack: str | None = None,
    machine: str | None = None,
    started: datetime | None = None,
    start_charge: float | None = None,
    temperature_c: float | None = None,
    tags: Sequence[str] = (),
    notes: str = "",
    decisions: Mapping[str, Any] | None = None,
    derived: Mapping[str, tuple[str | int, Any]] | None = None,
) -> MowRecord:
    """Keep a mow with its one or two files (name, bytes) and figures: all of it, or nothing.

    derived : figures worked out from the mow already, {kind: (version of the computation, plain JSON)}

    Raises InputError for an unknown lawn, pack or machine, and for bytes that the logbook has already,
    naming the mow they belong to.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     add_mow(book, [("mow.csv", b"time,amps,volts")], lawn="orchard").id
    ...     add_mow(book, [("renamed.csv", b"time,amps,volts")], lawn="orchard")
    Traceback (most recent call last):
    ...
    estimator.errors.AlreadyKept: renamed.csv: is already in the logbook as mow.csv: mow 1; edit mow 1 instead
    """
    if not files:
        raise InputError("a mow has no file", mend="give one file, or two of two meters")
    ready_files = [ready_file(name, data) for name, data in files]
    if len({ready.file.sha256 for ready in ready_files}) < len(ready_files):
        raise InputError("the same file is given twice", file=files[0][0], mend="give it once")
    values = column_values(
        {
            "lawn": lawn, "grass": grass or Grass(), "pack": pack, "machine": machine, "started": started,
            "start_charge": start_charge, "temperature_c": temperature_c, "tags": tags, "notes": notes,
            "decisions": decisions or {},
        }
    )  # fmt: skip
    values |= {"added": now_utc(), "removed": None}
    with book.writing() as connection:
        for kind, name in (("lawn", lawn), ("pack", pack), ("machine", machine)):
            if name is not None:
                check_name(connection, kind, name)
        mow_id = insert_summed(connection, mow_table, values)
        put_files(connection, mow_id, ready_files)
        for kind, (version, plain) in (derived or {}).items():
            put_derived(connection, f"mow {mow_id}", kind, str(version), plain)
        kept = tuple(ready.file for ready in ready_files)
        keep_change(
            connection, f"mow {mow_id}", "added", None, {**values, "files": [asdict(file) for file in kept]}
        )
    return record_of({**values, "id": mow_id}, kept)


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

    lawn, pack, machine, tag : only those; an unknown lawn, pack or machine raises InputError
    season : only those of a year; since, until : only those of these days and between
    above : only those with a higher number, which are looked up without reading the others
    removed : True lists the removed ones instead
    doubtful : mows that are kept aside, on which no answer rests: False leaves them out, True lists them
        alone, None with the others

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
        rows = [verified(book.where, mow_table, row) for row in mappings(connection, chosen)]
        kept = _files_of(book.where, connection, *newer) if rows else {}
    found = [record_of(row, kept.get(row["id"], ())) for row in rows]
    if season is not None:
        found = [mow for mow in found if mow.started is not None and mow.started.year == season]
    if since is not None:
        found = [mow for mow in found if mow.started is not None and mow.started.date() >= since]
    if until is not None:
        found = [mow for mow in found if mow.started is not None and mow.started.date() <= until]
    if tag is not None:
        found = [mow for mow in found if tag in mow.tags]
    if doubtful is not None:
        found = [mow for mow in found if (DOUBTFUL in mow.tags) is doubtful]
    return sorted(found, key=order_of)


def mows_begun(book: Logbook, pack: str, first: datetime, last: datetime) -> list[MowRecord]:
    """The mows of a pack that began from one moment to another, both included, in their order."""
    chosen = sa.select(mow_table).where(
        mow_table.c.removed.is_(None),
        mow_table.c.pack == kept_name(pack),
        mow_table.c.started.between(first.isoformat(), last.isoformat()),
    )
    with book.reading() as connection:
        rows = [verified(book.where, mow_table, row) for row in mappings(connection, chosen)]
        kept = _files_of(book.where, connection, files.c.mow_id.in_([row["id"] for row in rows]))
    return sorted((record_of(row, kept.get(row["id"], ())) for row in rows), key=order_of)


def newest_number(book: Logbook) -> int:
    """The highest number of a mow, also of a removed one; 0 where there is none."""
    with book.reading() as connection:
        return connection.scalar(sa.select(sa.func.max(mow_table.c.id))) or 0


def mow_count(book: Logbook, pack: str | None = None) -> int:
    """How many mows are in use, of all packs or of one."""
    chosen = sa.select(sa.func.count()).select_from(mow_table).where(mow_table.c.removed.is_(None))
    if pack is not None:
        chosen = chosen.where(mow_table.c.pack == kept_name(pack))
    with book.reading() as connection:
        return connection.scalar(chosen) or 0


def mow(book: Logbook, mow_id: int) -> MowRecord:
    """One mow, also a removed one; InputError where there is none of that number."""
    with book.reading() as connection:
        row = _row(book.where, connection, mow_id)
        kept = _files_of(book.where, connection, files.c.mow_id == mow_id)
    return record_of(row, kept.get(mow_id, ()))


def edit_mow(book: Logbook, mow_id: int, **edits: Any) -> MowRecord:
    """Change what was said of a mow (lawn, grass, pack, machine, started, start_charge, temperature_c, tags,
    notes, decisions); what it said before stays in its history, its files stay as uploaded.

    Kept figures that may rest on what changed are forgotten, to be worked out anew: those of the mow only
    where the edit bears on how its readings are taken.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, edit_mow, history, keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="orchard")
    ...     edit_mow(book, 1, grass=Grass(moisture="wet")).grass.moisture, history(book, 1)[-1].after
    ('wet', {'moisture': 'wet'})
    """
    unknown = sorted(set(edits) - set(EDITABLE))
    if unknown:
        raise InputError(f"{unknown[0]!r} of a mow cannot be edited", mend=f"edit {', '.join(EDITABLE)}")
    if "lawn" in edits and edits["lawn"] is None:
        raise InputError("a mow has no lawn", mend="name one")
    with book.writing() as connection:
        row = dict(_row(book.where, connection, mow_id))
        for kind in ("lawn", "pack", "machine"):
            if edits.get(kind) is not None:
                check_name(connection, kind, edits[kind])
        new = {name: value for name, value in column_values(edits).items() if row[name] != value}
        if new:
            _update(connection, {**row, **new})
            keep_change(connection, f"mow {mow_id}", "edited", {name: row[name] for name in new}, new)
        if set(new) - {"notes"}:
            forget_summaries(connection, [mow_id] if set(new) & FIGURES_REST_ON else ())
        return mow(book, mow_id)


def remove_mow(book: Logbook, mow_id: int) -> None:
    """Take a mow out of every answer; it can be restored until it is purged."""
    _mark(book, mow_id, now_utc(), "removed")


def restore_mow(book: Logbook, mow_id: int) -> None:
    """Bring a removed mow back, as it was."""
    _mark(book, mow_id, None, "restored")


def purge_mow(book: Logbook, mow_id: int) -> None:
    """Delete a removed mow for good, with its files and history; its number is not given again.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, mows, open_logbook, purge_mow, remove_mow
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="orchard")
    ...     remove_mow(book, 1)
    ...     len(mows(book)), len(mows(book, removed=True))
    ...     purge_mow(book, 1)
    ...     len(mows(book, removed=True)), add_mow(book, [("mow.csv", b"1")], lawn="orchard").id
    (0, 1)
    (0, 2)
    """
    with book.writing() as connection:
        if _row(book.where, connection, mow_id)["removed"] is None:
            raise InputError(f"mow {mow_id} is in use", mend="remove it first")
        ids = sa.select(files.c.id).where(files.c.mow_id == mow_id)
        connection.execute(sa.delete(file_bytes).where(file_bytes.c.file_id.in_(ids)))
        connection.execute(sa.delete(files).where(files.c.mow_id == mow_id))
        connection.execute(sa.delete(mow_table).where(mow_table.c.id == mow_id))
        connection.execute(sa.delete(changes).where(changes.c.subject == f"mow {mow_id}"))
        forget_summaries(connection, [mow_id])
        keep_change(connection, f"mow {mow_id}", "purged")


def _row(where: str, connection: sa.Connection, mow_id: int) -> dict[str, Any]:
    chosen = sa.select(mow_table).where(mow_table.c.id == mow_id)
    # Databases count to 2**31 - 1 at least and refuse to look for more.
    for row in mappings(connection, chosen) if abs(mow_id) < 2**31 else ():
        return verified(where, mow_table, row)
    raise NotFound("mow", mow_id, mend="list the mows")


def _update(connection: sa.Connection, row: Mapping[str, Any]) -> None:
    values = {**row, "sum": row_sum(mow_table, row)}
    connection.execute(sa.update(mow_table).where(mow_table.c.id == row["id"]).values(**values))


def _mark(book: Logbook, mow_id: int, removed: str | None, what: str) -> None:
    with book.writing() as connection:
        row = _row(book.where, connection, mow_id)
        if (row["removed"] is None) == (removed is None):
            state = "in use" if removed is None else "removed already"
            raise InputError(f"mow {mow_id} is {state}", mend="look at its history")
        _update(connection, {**row, "removed": removed})
        forget_summaries(connection)
        keep_change(connection, f"mow {mow_id}", what, {"removed": row["removed"]}, {"removed": removed})


def _files_of(
    where: str, connection: sa.Connection, *which: sa.ColumnElement[bool]
) -> dict[int, tuple[KeptFile, ...]]:
    chosen = sa.select(files).where(*which).order_by(files.c.id)
    kept: dict[int, tuple[KeptFile, ...]] = {}
    for row in mappings(connection, chosen):
        file = verified(where, files, row)
        kept[file["mow_id"]] = (
            *kept.get(file["mow_id"], ()),
            KeptFile(file["name"], file["size"], file["sha256"]),
        )
    return kept
