"""What is kept of a pack's chain of mows: a step for each mow, and where the chain ends.

Every kept step carries a mark of all that it rests on: the pack's description and, for its mow and all before
it, files, day, start charge, temperature and whether the battery ran out.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from itertools import takewhile
from typing import TYPE_CHECKING

from estimator.descriptions import RAN_OUT, Pack
from estimator.logbook import (
    Logbook,
    MowRecord,
    derived_of,
    derived_of_mows,
    keep_derived,
    latest_change,
    mows,
    newest_number,
)
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack

STEP = "pack step"
END = "end of pack steps"
CHAIN_VERSION = "37"
"""Raise it whenever `update_fit` or the importer finds another pack in the same bytes."""
KEEP_LAST = 64
"""How many places at the end of a chain are kept with whole fits. A mow that comes out of order by no more
than that costs only its own step, without a look at the others; steps after it are taken when an answer needs
them."""


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
        """The step of a mow, from the fit after it."""
        ohm = fitted.resistance_ohm or float("nan")
        return cls(record.id, mark, fitted.capacity_ah, fitted.capacity_std_ah, ohm)


@dataclass(frozen=True)
class Place:
    """A mow's place in the chain: its number, its start, and the mark of its step."""

    mow: int
    started: str | None
    mark: str

    def comes_before(self, started: datetime | None) -> bool:
        """Whether a mow of that start and with a higher number is listed later.

        >>> place = Place(3, "2025-05-01T09:00:00", "")
        >>> [place.comes_before(datetime(year, 5, 1, 9)) for year in (2024, 2025)], place.comes_before(None)
        ([False, True], True)
        """
        return (self.started is None, self.started or "") <= (started is None, _moment(started) or "")


@dataclass(frozen=True)
class ChainEnd:
    """Where the chain of a pack's mows ends; any edit of the logbook drops it.

    root : mark of the pack's description, with which the chain begins
    last : its last places, KEEP_LAST at most
    steps : how many mows the chain has
    seen : number of the newest mow, of any pack, when the end was kept; higher numbers came later
    waiting : numbers of the mows after the last place whose steps are still to be taken
    """

    root: str
    last: tuple[Place, ...]
    steps: int
    seen: int
    waiting: tuple[int, ...] = ()

    @property
    def mow(self) -> int:
        """The last mow; 0 where there is none."""
        return self.last[-1].mow if self.last else 0

    @property
    def mark(self) -> str:
        """The mark of the last step, or that of the description."""
        return self.last[-1].mark if self.last else self.root

    def before(self, started: datetime | None) -> ChainEnd | None:
        """The end before the place where a newer mow of that start belongs; None where it lies further back.

        >>> places = tuple(Place(day, f"2025-05-0{day}T09:00:00", "") for day in (1, 2, 4))
        >>> ChainEnd("", places, steps=3, seen=4).before(datetime(2025, 5, 3)).mow
        2
        >>> ChainEnd("", places, steps=20, seen=20).before(datetime(2025, 4, 1)) is None
        True
        """
        stay = tuple(takewhile(lambda place: place.comes_before(started), self.last))
        gone = len(self.last) - len(stay)
        if not stay and gone < self.steps:
            return None
        return replace(self, last=stay, steps=self.steps - gone)

    def after(self, record: MowRecord, seen: int) -> ChainEnd:
        """The end with one more mow."""
        place = Place(record.id, _moment(record.started), next_mark(self.mark, record))
        return ChainEnd(self.root, (*self.last, place)[-KEEP_LAST:], self.steps + 1, seen)


@dataclass(frozen=True)
class Chain:
    """All mows of a pack in order, with the marks of their steps, at one moment of the logbook.

    change : the logbook's latest edit at that moment
    agreed : how many of its first steps still rest on the same figures, where there were edits since
    """

    root: str
    records: tuple[MowRecord, ...]
    marks: tuple[str, ...]
    newest: int
    change: str
    agreed: int

    def end(self, steps: int) -> ChainEnd:
        """The end of the chain if it had only so many steps."""
        last = slice(max(steps - KEEP_LAST, 0), steps)
        places = tuple(
            Place(mow.id, _moment(mow.started), mark)
            for mow, mark in zip(self.records[last], self.marks[last], strict=True)
        )
        return ChainEnd(self.root, places, steps, self.newest)


def root_of(pack: Pack) -> str:
    """The mark of a pack's description without its name; its chain begins with this mark."""
    return _hash(CHAIN_VERSION, sorted(asdict(replace(pack, name="pack")).items()))


def next_mark(mark: str, record: MowRecord) -> str:
    """The mark of a mow's step, which follows a step with that mark."""
    return _hash(
        mark, record.id, day_of(record.started), record.start_charge, record.temperature_c,
        sorted(record.decisions.items()),
        [file.sha256 for file in record.files],
        *(RAN_OUT for tag in record.tags if tag == RAN_OUT),
    )  # fmt: skip


def chain_of(logbook: Logbook, pack: Pack) -> Chain:
    """The chain of a pack as its mows are now; this lists all of them."""
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
    """The chain as seen now; None where something has changed that its first `count` steps rest on."""
    change = latest_change(logbook)
    if change != chain.change:
        now = chain_of(logbook, pack).marks
        alike = takewhile(
            lambda pair: pair[0] == pair[1], zip(now, chain.marks[: chain.agreed], strict=False)
        )
        chain = replace(chain, change=change, agreed=len(list(alike)))
    return chain if count <= chain.agreed else None


def kept_steps(logbook: Logbook, chain: Chain) -> tuple[PackStep | None, ...]:
    """The kept step of each mow of the chain; None where it is missing or rests on something else."""
    found = derived_of_mows(logbook, STEP, CHAIN_VERSION, [record.id for record in chain.records])
    return tuple(
        PackStep(**found[record.id]) if found.get(record.id, {}).get("mark") == mark else None
        for record, mark in zip(chain.records, chain.marks, strict=True)
    )


def keep_end(logbook: Logbook, pack: Pack, end: ChainEnd) -> None:
    """Keep where the chain of a pack ends."""
    keep_derived(logbook, f"pack {pack.name}", END, CHAIN_VERSION, asdict(end))


def kept_end(logbook: Logbook, pack: Pack) -> ChainEnd | None:
    """Where the chain of a pack ends; None where that is not kept or the pack's description has changed."""
    plain = derived_of(logbook, f"pack {pack.name}", END, CHAIN_VERSION)
    if plain is None or plain["root"] != root_of(pack):
        return None
    last = tuple(Place(**place) for place in plain["last"])
    return ChainEnd(**{**plain, "last": last, "waiting": tuple(plain["waiting"])})


def _moment(started: datetime | None) -> str | None:
    return None if started is None else started.isoformat()


def _hash(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()[:20]
