"""The history of edits: what was edited and when is always kept, who did it is never asked."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from estimator.logbook.handle import Logbook
from estimator.logbook.records.derived import subject_of
from estimator.logbook.tables import about, changes
from estimator.logbook.upkeep.checksums import canonical, verified_rows, with_sum

RENAMED, MERGED = "renamed", "merged"


@dataclass(frozen=True)
class Change:
    """One edit: its subject such as "mow 12", when [UTC], what, and the plain values before and after."""

    subject: str
    at: str
    what: str
    before: Mapping[str, Any] | None = None
    after: Mapping[str, Any] | None = None


def now_utc() -> str:
    """The present instant, to the second, as ISO 8601 in UTC."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def insert_summed(connection: sa.Connection, table: sa.Table, values: Mapping[str, Any]) -> int:
    """Insert a row into a numbered table with its checksum; returns its number."""
    done = connection.execute(sa.insert(table).values(**values))
    assert done.inserted_primary_key is not None
    number = int(done.inserted_primary_key[0])
    update_summed(connection, table, {**values, "id": number})
    return number


def update_summed(connection: sa.Connection, table: sa.Table, row: Mapping[str, Any]) -> None:
    """Replace the row that has the same number in a numbered table, with a new checksum."""
    connection.execute(sa.update(table).where(table.c.id == row["id"]).values(**with_sum(table, row)))


def keep_change(
    connection: sa.Connection,
    subject: str,
    what: str,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> None:
    """Write one edit into the history."""
    values = {
        "subject": subject,
        "at": now_utc(),
        "what": what,
        "before": None if before is None else canonical(before),
        "after": None if after is None else canonical(after),
    }
    insert_summed(connection, changes, values)


def history(book: Logbook, subject: str | int) -> tuple[Change, ...]:
    """The edits of a mow (by its number) or of a subject such as "lawn orchard", oldest first.

    For what was renamed, the edits under its earlier names are included.
    """
    with book.reading() as connection:
        rows = _edits(book.where, connection, subject_of(subject))
    return tuple(
        Change(row["subject"], row["at"], row["what"], _loaded(row["before"]), _loaded(row["after"]))
        for row in rows
    )


def _edits(
    where: str, connection: sa.Connection, subject: str, before: int | None = None
) -> list[dict[str, Any]]:
    """The edits of a subject, and those under each earlier name up to the renaming."""
    chosen = sa.select(changes).where(changes.c.subject == subject).order_by(changes.c.id)
    if before is not None:
        chosen = chosen.where(changes.c.id < before)
    rows = verified_rows(where, connection, chosen)
    renamed = [place for place, row in enumerate(rows) if row["what"] == RENAMED]
    if not renamed:
        return rows
    rows = rows[renamed[-1] :]
    kind, old = subject.split(" ", 1)[0], json.loads(rows[0]["before"])["name"]
    return [*_edits(where, connection, f"{kind} {old}", rows[0]["id"]), *rows]


def noted(book: Logbook, name: str) -> str | None:
    """What is noted under a name for the whole logbook, such as a job done once; None where nothing is.

    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     before = noted(book, "swept")
    ...     note(book, "swept", "1")
    ...     before, noted(book, "swept")
    (None, '1')
    """
    with book.reading() as connection:
        return connection.scalar(sa.select(about.c.value).where(about.c.name == name))


def note(book: Logbook, name: str, value: str) -> None:
    """Note something for the whole logbook, replacing what was noted under that name."""
    with book.writing() as connection:
        connection.execute(sa.delete(about).where(about.c.name == name))
        connection.execute(sa.insert(about).values(name=name, value=value))


def latest_change(book: Logbook) -> str:
    """A short text that differs for every edit; as long as it stays the same, nothing was edited.

    >>> from estimator.logbook import keep_event, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     before = latest_change(book)
    ...     _ = keep_event(book, "2025-05-01", "blade care", "sharpened")
    ...     before, latest_change(book) != before
    ('', True)
    """
    columns = (changes.c.id, changes.c.at, changes.c.subject, changes.c.what)
    with book.reading() as connection:
        row = connection.execute(sa.select(*columns).order_by(changes.c.id.desc()).limit(1)).one_or_none()
    return "" if row is None else " ".join(map(str, row))


def _loaded(text: str | None) -> Mapping[str, Any] | None:
    return None if text is None else json.loads(text)
