"""The chain of a pack's mows: each step of its fit carries a mark of all that it rests on.

That is the pack's description and, for its mow and all before it, files, day, start charge, temperature and
whether the battery ran out.
What was kept under another mark than the chain now has rests on something that has changed, and counts for
nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

from estimator.descriptions import RAN_OUT, Pack
from estimator.logbook import Logbook, MowRecord, derived_of, derived_of_mows, mow, mows
from estimator.logbook.records.mow_values import order_of
from estimator.mow import day_of

if TYPE_CHECKING:
    from estimator.fitting.pack.fitted_pack import FittedPack

STEP = "pack step"
END = "end of chain"
CHAIN_VERSION = "40"
"""Raise it whenever `update_fit` or the importer finds another pack in the same bytes."""
KEEP_LAST = 64
"""How many places at the end of a chain are kept, with whole fits. A mow that comes out of order by no more
than that costs only its own step, without a look at the others; steps after it are taken when an answer needs
them."""


@dataclass(frozen=True)
class PackStep:
    """What is kept of a pack after every mow: capacity [Ah] and its standard uncertainty."""

    mow: int
    mark: str
    capacity_ah: float
    capacity_std_ah: float

    @classmethod
    def of(cls, mow: int, mark: str, fitted: FittedPack) -> PackStep:
        """The step of a mow, from the fit after it."""
        return cls(mow, mark, fitted.capacity_ah, fitted.capacity_std_ah)


@dataclass(frozen=True)
class Place:
    """A mow's place in the chain: its number, its start, and the mark of its step."""

    mow: int
    started: str
    mark: str


@dataclass(frozen=True)
class Chain:
    """The mows of a pack in order, or only the last of them.

    root : mark of the pack's description, with which the chain begins
    before : how many mows come before the first of its places
    seen : the highest number of its mows; higher ones came later
    """

    root: str
    places: tuple[Place, ...] = ()
    before: int = 0
    seen: int = 0

    def __len__(self) -> int:
        return self.before + len(self.places)

    def mark(self, steps: int) -> str:
        """The mark after so many steps, the last of them among its places; that of the description for 0."""
        return self.places[steps - self.before - 1].mark if steps else self.root

    def steps_before(self, order: tuple[bool, str, float]) -> int:
        """How many steps come before a mow of that order (see `order_of`).

        >>> places = tuple(Place(day, f"2025-05-0{day}T09:00:00", "") for day in (1, 2, 4))
        >>> Chain("", places, before=17).steps_before((False, "2025-05-03T09:00:00", 5))
        19
        """
        return self.before + sum((not one.started, one.started, one.mow) < order for one in self.places)

    def end(self) -> Chain:
        """The chain with its last places only."""
        last = self.places[-KEEP_LAST:]
        return replace(self, places=last, before=len(self) - len(last))

    def followed_by(self, records: Sequence[MowRecord], steps: int) -> Chain:
        """The first `steps` of the chain and these mows after them."""
        places, mark = [*self.places[: steps - self.before]], self.mark(steps)
        for record in records:
            mark = next_mark(mark, record)
            places.append(Place(record.id, order_of(record)[1], mark))
        return replace(self, places=tuple(places), seen=max([self.seen, *(each.id for each in records)]))


def next_mark(mark: str, record: MowRecord) -> str:
    """The mark of a mow's step, which follows a step with that mark."""
    return _hash(
        mark, record.id, day_of(record.started), record.start_charge, record.temperature_c,
        sorted(record.decisions.items()),
        [file.sha256 for file in record.files],
        *(RAN_OUT for tag in record.tags if tag == RAN_OUT),
    )  # fmt: skip


def chain_of(logbook: Logbook, pack: Pack) -> Chain:
    """The whole chain of a pack as its mows are now; this lists all of them."""
    return Chain(root_of(pack)).followed_by(mows(logbook, pack=pack.name), 0)


def end_of_chain(logbook: Logbook, pack: Pack) -> Chain | None:
    """The kept end of a pack's chain with the mows that came since; None where one of them lies before it."""
    with logbook.reading():
        chain = kept_end(logbook, pack)
        for record in () if chain is None else mows(logbook, pack=pack.name, above=chain.seen):
            assert chain is not None
            steps = chain.steps_before(order_of(record))
            if steps == chain.before > 0:
                return None
            later = [mow(logbook, place.mow) for place in chain.places[steps - chain.before :]]
            chain = chain.followed_by([record, *later], steps)
        return chain


def kept_end(logbook: Logbook, pack: Pack) -> Chain | None:
    """The end of a pack's chain as it was last kept; None where there is none, as after any edit of the
    logbook, and where the pack's description is another one."""
    plain = derived_of(logbook, f"pack {pack.name}", END, CHAIN_VERSION)
    if plain is None or plain["root"] != root_of(pack):
        return None
    return Chain(**{**plain, "places": tuple(Place(**place) for place in plain["places"])})


def kept_steps(logbook: Logbook, chain: Chain) -> tuple[PackStep | None, ...]:
    """The kept step of each mow of the chain; None where it is missing or rests on something else."""
    found = derived_of_mows(logbook, STEP, CHAIN_VERSION, [place.mow for place in chain.places])
    return tuple(
        PackStep(**found[place.mow]) if found.get(place.mow, {}).get("mark") == place.mark else None
        for place in chain.places
    )


def root_of(pack: Pack) -> str:
    """The mark of a pack's description without its name."""
    return _hash(CHAIN_VERSION, sorted(asdict(replace(pack, name="pack")).items()))


def _hash(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()[:20]
