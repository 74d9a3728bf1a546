"""The fit of a pack after each of its mows: kept, and worked out again only from where something changed.

A step whose mark no longer matches is worked out again, with all after it. While the logbook knows where
the chain ends, a new mow is added there without looking at the mows before it.

All kept figures can be worked out again, after a change of the computation or when in doubt.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from itertools import takewhile

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_fits import fit_at, keep_end, keep_fit, rounded
from estimator.answers.figures.pack_steps import (
    Chain,
    PackStep,
    chain_of,
    end_of_chain,
    kept_steps,
    next_mark,
)
from estimator.descriptions import Pack
from estimator.errors import InputError
from estimator.fitting.pack.fitted_pack import FittedPack, aged, as_fitted
from estimator.importer.log import Log
from estimator.logbook import Logbook, MowRecord, forget_derived, latest_change, log_of, mow, mows, packs
from estimator.mow import Mow, day_of

LAST = (True, "", math.inf)
"""The order after all mows."""


@dataclass(frozen=True)
class Reached:
    """How far the fits of a chain are kept.

    steps : after how many of its mows; wanted : after how many the pack is asked for; fitted : the pack after
    `steps` of them
    """

    chain: Chain
    steps: int
    wanted: int
    fitted: FittedPack


def fit_of_pack(logbook: Logbook, pack: Pack, progress: Callable[[str], None] = lambda _: None) -> FittedPack:
    """The pack as all its mows show it; logs are read only where mows or descriptions have changed."""
    return _fits(logbook, pack, _reached(logbook, pack), progress)[-1]


@dataclass(frozen=True)
class Ahead:
    """The pack after a mow that is not kept yet, which comes after `before` others of the chain."""

    chain: Chain
    before: int
    fitted: FittedPack

    @property
    def later(self) -> int:
        """How many mows come after it; their steps are taken again when an answer needs them."""
        return len(self.chain) - self.before


def fitted_ahead(logbook: Logbook, pack: Pack, mow: Mow, progress: Callable[[str], None]) -> Ahead:
    """The fit with a new mow, worked out before the transaction that keeps it, so that nobody waits."""
    started = "" if mow.started is None else mow.started.replace(tzinfo=None).isoformat()
    at = _reached(logbook, pack, (not started, started, math.inf))
    before, day = _fits(logbook, pack, at, progress)[-1], day_of(mow.started)
    fitted = one_step(before, mow.log, mow.start_charge, mow.temperature_c, day)
    return Ahead(at.chain, at.wanted, fitted)


def keep_ahead(logbook: Logbook, pack: Pack, ahead: Ahead, record: MowRecord) -> None:
    """Keep the fit with a mow that was just kept; where the mows before it have changed, its mark says so."""
    mark = next_mark(ahead.chain.mark(ahead.before), record)
    keep_fit(logbook, ahead.chain, ahead.before, PackStep.of(record.id, mark, ahead.fitted), ahead.fitted)
    chain = end_of_chain(logbook, pack)
    if chain is not None:
        keep_end(logbook, pack, chain)


def one_step(
    fitted: Pack, log: Log, start_charge: float | None, temperature_c: float | None, day: date | None
) -> FittedPack:
    """The pack after one more log; a log that shows nothing about the pack leaves it as it was.

    Hand readings are learned from in their own way: the volts and amps between them only stand in, and their
    sag, which nobody read, would be learned as resistance.
    """
    from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
    from estimator.fitting.pack.pack_fit import update_fit

    if log.spot is not None:
        known = aged(as_fitted(fitted), day)
        return rounded(learn_by_hand(known, log.spot, start_charge, temperature_c, log.ran_out))
    try:
        return rounded(update_fit(fitted, log, start_charge, temperature_c, day))
    except InputError:
        return rounded(as_fitted(fitted))


def steps_of_pack(logbook: Logbook, pack: Pack) -> tuple[PackStep, ...]:
    """The capacity after each mow of the pack, oldest first."""
    with logbook.reading():
        chain = chain_of(logbook, pack)
        kept = [*takewhile(lambda step: step is not None, kept_steps(logbook, chain))]
        at = _last_fit(logbook, pack, chain, len(kept))
    assert at is not None
    _, *fits = _fits(logbook, pack, replace(at, wanted=len(chain)), lambda _: None)
    again = zip(chain.places[at.steps :], fits, strict=True)
    return (
        *(step for step in kept[: at.steps] if step is not None),
        *(PackStep.of(place.mow, place.mark, fitted) for place, fitted in again),
    )


def _reached(logbook: Logbook, pack: Pack, order: tuple[bool, str, float] = LAST) -> Reached:
    """The last kept fit before a mow of that order; where the chain's end will do, no more is looked at."""
    with logbook.reading():
        end = end_of_chain(logbook, pack)
        at = None if end is None else _last_fit(logbook, pack, end, end.steps_before(order))
        if at is not None:
            return at
        chain, change = chain_of(logbook, pack), latest_change(logbook)
        at = _last_fit(logbook, pack, chain, chain.steps_before(order))
    if logbook.keeps:
        with logbook.writing():
            if latest_change(logbook) == change:
                keep_end(logbook, pack, chain)
    assert at is not None  # a whole chain begins with the pack as it is described
    return at


def _last_fit(logbook: Logbook, pack: Pack, chain: Chain, wanted: int) -> Reached | None:
    for steps in range(wanted, chain.before - 1, -1):
        fitted = fit_at(logbook, pack, chain, steps)
        if fitted is not None:
            return Reached(chain, steps, wanted, fitted)
    return None


def _fits(logbook: Logbook, pack: Pack, at: Reached, progress: Callable[[str], None]) -> list[FittedPack]:
    """The last kept fit, and the fits after the steps that are taken from there; each of them is kept."""
    fits, mark = [at.fitted], at.chain.mark(at.steps)
    for before in range(at.steps, at.wanted):
        progress(f"fitting {pack.name}, mow {before + 1} of {at.wanted}")
        record = mow(logbook, at.chain.places[before - at.chain.before].mow)
        log, day = log_of(logbook, record.id), day_of(record.started)
        fits.append(one_step(fits[-1], log, record.start_charge, record.temperature_c, day))
        mark = next_mark(mark, record)
        if logbook.keeps:
            keep_fit(logbook, at.chain, before, PackStep.of(record.id, mark, fits[-1]), fits[-1])
    return fits


def renew_figures(logbook: Logbook, progress: Callable[[str], None] = lambda _: None) -> int:
    """Drop all kept figures and work them out from the uploaded bytes; returns the number of mows."""
    forget_derived(logbook)
    records = mows(logbook)
    for place, record in enumerate(records, start=1):
        progress(f"mow {place} of {len(records)}")
        features_of_mows(logbook, [record])
    for pack in packs(logbook):
        fit_of_pack(logbook, pack, progress)
    return len(records)
