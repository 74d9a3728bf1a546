"""What is kept of a pack's chain of mows: a step for each, whole fits here and there, and where it ends.

Every kept step carries a mark of all that it rests on: the pack's description, the mows before it, their
files, days, start charges and temperatures.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, replace
from itertools import takewhile
from typing import TYPE_CHECKING, Any

from estimator.descriptions import Pack
from estimator.logbook import (
    Logbook,
    MowRecord,
    derived_of,
    derived_of_mows,
    forget_derived,
    keep_derived,
    latest_change,
    mows,
    newest_number,
)
from estimator.logbook.mow_values import order_of
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.fitting.fitted_pack import FittedPack

STEP = "pack step"
FIT = "pack fit"
END = "end of pack steps"
CHAIN_VERSION = "9"
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

    @classmethod
    def of(cls, record: MowRecord, mark: str, fitted: FittedPack) -> PackStep:
        """The step of a mow with the fit after it."""
        ohm = fitted.resistance_ohm or float("nan")
        return cls(record.id, mark, fitted.capacity_ah, fitted.capacity_std_ah, ohm)


@dataclass(frozen=True)
class ChainEnd:
    """Where the chain of a pack's mows ends; any edit of the logbook forgets it.

    root, mark : marks of the pack's description and of the last step
    mow, started : the last mow and its start; 0 and None where there is none
    steps : number of mows in the chain
    seen : number of the newest mow of the logbook then, of whatever pack; those above it came later
    """

    root: str
    mark: str
    mow: int
    started: str | None
    steps: int
    seen: int

    def comes_before(self, record: MowRecord) -> bool:
        """Whether a mow takes its place after the end.

        >>> from datetime import datetime
        >>> end = ChainEnd("", "", mow=3, started="2025-05-01T09:00:00", steps=3, seen=3)
        >>> end.comes_before(MowRecord(4, "orchard", started=datetime(2025, 5, 1, 9)))
        True
        >>> end.comes_before(MowRecord(4, "orchard", started=datetime(2024, 5, 1, 9)))
        False
        """
        return self.mow == 0 or (self.started is None, self.started or "", self.mow) < order_of(record)

    def after(self, record: MowRecord, seen: int) -> ChainEnd:
        """The end with one more mow."""
        return ChainEnd(
            self.root, next_mark(self.mark, record), record.id, _start(record), self.steps + 1, seen
        )


@dataclass(frozen=True)
class Chain:
    """All mows of a pack in their order with the marks of their steps, at one moment of the logbook.

    change : the logbook's latest edit at that moment
    agreed : how many of its first steps still rest on the same, where edits were seen since
    """

    root: str
    records: tuple[MowRecord, ...]
    marks: tuple[str, ...]
    newest: int
    change: str
    agreed: int

    def end(self) -> ChainEnd:
        """Where it ends."""
        if not self.records:
            return ChainEnd(self.root, self.root, 0, None, 0, self.newest)
        last = self.records[-1]
        return ChainEnd(self.root, self.marks[-1], last.id, _start(last), len(self.records), self.newest)


def root_of(pack: Pack) -> str:
    """The mark of a pack's description but for its name, with which its chain begins."""
    return _hash(CHAIN_VERSION, sorted(asdict(replace(pack, name="pack")).items()))


def next_mark(mark: str, record: MowRecord) -> str:
    """The mark of the step of a mow after a step of that mark."""
    return _hash(
        mark, record.id, day_of(record.started), record.start_charge, record.temperature_c,
        sorted(record.decisions.items()),
        [file.sha256 for file in record.files],
    )  # fmt: skip


def chain_of(logbook: Logbook, pack: Pack) -> Chain:
    """The chain of a pack as its mows are now; all of them are listed for it."""
    with logbook.reading():
        records = tuple(mows(logbook, pack=pack.name))
        newest, change = newest_number(logbook), latest_change(logbook)
    root = root_of(pack)
    mark, marks = root, []
    for record in records:
        mark = next_mark(mark, record)
        marks.append(mark)
    return Chain(root, records, tuple(marks), newest, change, agreed=len(marks))


def still(logbook: Logbook, pack: Pack, chain: Chain, count: int) -> Chain | None:
    """The chain as seen now, None where its first so many steps rest on something else than before."""
    change = latest_change(logbook)
    if change != chain.change:
        now = chain_of(logbook, pack).marks
        alike = takewhile(
            lambda pair: pair[0] == pair[1], zip(now, chain.marks[: chain.agreed], strict=False)
        )
        chain = replace(chain, change=change, agreed=len(list(alike)))
    return chain if count <= chain.agreed else None


def kept_steps(logbook: Logbook, chain: Chain) -> tuple[PackStep | None, ...]:
    """The kept step of each mow of the chain, None where it is missing or rests on something else."""
    found = derived_of_mows(logbook, STEP, CHAIN_VERSION, [record.id for record in chain.records])
    return tuple(
        PackStep(**found[record.id]) if found.get(record.id, {}).get("mark") == mark else None
        for record, mark in zip(chain.records, chain.marks, strict=True)
    )


def keep_step(logbook: Logbook, step: PackStep, fitted: FittedPack, place: int, before: int) -> None:
    """Keep the step at a place of the chain, and thin out the whole fits before it.

    before : the mow of the step before it
    """
    keep_derived(logbook, step.mow, STEP, CHAIN_VERSION, asdict(step))
    keep_derived(logbook, step.mow, FIT, CHAIN_VERSION, {"mark": step.mark, "fitted": fitted.as_plain()})
    if place and (place - 1) % KEEP_EVERY:
        forget_derived(logbook, before, FIT)


def kept_fits(logbook: Logbook, pack: Pack, chain: Chain) -> dict[int, FittedPack]:
    """The whole fits kept of a chain that still hold, by mow number."""
    marks = {record.id: mark for record, mark in zip(chain.records, chain.marks, strict=True)}
    found = derived_of_mows(logbook, FIT, CHAIN_VERSION, marks)
    return {
        number: _fit_from(plain, pack) for number, plain in found.items() if plain["mark"] == marks[number]
    }


def fit_at(logbook: Logbook, pack: Pack, end: ChainEnd) -> FittedPack | None:
    """The whole fit at the end of a chain, None where it is not kept."""
    from estimator.fitting.fitted_pack import as_fitted

    if end.mow == 0:
        return as_fitted(pack)
    last = derived_of(logbook, end.mow, FIT, CHAIN_VERSION)
    return _fit_from(last, pack) if last is not None and last["mark"] == end.mark else None


def _fit_from(plain: dict[str, Any], pack: Pack) -> FittedPack:
    """A kept fit under the pack's present name."""
    from estimator.fitting.fitted_pack import FittedPack

    fitted = plain["fitted"]
    return FittedPack.from_plain({**fitted, "rated": {**fitted["rated"], "name": pack.name}})


def keep_end(logbook: Logbook, pack: Pack, end: ChainEnd) -> None:
    """Keep where the chain of a pack ends."""
    keep_derived(logbook, f"pack {pack.name}", END, CHAIN_VERSION, asdict(end))


def kept_end(logbook: Logbook, pack: Pack) -> ChainEnd | None:
    """Where the chain of a pack ends, None where that is not kept or it begins with another description."""
    plain = derived_of(logbook, f"pack {pack.name}", END, CHAIN_VERSION)
    return ChainEnd(**plain) if plain is not None and plain["root"] == root_of(pack) else None


def rounded(fitted: FittedPack) -> FittedPack:
    """A fit with nine digits, as it is kept: enough for any answer, and the same after keeping as before."""
    from estimator.fitting.fitted_pack import FittedPack

    return FittedPack.from_plain(_short(fitted.as_plain()))


def _short(plain: Any) -> Any:
    if isinstance(plain, float):
        return float(f"{plain:.9g}")
    if isinstance(plain, dict):
        return {key: _short(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_short(value) for value in plain]
    return plain


def _start(record: MowRecord) -> str | None:
    return None if record.started is None else record.started.isoformat()


def _hash(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()[:20]
