"""The fit of a pack after each of its mows: kept, and worked out again only from where something changed.

A step whose mark no longer matches is worked out again, with all after it. While the logbook knows where
the chain ends, a new mow is added there without looking at the mows before it.

All kept figures can be worked out again, after a change of the computation or when in doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_fits import fit_at, keep_fit, rounded
from estimator.answers.figures.pack_steps import (
    Chain,
    ChainEnd,
    PackStep,
    chain_of,
    keep_end,
    kept_end,
    kept_steps,
    still,
)
from estimator.descriptions import Pack
from estimator.logbook import Logbook, MowRecord, forget_derived, log_of, mow, mows, newest_number, packs
from estimator.logbook.records.mow_values import order_of
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.importer.log import Log


@dataclass(frozen=True)
class KnownPack:
    """A pack as its mows show it, and the kept end of its chain; None where the end could not be kept."""

    fitted: FittedPack
    end: ChainEnd | None


def fit_of_pack(logbook: Logbook, pack: Pack, progress: Callable[[str], None] = lambda _: None) -> FittedPack:
    """The pack as all its mows show it; logs are read only where mows or descriptions have changed."""
    return known_pack(logbook, pack, progress).fitted


@dataclass(frozen=True)
class Rejoining:
    """Where a mow added out of order joins its pack's chain.

    end : of the chain as it is kept; stays : the end of the part that comes before the mow
    fitted : the pack after that part; again : the mows after it, whose steps are taken again
    """

    end: ChainEnd
    stays: ChainEnd
    fitted: FittedPack
    again: tuple[MowRecord, ...]


def known_pack(logbook: Logbook, pack: Pack, progress: Callable[[str], None] = lambda _: None) -> KnownPack:
    """The pack as all its mows show it, with the end to which another mow can be added."""
    with logbook.reading():
        end = kept_end(logbook, pack)
        later = [] if end is None else mows(logbook, pack=pack.name, above=end.seen)
        newest = newest_number(logbook)
        joined = None
        if end is not None and (later or end.waiting):
            joined = rejoining(logbook, pack, end, later[0].started if later else None)
        fitted = None if end is None or later or end.waiting else fit_at(logbook, pack, end)
    if fitted is not None:
        return KnownPack(fitted, end)
    if joined is None:
        return _worked_out(logbook, pack, progress)[0]
    records = sorted((*joined.again, *later), key=order_of)
    fits = [joined.fitted]
    for place, record in enumerate(records, start=1):
        progress(f"fitting {pack.name}, mow {place} of {len(records)}")
        fits.append(_step_of(logbook, fits[-1], record))
    if not logbook.keeps:
        return KnownPack(fits[-1], None)
    return KnownPack(fits[-1], keep_links(logbook, pack, joined, records, fits[1:], newest))


def rejoining(logbook: Logbook, pack: Pack, end: ChainEnd, started: datetime | None) -> Rejoining | None:
    """Where a new mow joins the chain; None where that lies further back than whole fits are kept.

    started : when the new mow began; None where it has no date or there is no new mow: the chain then goes on
        from its end
    """
    with logbook.reading():
        stays = end.before(started)
        fitted = None if stays is None else fit_at(logbook, pack, stays)
        if stays is None or fitted is None:
            return None
        again = (*(place.mow for place in end.last[len(stays.last) :]), *end.waiting)
        return Rejoining(end, replace(stays, waiting=()), fitted, tuple(mow(logbook, each) for each in again))


def keep_links(
    logbook: Logbook,
    pack: Pack,
    joined: Rejoining,
    records: Sequence[MowRecord],
    fits: Sequence[FittedPack],
    newest: int,
    waiting: Sequence[MowRecord] = (),
) -> ChainEnd | None:
    """Add mows with the fits after them to a chain; returns its new end, None where its kept end had changed.

    records : the mows whose steps are taken again, and all of the pack with numbers above `joined.end.seen`
        and up to `newest`, in order; waiting : the mows after them, whose steps are left for later
    """
    seen, end = joined.end.seen, joined.stays
    with logbook.writing():
        came = [mow.id for mow in mows(logbook, pack=pack.name, above=seen) if mow.id <= newest]
        if kept_end(logbook, pack) != joined.end or came != [mow.id for mow in records if mow.id > seen]:
            return None
        for record, fitted in zip(records, fits, strict=True):
            before, end = end, end.after(record, newest)
            keep_fit(logbook, PackStep.of(record, end.mark, fitted), fitted, before)
        end = replace(end, waiting=tuple(mow.id for mow in waiting))
        keep_end(logbook, pack, end)
    return end


def one_step(
    fitted: Pack, log: Log, start_charge: float | None, temperature_c: float | None, day: date | None
) -> FittedPack:
    """The pack after one more log; a log that shows nothing about the pack leaves it as it was.

    Hand readings are learned from in their own way: the volts and amps between them only stand in, and their
    sag, which nobody read, would be learned as resistance.
    """
    from estimator.errors import InputError
    from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
    from estimator.fitting.pack.fitted_pack import aged, as_fitted
    from estimator.fitting.pack.pack_fit import update_fit

    if log.spot is not None:
        known = aged(as_fitted(fitted), day)
        return rounded(learn_by_hand(known, log.spot, start_charge, temperature_c, log.ran_out))
    try:
        return rounded(update_fit(fitted, log, start_charge, temperature_c, day))
    except InputError:
        return rounded(as_fitted(fitted))


def _step_of(logbook: Logbook, fitted: FittedPack, record: MowRecord) -> FittedPack:
    log, day = log_of(logbook, record.id), day_of(record.started)
    return one_step(fitted, log, record.start_charge, record.temperature_c, day)


def steps_of_pack(logbook: Logbook, pack: Pack) -> tuple[PackStep, ...]:
    """Capacity and resistance after each mow of the pack, oldest first."""
    with logbook.reading():
        kept = kept_steps(logbook, chain_of(logbook, pack))
    if None in kept:
        return _worked_out(logbook, pack, lambda _: None)[1]
    return tuple(step for step in kept if step is not None)


def _worked_out(
    logbook: Logbook, pack: Pack, progress: Callable[[str], None]
) -> tuple[KnownPack, tuple[PackStep, ...]]:
    """Work out the chain from the last kept fit before the first step that no longer holds."""
    with logbook.reading():
        chain = chain_of(logbook, pack)
        steps: list[PackStep] = []
        for step in kept_steps(logbook, chain):
            if step is None:
                break
            steps.append(step)
        while (fitted := fit_at(logbook, pack, chain.end(len(steps)))) is None:
            steps.pop()
    keeping: Chain | None = chain if logbook.keeps else None
    for place in range(len(steps), len(chain.records)):
        progress(f"fitting {pack.name}, mow {place + 1} of {len(chain.records)}")
        record = chain.records[place]
        fitted = _step_of(logbook, fitted, record)
        steps.append(PackStep.of(record, chain.marks[place], fitted))
        if keeping is not None:
            keeping = _keep_in_place(logbook, pack, keeping, steps, fitted)
    end = None if keeping is None else _keep_end(logbook, pack, keeping)
    return KnownPack(fitted, end), tuple(steps)


def _keep_in_place(
    logbook: Logbook, pack: Pack, chain: Chain, steps: Sequence[PackStep], fitted: FittedPack
) -> Chain | None:
    """Keep the last of the steps; None, keeping nothing, where what it rests on has changed meanwhile."""
    with logbook.writing():
        now = still(logbook, pack, chain, len(steps))
        if now is not None:
            keep_fit(logbook, steps[-1], fitted, chain.end(len(steps) - 1))
    return now


def _keep_end(logbook: Logbook, pack: Pack, chain: Chain) -> ChainEnd | None:
    count = len(chain.records)
    with logbook.writing():
        if still(logbook, pack, chain, count) is None:
            return None
        keep_end(logbook, pack, chain.end(count))
    return chain.end(count)


def refresh_figures(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> int:
    """Work out figures that are missing or come from an older computation; returns the number of mows."""
    records = mows(logbook)
    for place, record in enumerate(records, start=1):
        progress(f"mow {place} of {len(records)}")
        features_of_mows(logbook, [record])
    for pack in packs(logbook):
        fit_of_pack(logbook, pack, progress)
    return len(records)


def renew_figures(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> int:
    """Drop all kept figures and work them out from the uploaded bytes; returns the number of mows."""
    forget_derived(logbook)
    return refresh_figures(logbook, progress)
