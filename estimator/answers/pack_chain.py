"""The fit of a pack after each of its mows, kept, and taken anew only from where something changed.

Every kept step carries a mark of all that it rests on: the pack's description, the mows before it, their
files, start charges and temperatures. A step whose mark no longer fits is worked out again, and all that
follow it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from estimator.descriptions import Pack
from estimator.logbook import (
    Logbook,
    MowRecord,
    derived_of,
    derived_of_mows,
    forget_derived,
    keep_derived,
    log_of,
    mows,
)

if TYPE_CHECKING:
    from estimator.fitting.fitted_pack import FittedPack
    from estimator.importer.log import Log

STEP = "pack step"
FIT = "pack fit"
CHAIN_VERSION = "7"
"""Raise it whenever `update_fit` or the importer finds another pack in the same bytes."""
KEEP_EVERY = 16
"""Whole fits are kept for the last mow and for every so many before it: going back costs at most so many."""


@dataclass(frozen=True)
class PackStep:
    """What is kept of a pack after one mow: capacity [Ah], its standard uncertainty, resistance [ohm]."""

    mow: int
    mark: str
    capacity_ah: float
    capacity_std_ah: float
    resistance_ohm: float


def marks_of(pack: Pack, records: Sequence[MowRecord]) -> tuple[str, ...]:
    """The mark of each step of a chain of mows, in their order."""
    mark = _hash(CHAIN_VERSION, sorted(asdict(pack).items()))
    found = []
    for record in records:
        mark = _hash(
            mark, record.id, record.start_charge, record.temperature_c, sorted(record.decisions.items()),
            [file.sha256 for file in record.files],
        )  # fmt: skip
        found.append(mark)
    return tuple(found)


def fit_of_pack(
    logbook: Logbook,
    pack: Pack,
    progress: Callable[[str], None] = lambda _: None,
    among: Sequence[MowRecord] | None = None,
) -> FittedPack:
    """The pack as all its mows know it; reads readings only where mows or descriptions have changed.

    among : all mows of the logbook, where they are listed already
    """
    from estimator.fitting.fitted_pack import FittedPack, as_fitted

    records = (
        mows(logbook, pack=pack.name) if among is None else [mow for mow in among if mow.pack == pack.name]
    )
    if not records:
        return as_fitted(pack)
    marks = marks_of(pack, records)
    last = derived_of(logbook, records[-1].id, FIT, CHAIN_VERSION)
    if last is not None and last["mark"] == marks[-1]:
        return FittedPack.from_plain(last["fitted"])
    return _fold(logbook, pack, records, marks, progress)


def _fold(
    logbook: Logbook,
    pack: Pack,
    records: Sequence[MowRecord],
    marks: Sequence[str],
    progress: Callable[[str], None],
) -> FittedPack:
    from estimator.fitting.fitted_pack import FittedPack, as_fitted

    kept = derived_of_mows(logbook, FIT, CHAIN_VERSION, [record.id for record in records])
    fitted, start = as_fitted(pack), 0
    for place in range(len(records) - 1, -1, -1):
        plain = kept.get(records[place].id)
        if plain is not None and plain["mark"] == marks[place]:
            fitted, start = FittedPack.from_plain(plain["fitted"]), place + 1
            break
    for place in range(start, len(records)):
        progress(f"fitting {pack.name}, mow {place + 1} of {len(records)}")
        record = records[place]
        fitted = one_step(fitted, log_of(logbook, record.id), record.start_charge, record.temperature_c)
        if not logbook.read_only:
            keep_step(logbook, records, marks, place, fitted)
    return fitted


def one_step(fitted: Pack, log: Log, start_charge: float | None, temperature_c: float | None) -> FittedPack:
    """The pack after one more log; a log that cannot teach anything about it leaves it as it was.

    Hand readings are such: what volts and amps did between them is a stand-in, and a sag that nobody read
    would be learned as resistance.
    """
    from estimator.errors import InputError
    from estimator.fitting.fitted_pack import as_fitted
    from estimator.fitting.pack_fit import update_fit

    if log.spot is not None:
        return as_fitted(fitted)
    try:
        return update_fit(fitted, log, start_charge=start_charge, temperature_c=temperature_c)
    except InputError:
        return as_fitted(fitted)


def keep_step(
    logbook: Logbook, records: Sequence[MowRecord], marks: Sequence[str], place: int, fitted: FittedPack
) -> None:
    """Keep the step of the mow at `place`, and thin out the whole fits before it."""
    record, mark = records[place], marks[place]
    step = PackStep(
        record.id, mark, fitted.capacity_ah, fitted.capacity_std_ah, fitted.resistance_ohm or float("nan")
    )
    with logbook.writing():
        keep_derived(logbook, record.id, STEP, CHAIN_VERSION, asdict(step))
        keep_derived(
            logbook, record.id, FIT, CHAIN_VERSION, {"mark": mark, "fitted": _short(fitted.as_plain())}
        )
        if place and (place - 1) % KEEP_EVERY:
            forget_derived(logbook, records[place - 1].id, FIT)


def steps_of_pack(logbook: Logbook, pack: Pack) -> tuple[PackStep, ...]:
    """Capacity and resistance after each mow of the pack, oldest first."""
    fit_of_pack(logbook, pack)
    records = mows(logbook, pack=pack.name)
    kept = derived_of_mows(logbook, STEP, CHAIN_VERSION, [record.id for record in records])
    return tuple(PackStep(**kept[record.id]) for record in records if record.id in kept)


def _short(plain: Any) -> Any:
    """Floats to nine digits: enough for any answer, and half the room."""
    if isinstance(plain, float):
        return float(f"{plain:.9g}")
    if isinstance(plain, dict):
        return {key: _short(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_short(value) for value in plain]
    return plain


def _hash(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()[:20]
