"""Check once the mows that earlier versions kept, by what is known today of readings that cannot be true."""

from __future__ import annotations

from collections.abc import Callable

from estimator import logbook as kept
from estimator.answers.figures.mow_log import set_aside
from estimator.contradictions import check_log_of_pack
from estimator.descriptions import DOUBTFUL, Pack
from estimator.errors import InputError, LogbookError
from estimator.importer.log import Log
from estimator.logbook import Logbook, MowRecord
from estimator.logbook.tables import LOOK, LOOK_VERSION


def look_again(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> tuple[int, ...]:
    """Set aside the mows that would be doubtful if they were added today; returns their numbers.

    Done once for each logbook and version, but never for a mow that once had the tag: whoever took it off
    knows better. A mow whose log can no longer be read is set aside too: no answer could be given with it.
    Trouble with the logbook itself is left to whatever it was opened for; the next answer tries again.
    """
    try:
        if not logbook.keeps or kept.noted(logbook, LOOK) == LOOK_VERSION:
            return ()
        return _set_aside(logbook, progress)
    except LogbookError:
        return ()


def _set_aside(logbook: Logbook, progress: Callable[[str], None]) -> tuple[int, ...]:
    records = kept.mows(logbook)
    packs = {pack.name: pack for pack in kept.packs(logbook)}
    doubted = []
    for place, record in enumerate(records, start=1):
        progress(f"looking once at mow {place} of {len(records)}")
        if _is_doubtful(logbook, record, packs.get(record.pack or "")) and not _was_aside(logbook, record):
            doubted.append(record)
    with logbook.writing():
        for record in doubted:
            kept.edit_mow(logbook, record.id, tags=(*record.tags, DOUBTFUL))
        kept.note(logbook, LOOK, LOOK_VERSION)
    return tuple(record.id for record in doubted)


def _is_doubtful(logbook: Logbook, record: MowRecord, pack: Pack | None) -> bool:
    try:
        log = kept.log_of(logbook, record.id)
        check_log(log, pack, record.start_charge)
    except InputError:
        return True
    except LogbookError:
        return False  # damaged bytes say nothing about the readings; `logbook check` finds them
    return bool(set_aside(log, pack))


def check_log(log: Log, pack: Pack | None, start_charge: float | None = None) -> None:
    """Raise InputError for a pack that the log cannot come from, or for none where hand readings need one."""
    from estimator.fitting.by_hand.spot_volts import with_usual_volts

    log = with_usual_volts(log, pack, start_charge)
    if pack is not None:
        check_log_of_pack(log, pack)


def _was_aside(logbook: Logbook, record: MowRecord) -> bool:
    return any(
        DOUBTFUL in (said or {}).get("tags", ())
        for change in kept.history(logbook, record.id)
        for said in (change.before, change.after)
    )
