"""Derived figures, kept with the version of their computation: no answer has to read old files again."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa

from estimator.errors import LogbookError
from estimator.logbook.handle import Logbook
from estimator.logbook.tables import derived, mows
from estimator.logbook.upkeep.checksums import canonical

FEW = 100  # figures of up to so many mows are looked up by number; for more, all are read


def subject_of(subject: str | int) -> str:
    """A mow's number as a subject, or the subject itself.

    >>> subject_of(12), subject_of("pack old one")
    ('mow 12', 'pack old one')
    """
    return f"mow {subject}" if isinstance(subject, int) else subject


def keep_derived(book: Logbook, subject: str | int, kind: str, version: str | int, plain: Any) -> None:
    """Keep figures (anything JSON can hold) of a mow or subject, replacing those of any other version.

    Nothing is kept where the logbook cannot be written now: figures can be worked out again.
    """
    if book.keeps:
        with book.writing() as connection:
            put_derived(connection, subject_of(subject), kind, str(version), plain)


def put_derived(connection: sa.Connection, subject: str, kind: str, version: str, plain: Any) -> None:
    """Keep figures inside a transaction that is already open."""
    packed = zlib.compress(canonical(plain).encode(), 6)
    same = (derived.c.subject == subject) & (derived.c.kind == kind)
    connection.execute(sa.delete(derived).where(same))
    connection.execute(sa.insert(derived).values(subject=subject, kind=kind, version=version, packed=packed))


def derived_of(book: Logbook, subject: str | int, kind: str, version: str | int) -> Any | None:
    """The kept figures of one mow or subject; None where there are none of this version.

    >>> from estimator.logbook import open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_derived(book, "pack old one", "fit", 3, {"capacity_ah": 8.7})
    ...     derived_of(book, "pack old one", "fit", 3), derived_of(book, "pack old one", "fit", 4)
    ({'capacity_ah': 8.7}, None)
    """
    with book.reading() as connection:
        packed = connection.scalar(
            sa.select(derived.c.packed).where(
                derived.c.subject == subject_of(subject),
                derived.c.kind == kind,
                derived.c.version == str(version),
            )
        )
    return None if packed is None else _read(book, subject_of(subject), packed)


def derived_of_mows(
    book: Logbook, kind: str, version: str | int, mow_ids: Iterable[int] | None = None
) -> dict[int, Any]:
    """The kept figures of many mows at once, by mow number; mows without them are left out.

    mow_ids : the mows wanted; None takes all that are not removed

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     for number in (1, 2, 3):
    ...         figures = {"features": (1, {"energy_wh": 70.0 + number})} if number < 3 else {}
    ...         _ = add_mow(book, [("mow.csv", b"%d" % number)], lawn="orchard", derived=figures)
    ...     derived_of_mows(book, "features", 1)
    {1: {'energy_wh': 71.0}, 2: {'energy_wh': 72.0}}
    """
    chosen = sa.select(derived.c.subject, derived.c.packed).where(
        derived.c.kind == kind, derived.c.version == str(version)
    )
    with book.reading() as connection:
        if mow_ids is None:
            mow_ids = connection.scalars(sa.select(mows.c.id).where(mows.c.removed.is_(None))).all()
        wanted = {f"mow {mow_id}": mow_id for mow_id in mow_ids}
        if len(wanted) <= FEW:
            chosen = chosen.where(derived.c.subject.in_(wanted))
        rows = connection.execute(chosen).all()
    found = {
        wanted[row.subject]: _read(book, row.subject, row.packed) for row in rows if row.subject in wanted
    }
    return dict(sorted(found.items()))


def forget_derived(book: Logbook, subject: str | int | None = None, kind: str | None = None) -> None:
    """Drop the kept figures of one subject (None: of every one) and of one kind (None: of every kind)."""
    with book.writing() as connection:
        gone = sa.delete(derived)
        if subject is not None:
            gone = gone.where(derived.c.subject == subject_of(subject))
        if kind is not None:
            gone = gone.where(derived.c.kind == kind)
        connection.execute(gone)


def forget_summaries(connection: sa.Connection, mow_ids: Iterable[int] = ()) -> None:
    """Drop the figures of these mows, and all figures that are not of a single mow: they may rest on them."""
    of_these = derived.c.subject.in_([f"mow {mow_id}" for mow_id in mow_ids])
    connection.execute(sa.delete(derived).where(derived.c.subject.not_like("mow %") | of_these))


def _read(book: Logbook, subject: str, packed: bytes) -> Any:
    try:
        return json.loads(zlib.decompress(packed))
    except (zlib.error, ValueError):
        raise LogbookError(
            f"{book.where}: the kept figures of {subject} are damaged",
            mend="work them out again (logbook renew)",
        ) from None
