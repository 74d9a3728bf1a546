"""The fit of a pack after each of its mows, kept, and taken anew only from where something changed.

A step whose mark no longer fits is worked out again, and all that follow it. While the logbook knows where
the chain ends, a new mow is added there without a look at the mows before it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from estimator.answers.pack_steps import (
    Chain,
    ChainEnd,
    PackStep,
    chain_of,
    fit_at,
    keep_end,
    keep_step,
    kept_end,
    kept_fits,
    kept_steps,
    rounded,
    still,
)
from estimator.descriptions import Pack
from estimator.logbook import Logbook, MowRecord, log_of, mows, newest_number
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.fitting.fitted_pack import FittedPack
    from estimator.importer.log import Log


@dataclass(frozen=True)
class KnownPack:
    """A pack as its mows know it, and the kept end of its chain; None where that could not be kept."""

    fitted: FittedPack
    end: ChainEnd | None


def fit_of_pack(logbook: Logbook, pack: Pack, progress: Callable[[str], None] = lambda _: None) -> FittedPack:
    """The pack as all its mows know it; reads readings only where mows or descriptions have changed."""
    return known_pack(logbook, pack, progress).fitted


def known_pack(logbook: Logbook, pack: Pack, progress: Callable[[str], None] = lambda _: None) -> KnownPack:
    """The pack as all its mows know it, with the end to which another mow can be added."""
    with logbook.reading():
        end = kept_end(logbook, pack)
        fitted = None if end is None else fit_at(logbook, pack, end)
        later = [] if end is None else mows(logbook, pack=pack.name, above=end.seen)
        newest = newest_number(logbook)
    if end is None or fitted is None or (later and not end.comes_before(later[0])):
        return _worked_out(logbook, pack, progress)[0]
    if not later:
        return KnownPack(fitted, end)
    fits = []
    for place, record in enumerate(later, start=1):
        progress(f"fitting {pack.name}, mow {place} of {len(later)}")
        fitted = _step_of(logbook, fitted, record)
        fits.append(fitted)
    if logbook.read_only:
        return KnownPack(fitted, None)
    return KnownPack(fitted, keep_links(logbook, pack, end, later, fits, newest))


def keep_links(
    logbook: Logbook,
    pack: Pack,
    end: ChainEnd,
    records: Sequence[MowRecord],
    fits: Sequence[FittedPack],
    newest: int,
) -> ChainEnd | None:
    """Add mows with the fits after them to the end of a chain; the new end, None where it had changed.

    records : all mows of the pack with numbers above `end.seen` and up to `newest`, in their order
    """
    with logbook.writing():
        came = [mow.id for mow in mows(logbook, pack=pack.name, above=end.seen) if mow.id <= newest]
        in_order = came == [record.id for record in records] and (not came or end.comes_before(records[0]))
        if kept_end(logbook, pack) != end or not in_order:
            return None
        for record, fitted in zip(records, fits, strict=True):
            before, end = end, end.after(record, newest)
            keep_step(logbook, PackStep.of(record, end.mark, fitted), fitted, before.steps, before.mow)
        keep_end(logbook, pack, end)
    return end


def one_step(
    fitted: Pack, log: Log, start_charge: float | None, temperature_c: float | None, day: date | None
) -> FittedPack:
    """The pack after one more log; a log that cannot teach anything about it leaves it as it was.

    Of hand readings only a voltage read under load counts: between them volts and amps are a stand-in, and a
    sag that nobody read would be learned as resistance.
    """
    from estimator.errors import InputError
    from estimator.fitting.fitted_pack import as_fitted
    from estimator.fitting.pack_fit import update_fit
    from estimator.fitting.spot_resistance import learn_resistance

    if log.spot is not None:
        return rounded(learn_resistance(fitted, log.spot, temperature_c))
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
    """The whole chain, from the last kept fit before the first step that no longer holds."""
    from estimator.fitting.fitted_pack import as_fitted

    with logbook.reading():
        chain = chain_of(logbook, pack)
        kept, whole = kept_steps(logbook, chain), kept_fits(logbook, pack, chain)
    steps: list[PackStep] = []
    for step in kept:
        if step is None:
            break
        steps.append(step)
    while steps and steps[-1].mow not in whole:
        steps.pop()
    fitted = whole[steps[-1].mow] if steps else as_fitted(pack)
    keeping: Chain | None = None if logbook.read_only else chain
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
    """Keep the last of the steps; None, and nothing is kept, where meanwhile what it rests on has changed."""
    place = len(steps) - 1
    with logbook.writing():
        now = still(logbook, pack, chain, len(steps))
        if now is not None:
            keep_step(logbook, steps[-1], fitted, place, steps[place - 1].mow if place else 0)
    return now


def _keep_end(logbook: Logbook, pack: Pack, chain: Chain) -> ChainEnd | None:
    with logbook.writing():
        if still(logbook, pack, chain, len(chain.records)) is None:
            return None
        keep_end(logbook, pack, chain.end())
    return chain.end()
