"""The fits of a pack with a new mow, worked out before the transaction that keeps it; others need not
wait."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.answers.pack_chain import Rejoining, fits_after, keep_links, known_pack, one_step, rejoining
from estimator.descriptions import Pack
from estimator.logbook import Logbook, MowRecord
from estimator.mow import Mow, day_of

if TYPE_CHECKING:
    from estimator.fitting.fitted_pack import FittedPack


@dataclass(frozen=True)
class Ahead:
    """Where a new mow joins its pack's chain, and the pack after it and after each mow that comes later."""

    joined: Rejoining
    fits: tuple[FittedPack, ...]


def fitted_ahead(logbook: Logbook, pack: Pack, mow: Mow, progress: Callable[[str], None]) -> Ahead | None:
    """The fits with a new mow; None where it lies so far back that all later ones wait for its keeping."""
    end = known_pack(logbook, pack, progress).end
    joined = None if end is None else rejoining(logbook, pack, end, mow.started)
    if joined is None:
        return None
    fitted = one_step(joined.fitted, mow.log, mow.start_charge, mow.temperature_c, day_of(mow.started))
    return Ahead(joined, (fitted, *fits_after(logbook, fitted, joined.again, progress)))


def keep_ahead(logbook: Logbook, pack: Pack, ahead: Ahead, record: MowRecord) -> bool:
    """Keep the fits with the mow, now kept; False, and none are, where another mow was added meanwhile."""
    records = (record, *ahead.joined.again)
    return keep_links(logbook, pack, ahead.joined, records, ahead.fits, newest=record.id) is not None
