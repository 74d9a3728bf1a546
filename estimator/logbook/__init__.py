"""The logbook: one place for lawns, packs, machines, meters, mows and their uploaded bytes.

from estimator.logbook import add_mow, keep_lawn, mows, open_logbook
"""

from estimator.logbook.changes import Change, history
from estimator.logbook.derived import derived_of, derived_of_mows, forget_derived, keep_derived
from estimator.logbook.described import (
    keep_lawn,
    keep_machine,
    keep_meter,
    keep_pack,
    lawn,
    lawns,
    machine,
    machines,
    meter,
    meters,
    pack,
    packs,
)
from estimator.logbook.events import Event, events_of, keep_event, remove_event
from estimator.logbook.files import KeptFile, bytes_of, log_of
from estimator.logbook.handle import Logbook
from estimator.logbook.mow_records import (
    MowRecord,
    add_mow,
    edit_mow,
    mow,
    mows,
    purge_mow,
    remove_mow,
    restore_mow,
)
from estimator.logbook.opening import default_place, open_logbook

__all__ = [
    "Change",
    "Event",
    "KeptFile",
    "Logbook",
    "MowRecord",
    "add_mow",
    "bytes_of",
    "default_place",
    "derived_of",
    "derived_of_mows",
    "edit_mow",
    "events_of",
    "forget_derived",
    "history",
    "keep_derived",
    "keep_event",
    "keep_lawn",
    "keep_machine",
    "keep_meter",
    "keep_pack",
    "lawn",
    "lawns",
    "log_of",
    "machine",
    "machines",
    "meter",
    "meters",
    "mow",
    "mows",
    "open_logbook",
    "pack",
    "packs",
    "purge_mow",
    "remove_event",
    "remove_mow",
    "restore_mow",
]
