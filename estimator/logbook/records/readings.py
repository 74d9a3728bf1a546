"""What a mow's kept bytes hold: the files as they were uploaded, and the log read from them anew."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import sqlalchemy as sa

from estimator.errors import LogbookError, NotFound
from estimator.logbook.handle import Logbook
from estimator.logbook.records.mow_records import mow
from estimator.logbook.records.uploads import as_uploaded
from estimator.logbook.tables import file_bytes, files, mows

if TYPE_CHECKING:
    from estimator.importer.log import Log


def bytes_of(book: Logbook, mow_id: int) -> list[tuple[str, bytes]]:
    """The files of a mow, name and bytes, exactly as they were uploaded.

    Raises InputError where there is no such mow, LogbookError where the bytes no longer match their checksum.

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, keep_lawn, open_logbook
    >>> with open_logbook(getfixture("tmp_path") / "logbook.sqlite") as book:
    ...     keep_lawn(book, Lawn("orchard", area_m2=420))
    ...     _ = add_mow(book, [("mow.csv", b"9.8 A")], lawn="orchard")
    ...     bytes_of(book, 1)
    [('mow.csv', b'9.8 A')]
    """
    with book.reading() as connection:
        rows = connection.execute(
            sa.select(files.c.name, files.c.codec, files.c.sha256, file_bytes.c.packed, file_bytes.c.guard)
            .join_from(files, file_bytes, isouter=True)
            .where(files.c.mow_id == mow_id)
            .order_by(files.c.position)
        ).all()
        known = rows or connection.scalar(sa.select(mows.c.id).where(mows.c.id == mow_id))
    if not known:
        raise NotFound("mow", mow_id, mend="list the mows")
    if not rows:
        raise LogbookError(f"{book.where}: the files of mow {mow_id} are lost", mend="restore a backup")
    return [(row.name, as_uploaded(book.where, mow_id, row)) for row in rows]


def log_of(book: Logbook, mow_id: int, uploads: Sequence[tuple[str, bytes]] | None = None) -> Log:
    """The log of a mow, read anew from the kept bytes with the decisions kept for it.

    A newer importer thus mends old uploads better; nothing that it once left out is lost.

    uploads : what `bytes_of` gives for the mow, where it is unpacked already
    """
    from estimator.importer.meter import Meter
    from estimator.importer.once import examine_once

    decisions = dict(mow(book, mow_id).decisions)
    if "meters" in decisions:
        decisions["meters"] = [Meter.from_plain(plain) for plain in decisions["meters"]]
    return examine_once(bytes_of(book, mow_id) if uploads is None else list(uploads), **decisions).log
