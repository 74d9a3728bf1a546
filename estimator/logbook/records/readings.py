"""What a mow's kept bytes hold: the files as they were uploaded, and the log that is read from them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import sqlalchemy as sa

from estimator.descriptions import RAN_OUT
from estimator.errors import InputError, LogbookError, NotFound
from estimator.logbook.handle import Logbook
from estimator.logbook.records.mow_lists import mow
from estimator.logbook.records.mow_values import FILES_OF, HAND, PART
from estimator.logbook.records.uploads import as_uploaded
from estimator.logbook.tables import file_bytes, files, mows

if TYPE_CHECKING:
    from estimator.importer.cleaning.mending import Examined
    from estimator.importer.log import Log


def bytes_of(book: Logbook, mow_id: int) -> list[tuple[str, bytes]]:
    """The files of a mow (name, bytes), exactly as they were uploaded.

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
        said = None if rows else connection.scalar(sa.select(mows.c.decisions).where(mows.c.id == mow_id))
    if not rows and said is None:
        raise NotFound("mow", mow_id, mend="list the mows")
    if not rows and FILES_OF in json.loads(said or "{}"):
        return bytes_of(book, json.loads(said or "{}")[FILES_OF])
    if not rows:
        raise LogbookError(f"{book.where}: the files of mow {mow_id} are lost", mend="restore a backup")
    return [(row.name, as_uploaded(book.where, mow_id, row)) for row in rows]


def log_of(book: Logbook, mow_id: int, uploads: Sequence[tuple[str, bytes]] | None = None) -> Log:
    """The log of a mow, read again from the kept bytes with the decisions kept for it.

    So a newer importer reads old uploads better, and nothing that an older one left out is lost. Corrected
    hand readings replace those in the file; a mow that is a part of a log gets only that part.

    uploads : what `bytes_of` gives for the mow, where it was already called
    """
    from estimator.importer.log import part_of_log

    record, log = mow(book, mow_id), examined_of(book, mow_id, uploads).log
    decisions = record.decisions
    if RAN_OUT in record.tags:
        log = replace(log, ran_out=True)
    log = corrected(log, decisions[HAND]) if decisions.get(HAND) else log
    return log if decisions.get(PART) is None else part_of_log(log, *decisions[PART])


def examined_of(book: Logbook, mow_id: int, uploads: Sequence[tuple[str, bytes]] | None = None) -> Examined:
    """What was recognised and mended in the files of a mow, in whole files even where the mow is a part."""
    from estimator.importer.meter import Meter
    from estimator.importer.read import examine_once

    kept = mow(book, mow_id).decisions
    decisions = {name: value for name, value in kept.items() if name not in (HAND, PART, FILES_OF)}
    if "meters" in decisions:
        decisions["meters"] = [Meter.from_plain(plain) for plain in decisions["meters"]]
    return examine_once(bytes_of(book, mow_id) if uploads is None else list(uploads), **decisions)


def corrected(log: Log, readings: Mapping[str, float | None]) -> Log:
    """A log of hand readings with some corrected, given by their names in `SpotNotes`; None deletes one.

    >>> from estimator.importer.by_hand.spot_notes import log_from_spot
    >>> from estimator.importer.log import SpotNotes
    >>> log = log_from_spot(SpotNotes(typical_a=71, minutes=30, rest_before_v=54))
    >>> corrected(log, {"typical_a": 17.0}).notes[-1]
    'Corrected by hand: typical amps 17 (was 71).'
    """
    from estimator.importer.by_hand.spot_notes import log_from_spot
    from estimator.importer.by_hand.spot_order import WORDS

    if log.spot is None:
        raise InputError(f"{log.name} is a log, not hand readings", mend="edit what was said of the mow")
    was = asdict(log.spot)
    said = [
        f"{WORDS[name]} {'taken back' if value is None else f'{round(value, 2):g}'} "
        f"({'not read' if was[name] is None else f'was {round(was[name], 2):g}'})"
        for name, value in readings.items()
        if value != was[name]
    ]
    notes = [f"Corrected by hand: {', '.join(said)}."] if said else []
    return replace(log_from_spot(replace(log.spot, **readings), log.name, notes=notes), started=log.started)
