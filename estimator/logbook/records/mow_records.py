"""Mows: kept in one transaction with their files, listed, edited with history, removed and brought back."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa

from estimator.descriptions import ENDS, Grass
from estimator.errors import InputError
from estimator.logbook.handle import Logbook
from estimator.logbook.records.changes import insert_summed, keep_change, now_utc, update_summed
from estimator.logbook.records.derived import forget_summaries, put_derived
from estimator.logbook.records.descriptions import check_name
from estimator.logbook.records.mow_lists import holders, mow, row_of
from estimator.logbook.records.mow_values import (
    EDITABLE,
    FIGURES_REST_ON,
    FILES_OF,
    PART,
    MowRecord,
    column_values,
    record_of,
)
from estimator.logbook.records.uploads import put_files, ready_file
from estimator.logbook.tables import changes, file_bytes, files
from estimator.logbook.tables import mows as mow_table
from estimator.logbook.upkeep.checksums import canonical


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
    """Keep a mow with its files (name, bytes) and figures: all of it, or nothing.

    derived : figures already worked out from the mow, {kind: (version of the computation, plain JSON)}

    Raises InputError for an unknown lawn, pack or machine, and for bytes that the logbook already has,
    naming the mow that they belong to.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     add_mow(book, [("a.csv", b"time,amps,volts")], lawn="orchard").id
    ...     add_mow(book, [("b.csv", b"time,amps,volts")], lawn="orchard")
    Traceback (most recent call last):
    ...
    estimator.errors.AlreadyKept: b.csv: is already in the logbook as mow 1 (there a.csv); edit mow 1 instead
    """
    if not files:
        raise InputError("a mow has no file", mend="give one file, or one from each of two meters")
    ready_files = [ready_file(name, data) for name, data in files]
    if len({ready.file.sha256 for ready in ready_files}) < len(ready_files):
        raise InputError("the same file is given twice", file=files[0][0], mend="give it once")
    said = dict(decisions or {})
    with book.reading() as connection:
        owner, same = holders(connection, ready_files[0].file.sha256, said.get("sheet"))
    shared = owner is not None and same is None  # another sheet of a workbook that is kept already
    values = column_values(
        {
            "lawn": lawn, "grass": grass or Grass(), "pack": pack, "machine": machine, "started": started,
            "start_charge": start_charge, "temperature_c": temperature_c, "tags": tags, "notes": notes,
            "decisions": {**said, **({FILES_OF: owner} if shared else {})},
        }
    )  # fmt: skip
    values |= {"added": now_utc(), "removed": None}
    with book.writing() as connection:
        for kind, name in (("lawn", lawn), ("pack", pack), ("machine", machine)):
            if name is not None:
                check_name(connection, kind, name)
        mow_id = insert_summed(connection, mow_table, values)
        if not shared:
            put_files(connection, mow_id, ready_files)
        for kind, (version, plain) in (derived or {}).items():
            put_derived(connection, f"mow {mow_id}", kind, str(version), plain)
        kept = tuple(ready.file for ready in ready_files)
        keep_change(
            connection, f"mow {mow_id}", "added", None, {**values, "files": [asdict(file) for file in kept]}
        )
    return record_of({**values, "id": mow_id}, kept)


def edit_mow(book: Logbook, mow_id: int, **edits: Any) -> MowRecord:
    """Change what was said of a mow (lawn, grass, pack, machine, started, start_charge, temperature_c, tags,
    notes, decisions). What was said before stays in its history; its files stay as uploaded.

    Kept figures that may rest on the edit are dropped, to be worked out again; the mow's own figures are
    dropped only where the edit changes how its readings are taken.

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
        row = dict(row_of(book.where, connection, mow_id))
        for kind in ("lawn", "pack", "machine"):
            if edits.get(kind) is not None:
                check_name(connection, kind, edits[kind])
        new = {name: value for name, value in column_values(edits).items() if row[name] != value}
        if new:
            update_summed(connection, mow_table, {**row, **new})
            keep_change(connection, f"mow {mow_id}", "edited", {name: row[name] for name in new}, new)
        if set(new) - {"notes"}:
            forget_summaries(connection, [mow_id] if set(new) & FIGURES_REST_ON else ())
        return mow(book, mow_id)


def split_mow(book: Logbook, mow_id: int, at_s: float, lawn: str, pack: str | None = None) -> MowRecord:
    """Split a mow in two where it went on to another lawn, or with another pack, `at_s` [s] after its start;
    returns the second.

    pack : None keeps that of the mow

    The bytes stay as uploaded and are kept once: both mows are parts of the same log. The charge at the start
    of the second is not known; tags that say how the mow ended move to the second.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, bytes_of, keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     keep_lawn(book, Lawn("verge", area_m2=90))
    ...     _ = add_mow(book, [("mow.csv", b"1")], lawn="orchard", started=datetime(2026, 5, 1, 9))
    ...     second = split_mow(book, 1, 1500.0, "verge")
    ...     second.id, second.started.minute, dict(second.decisions), bytes_of(book, 2) == bytes_of(book, 1)
    (2, 25, {'files_of': 1, 'part': [1500.0, None]}, True)
    """
    with book.writing() as connection:
        row = dict(row_of(book.where, connection, mow_id))
        check_name(connection, "lawn", lawn)
        if pack:
            check_name(connection, "pack", pack)
        decisions, tags = json.loads(row["decisions"]), json.loads(row["tags"])
        start_s, end_s = decisions.get(PART, (0.0, None))
        whole = decisions.get(FILES_OF, mow_id)
        first = {
            "tags": canonical([tag for tag in tags if tag not in ENDS]),
            "decisions": canonical({**decisions, PART: (start_s, start_s + at_s)}),
        }
        began = None if row["started"] is None else datetime.fromisoformat(row["started"])
        second = {
            **row,
            **column_values(
                {
                    "lawn": lawn,
                    "pack": pack or row["pack"],
                    "started": None if began is None else began + timedelta(seconds=at_s),
                    "start_charge": None,
                    "notes": f"Part of the log of mow {whole}, whose notes say what was recognised in it.",
                    "decisions": {FILES_OF: mow_id, **decisions, PART: (start_s + at_s, end_s)},
                }
            ),
            "added": now_utc(),
        }
        del second["id"], second["sum"]
        update_summed(connection, mow_table, {**row, **first})
        keep_change(connection, f"mow {mow_id}", "split", {name: row[name] for name in first}, first)
        number = insert_summed(connection, mow_table, second)
        keep_change(connection, f"mow {number}", "added", None, second)
        forget_summaries(connection, [mow_id])
        return mow(book, number)


def remove_mow(book: Logbook, mow_id: int) -> None:
    """Take a mow out of all answers; it can be restored until it is purged."""
    _mark(book, mow_id, now_utc(), "removed")


def restore_mow(book: Logbook, mow_id: int) -> None:
    """Restore a removed mow as it was."""
    _mark(book, mow_id, None, "restored")


def purge_mow(book: Logbook, mow_id: int) -> None:
    """Delete a removed mow for good, with its files and history; its number is never used again.

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
        if row_of(book.where, connection, mow_id)["removed"] is None:
            raise InputError(f"mow {mow_id} is in use", mend="remove it first")
        parts = [
            number
            for number, text in connection.execute(sa.select(mow_table.c.id, mow_table.c.decisions))
            if json.loads(text).get(FILES_OF) == mow_id
        ]
        if parts:
            raise InputError(
                f"mow {mow_id} keeps the file of mow {parts[0]}", mend=f"purge mow {parts[0]} first"
            )
        ids = sa.select(files.c.id).where(files.c.mow_id == mow_id)
        connection.execute(sa.delete(file_bytes).where(file_bytes.c.file_id.in_(ids)))
        connection.execute(sa.delete(files).where(files.c.mow_id == mow_id))
        connection.execute(sa.delete(mow_table).where(mow_table.c.id == mow_id))
        connection.execute(sa.delete(changes).where(changes.c.subject == f"mow {mow_id}"))
        forget_summaries(connection, [mow_id])
        keep_change(connection, f"mow {mow_id}", "purged")


def _mark(book: Logbook, mow_id: int, removed: str | None, what: str) -> None:
    with book.writing() as connection:
        row = row_of(book.where, connection, mow_id)
        if (row["removed"] is None) == (removed is None):
            state = "not removed" if removed is None else "removed already"
            mend = "look at its history" if removed is None else "restore brings it back"
            raise InputError(f"mow {mow_id} is {state}", mend=mend)
        update_summed(connection, mow_table, {**row, "removed": removed})
        forget_summaries(connection)
        keep_change(connection, f"mow {mow_id}", what, {"removed": row["removed"]}, {"removed": removed})
