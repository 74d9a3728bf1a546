"""A mow: one log with its lawn, grass, pack and machine."""

from __future__ import annotations

from dataclasses import InitVar, field
from datetime import date, datetime
from typing import TYPE_CHECKING

from estimator.amounts import check_amounts
from estimator.contradictions import check_log_of_lawn, check_log_of_pack
from estimator.descriptions import RAN_OUT, STOPPED_SHORT, Grass, Lawn, Machine, Pack
from estimator.errors import InputError, check_kind
from estimator.results import result

if TYPE_CHECKING:
    from estimator.importer.log import Log


@result
class Mow:
    """One log and the circumstances in which it was taken.

    start_charge : charge at the start (1.0 straight from the charger), None where unknown
    started : when the mow began; None takes the log's own start
    tags : words that group mows for before/after comparisons, such as "rear roller off"
    known : whether it comes from a logbook, which checked the log against pack and lawn when it was added;
        otherwise a log that contradicts them is refused
    """

    log: Log
    lawn: Lawn
    grass: Grass = field(default_factory=Grass)
    pack: Pack | None = None
    machine: Machine | None = None
    start_charge: float | None = None
    temperature_c: float | None = None
    started: datetime | None = None
    tags: tuple[str, ...] = ()

    known: InitVar[bool] = False

    def __post_init__(self, known: bool) -> None:
        if not hasattr(self.log, "readings"):  # the log's own class stands further right
            check_kind("log", self.log, type("Log", (), {}), of="mow")
        kinds = {"lawn": Lawn, "grass": Grass, "pack": Pack, "machine": Machine, "started": datetime}
        for name, kind in kinds.items():
            if getattr(self, name) is not None or name in ("lawn", "grass"):
                check_kind(name, getattr(self, name), kind, of="mow")
        if not isinstance(self.tags, (tuple, list)):
            raise InputError(f"tags of a mow are {self.tags!r}", mend="give a tuple of words")
        check_amounts(self, ("start_charge", "temperature_c"), whose=f"mow on {self.lawn.name}")
        if not known:
            if self.pack is not None:
                check_log_of_pack(self.log, self.pack)
            short = bool({STOPPED_SHORT, RAN_OUT} & set(self.tags))
            check_log_of_lawn(self.log, self.lawn, self.machine, short)


def day_of(started: datetime | None) -> date | None:
    """The day on which a mow or log started, None where unknown.

    >>> day_of(datetime(2025, 5, 3, 9, 30)), day_of(None)
    (datetime.date(2025, 5, 3), None)
    """
    return None if started is None else started.date()
