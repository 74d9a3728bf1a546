"""The logbook: one place for lawns, packs, machines, meters, mows and their uploaded bytes.

from estimator.logbook import add_mow, keep_lawn, mows, open_logbook
"""

from estimator.logbook.handle import Logbook
from estimator.logbook.opening import default_place, is_there, open_logbook
from estimator.logbook.records.changes import Change, history, latest_change, note, noted
from estimator.logbook.records.derived import derived_of, derived_of_mows, forget_derived, keep_derived
from estimator.logbook.records.descriptions import (
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
from estimator.logbook.records.events import Event, events_of, keep_event, remove_event
from estimator.logbook.records.mow_lists import (
    mow,
    mow_count,
    mow_of_bytes,
    mows,
    mows_before,
    mows_begun,
    newest_number,
)
from estimator.logbook.records.mow_records import (
    add_mow,
    edit_mow,
    purge_mow,
    remove_mow,
    restore_mow,
    split_mow,
)
from estimator.logbook.records.mow_values import MowRecord
from estimator.logbook.records.readings import bytes_of, examined_of, log_of
from estimator.logbook.records.renaming import delete, merge, rename
from estimator.logbook.records.uploads import KeptFile, mend_bytes
from estimator.logbook.upkeep.backup import backup, restore
from estimator.logbook.upkeep.checking import CheckReport, check
from estimator.logbook.upkeep.copying import fingerprint
from estimator.logbook.upkeep.export import ExportReport, export, import_, readings_csv
from estimator.logbook.upkeep.rotating import back_up_today
from estimator.logbook.upkeep.salvage import SalvageReport, salvage

__all__ = [
    "Change", "CheckReport", "Event", "ExportReport", "KeptFile", "Logbook", "MowRecord", "SalvageReport",
    "add_mow", "back_up_today", "backup", "bytes_of", "check", "default_place", "delete", "derived_of",
    "derived_of_mows", "edit_mow", "events_of", "examined_of", "export", "fingerprint", "forget_derived",
    "history", "import_", "is_there", "keep_derived", "keep_event", "keep_lawn", "keep_machine",
    "keep_meter", "keep_pack", "latest_change", "lawn", "lawns", "log_of", "machine", "machines",
    "mend_bytes", "merge", "meter", "meters", "mow", "mow_count", "mow_of_bytes", "mows", "mows_before",
    "mows_begun", "newest_number", "note", "noted", "open_logbook", "pack", "packs", "purge_mow",
    "readings_csv", "remove_event", "remove_mow", "rename", "restore", "restore_mow", "salvage", "split_mow",
]  # fmt: skip
