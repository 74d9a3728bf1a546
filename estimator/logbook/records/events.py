"""What happened to a machine or pack between mows: blade care, a new cable, a new controller."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa

from estimator.errors import NotFound
from estimator.logbook.handle import Logbook
from estimator.logbook.records.changes import insert_summed, keep_change, now_utc, update_summed
from estimator.logbook.records.descriptions import check_name, check_text
from estimator.logbook.records.names import kept_name
from estimator.logbook.tables import events
from estimator.logbook.upkeep.checksums import verified_rows
from estimator.written_days import moment


@dataclass(frozen=True)
class Event:
    """A dated event such as blade care, in the user's words, for one machine or for all of them."""

    id: int
    day: date
    kind: str
    words: str
    machine: str | None = None


def keep_event(book: Logbook, day: date | str, kind: str, words: str = "", machine: str | None = None) -> int:
    """Keep a dated event (kind such as "blade care"); returns its number.

    >>> from estimator.logbook import events_of, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_event(book, "2025-05-01", "blade care", "sharpened")
    ...     [(event.day.month, event.words) for event in events_of(book, kind="blade care")]
    1
    [(5, 'sharpened')]
    """
    on = (moment(day).date() if isinstance(day, str) else day).isoformat()
    check_text("the words", words)
    with book.writing() as connection:
        if machine is not None:
            check_name(connection, "machine", machine)
            machine = kept_name(machine)
        values = {"day": on, "machine": machine, "kind": kind, "words": words, "removed": None}
        number = insert_summed(connection, events, values)
        keep_change(connection, f"event {number}", "described", None, values)
    return number


def events_of(book: Logbook, kind: str | None = None) -> tuple[Event, ...]:
    """Events by date; only those of `kind` where given."""
    chosen = sa.select(events).where(events.c.removed.is_(None)).order_by(events.c.day, events.c.id)
    if kind is not None:
        chosen = chosen.where(events.c.kind == kind)
    with book.reading() as connection:
        rows = verified_rows(book.where, connection, chosen)
    return tuple(
        Event(row["id"], date.fromisoformat(row["day"]), row["kind"], row["words"], row["machine"])
        for row in rows
    )


def remove_event(book: Logbook, event_id: int) -> None:
    """Delete an event; its words stay in the history."""
    with book.writing() as connection:
        row = (
            connection.execute(sa.select(events).where(events.c.id == event_id, events.c.removed.is_(None)))
            .mappings()
            .one_or_none()
        )
        if row is None:
            raise NotFound("event", event_id, mend="list the events")
        update_summed(connection, events, {**row, "removed": now_utc()})
        keep_change(connection, f"event {event_id}", "removed")
