"""The latest mows, without reading all of them."""

from __future__ import annotations

import sqlalchemy as sa

from estimator.logbook import Logbook, MowRecord, mow
from estimator.logbook.tables import mows as mow_table

_IN_USE = mow_table.c.removed.is_(None)


def latest_mow(book: Logbook) -> MowRecord | None:
    """The mow that was added last, None where there is none."""
    with book.reading() as connection:
        number = connection.scalar(sa.select(sa.func.max(mow_table.c.id)).where(_IN_USE))
    return None if number is None else mow(book, number)


def last_mown(book: Logbook) -> dict[str, str]:
    """The start of the latest mow of each lawn that was ever mown, as ISO text."""
    last = sa.func.max(mow_table.c.started)
    with book.reading() as connection:
        rows = connection.execute(sa.select(mow_table.c.lawn, last).where(_IN_USE).group_by(mow_table.c.lawn))
        return {lawn: started for lawn, started in rows if started is not None}
