"""Read meter files and spot notes as logs; `examine` also gives every decision."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import Unpack

from estimator.errors import InputError
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.choices import Choices, check_choices
from estimator.importer.cleaning.mending import Examined, mended
from estimator.importer.cleaning.readings_in_work import drawn
from estimator.importer.known_meters import sheet_of_meter
from estimator.importer.log import NEEDED, Log
from estimator.importer.recording import record
from estimator.importer.shown import shown_table
from estimator.importer.table.opened_file import HEAD_BYTES, Table, open_table, spot_in
from estimator.importer.two_meters.pairing import pair
from estimator.importer.two_meters.parts import are_parts, one_after_another

_SHOWN_ROWS = 2000
"""Rows shown when a file is refused: enough to recognise columns, and few enough to be quick."""
MOST_KEPT, MOST_BYTES = 3, 64_000_000
"""How many examined uploads are held in memory, up to which size [bytes]: each takes several times that."""
_LIMITS = ("max_bytes", "max_rows")

_kept: OrderedDict[str, Examined] = OrderedDict()
_lock = Lock()


def read_log(*paths: str | Path, **choices: Unpack[Choices]) -> Log:
    """Read one recording from its file or parts, or from the ammeter's and the voltmeter's file.

    Parameters
    ----------
    *paths : str or Path, one or two, or all parts of a log that its meter split, in any order
        .csv, .txt, .tsv, any of them packed by gzip, bzip2 or zip, or .xlsx; spot notes count as a recording
    **choices : see `Choices`, default none
        decisions that overrule those taken from the data, such as decimal=",", interval_s=5.0 [s] or
        columns={"current": "3[mA]"}

    Returns
    -------
    Log
        its `notes` say what was recognised, mended and left out, with the effect [Ah]

    Raises
    ------
    InputError
        in one line with file and row, for what cannot be opened or taken

    >>> import pathlib, tempfile
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "mow.csv"
    >>> _ = path.write_text("Zeit;Strom [mA];Spannung [V]\\n0;10000;53,2\\n10;10000;53,1\\n")
    >>> read_log(path).readings.current_a.tolist()
    [10.0, 10.0]
    """
    return examine(*paths, **choices).log


def read_bytes(files: Sequence[tuple[str, bytes]], **choices: Unpack[Choices]) -> Log:
    """Read one recording from (name, content) pairs in memory; otherwise as `read_log`.

    >>> log = read_bytes([("mow.csv", b"time_s,current_a,voltage_v\\n5,10,53\\n6,12,52.8\\n")])
    >>> log.readings.time_s.tolist()
    [0.0, 1.0]
    """
    return examine_bytes(files, **choices).log


def examine(*paths: str | Path, **choices: Unpack[Choices]) -> Examined:
    """Import one recording from its file or files, and give every decision that was taken.

    Parameters
    ----------
    *paths : str or Path
        as for `read_log`
    **choices : see `Choices`, default none
        decisions that overrule those taken from the data

    Returns
    -------
    Examined
        the log, the decisions, and the stretches that were marked or mended

    Raises
    ------
    InputError
        in one line with file and row, for what cannot be opened or taken

    >>> import pathlib, tempfile
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "mow.csv"
    >>> _ = path.write_text("time_s,current_a,voltage_v\\n0,9,52\\n5,9,52\\n10,9,51.9\\n")
    >>> len(examine(path).log.readings)
    3
    """
    files = []
    limit = choices.get("max_bytes")
    for path in map(Path, paths):
        with named(path):
            try:
                if limit is not None and path.stat().st_size > limit:
                    raise InputError(f"holds more than {limit / 1e6:g} MB", mend="log at a longer interval")
                files.append((path.name, path.read_bytes()))
            except OSError as error:
                raise unreadable(error) from None
    return _examined(files, choices)


def examine_bytes(files: Sequence[tuple[str, bytes]], **choices: Unpack[Choices]) -> Examined:
    """As `examine`, from (name, content) pairs in memory."""
    return _examined(list(files), choices)


def _examined(files: list[tuple[str, bytes]], choices: Choices) -> Examined:
    """As `examine_bytes`, from a list that is emptied, so that bytes are freed as soon as they are read."""
    check_choices(choices)
    given = len(files)
    recordings, heads, alone = [], [], given == 1
    while files:
        name, data = files.pop(0)
        with named(name):
            table = open_table(data, choices)
            if (sheet := sheet_of_meter(table, choices)) not in (None, table.sheet):
                table = open_table(data, {**choices, "sheet": sheet})
        may_be_spot = alone and not (choices.get("columns") or choices.get("interval_s"))
        if may_be_spot and (spot := spot_in(table, name)) is not None:
            log = log_from_spot(spot, name)
            time_s, amps, volts = (log.arrays[x] for x in NEEDED)
            told = drawn(time_s, amps, volts, log.longest_step_s)
            return Examined(log, None, (), (), (), told, told, ())
        with named(name, table):
            recordings.append(record(table, name, choices, alone=alone))
        cells = table.cells and table.cells[:_SHOWN_ROWS]
        heads.append(replace(table, data=table.data[:HEAD_BYTES], cells=cells))
        del table, data
    if are_parts(recordings):
        recordings = [one_after_another(recordings)]
    elif not 1 <= given <= 2:
        raise InputError(
            f"{given} files given",
            mend="give one file, or one with amps and one with volts; add each further mow by itself",
        )
    recording, alignment = recordings[0], None
    if len(recordings) == 2:
        paired = pair(recording, recordings[1], choices.get("offset_s"), choices.get("drift_ppm"))
        recording, alignment = paired.recording, paired.alignment
    with named(recording.name, heads[0]):
        return mended(recording, recordings, alignment, choices)


def examine_once(files: Sequence[tuple[str, bytes]], **choices: Unpack[Choices]) -> Examined:
    """As `examine_bytes`, but from memory where these bytes were just examined with the same decisions.

    Only for answers that change nothing: the result is shared.

    >>> files = [("mow.csv", b"time_s,current_a,voltage_v\\n0,10,53\\n6,12,52.8\\n")]
    >>> examine_once(files) is examine_once(files), examine_once(files) is examine_once(files, reverse=True)
    (True, False)
    """
    if sum(len(data) for _, data in files) > MOST_BYTES:
        return examine_bytes(files, **choices)
    # Limits are left out of the key: what was read once has passed them.
    said = {name: value for name, value in choices.items() if name not in _LIMITS and value not in (None, [])}
    meters = [meter.as_plain() for meter in choices.get("meters", ())]
    key = repr(
        ([(name, hashlib.sha256(data).digest()) for name, data in files], sorted(said.items()), meters)
    )
    found = _kept.get(key) or examine_bytes(files, **choices)
    with _lock:
        _kept[key] = found
        _kept.move_to_end(key)
        if len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return found


@contextmanager
def named(file: str | Path, table: Table | None = None) -> Iterator[None]:
    """Put the file's name, and its table where one was found, into any InputError raised inside."""
    try:
        yield
    except InputError as fault:
        if table is not None:
            fault.table = fault.table or shown_table(table)
        fault.in_file(file)
        raise


def unreadable(error: OSError) -> InputError:
    """The InputError for a file that the system cannot read, in one line."""
    return InputError(f"cannot be opened ({(error.strerror or 'unreadable').lower()})", mend="check the name")
