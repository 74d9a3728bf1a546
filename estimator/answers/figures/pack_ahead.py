"""The fit of a pack with a new mow, worked out before the transaction that keeps it, so that nobody waits.

Fits after later mows change too; that is left to the next answer, so that adding an old mow costs no more
than adding today's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.figures.pack_chain import Rejoining, keep_links, known_pack, one_step, rejoining
from estimator.answers.figures.pack_steps import kept_end
from estimator.descriptions import Pack
from estimator.logbook import Logbook, MowRecord, mows
from estimator.logbook.records.mow_values import order_of
from estimator.mow import Mow, day_of

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack


@dataclass(frozen=True)
class Ahead:
    """Where a new mow joins its pack's chain, and the pack after it."""

    joined: Rejoining
    fitted: FittedPack


def fitted_ahead(logbook: Logbook, pack: Pack, mow: Mow, progress: Callable[[str], None]) -> Ahead | None:
    """The fit with a new mow; None where the mow lies further back than whole fits are kept.

    Fits after the mows that come later are not worked out here, however many there are: the next answer does.
    """
    with logbook.reading():
        end = kept_end(logbook, pack)
        joined = None
        if end is not None and not mows(logbook, pack=pack.name, above=end.seen):
            joined = rejoining(logbook, pack, end, mow.started)
    if end is None or joined is None or _comes_after_waiting(joined, mow):
        end = known_pack(logbook, pack, progress).end
        joined = None if end is None else rejoining(logbook, pack, end, mow.started)
    if joined is None:
        return None
    day = day_of(mow.started)
    return Ahead(joined, one_step(joined.fitted, mow.log, mow.start_charge, mow.temperature_c, day))


def _comes_after_waiting(joined: Rejoining, mow: Mow) -> bool:
    """Whether mows whose steps are still to be taken come before this mow."""
    started = (mow.started is None, "" if mow.started is None else mow.started.isoformat())
    waiting = [record for record in joined.again if record.id in joined.end.waiting]
    return any(order_of(record)[:2] <= started for record in waiting)


def keep_ahead(logbook: Logbook, pack: Pack, ahead: Ahead, record: MowRecord) -> bool:
    """Keep the fit with a mow that was just kept; False, keeping nothing, where the chain has changed."""
    joined = ahead.joined
    kept = keep_links(logbook, pack, joined, (record,), (ahead.fitted,), record.id, joined.again)
    return kept is not None
