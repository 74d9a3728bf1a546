"""The whole import with every decision laid open: what a dry run shows before anything is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Unpack

from estimator.errors import InputError
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.choices import Choices, check_choices
from estimator.importer.cleaning.mending import Examined, mended
from estimator.importer.cleaning.readings_in_work import drawn
from estimator.importer.known_meters import sheet_of_meter
from estimator.importer.recording import record
from estimator.importer.shown import shown_table
from estimator.importer.table.opened_file import HEAD_BYTES, open_table, spot_in
from estimator.importer.two_meters.pairing import pair

_SHOWN_ROWS = 2000
"""Enough to know columns by; bounds the work of a refusal."""


def examine(*paths: str | Path, **choices: Unpack[Choices]) -> Examined:
    """Import one recording from its file or files, with every decision laid open.

    Parameters
    ----------
    *paths : str or Path, one or two
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
        try:
            if limit is not None and path.stat().st_size > limit:
                raise InputError(
                    f"holds more than {limit / 1e6:g} MB", file=path, mend="log at a longer interval"
                )
            files.append((path.name, path.read_bytes()))
        except OSError as e:
            why = (e.strerror or "unreadable").lower()
            raise InputError(f"cannot be opened ({why})", file=path, mend="check the name") from None
    return examine_bytes(files, **choices)


def examine_bytes(files: Sequence[tuple[str, bytes]], **choices: Unpack[Choices]) -> Examined:
    """The same from (name, content) pairs in memory."""
    check_choices(choices)
    if not 1 <= len(files) <= 2:
        raise InputError(
            f"{len(files)} files given", mend="give one file, or one with amps and one with volts"
        )
    recordings, heads = [], []
    for name, data in files:
        table = open_table(name, data, choices)
        if (sheet := sheet_of_meter(table, choices)) not in (None, table.sheet):
            table = open_table(name, data, {**choices, "sheet": sheet})
        spot = (
            spot_in(table, name)
            if len(files) == 1 and not (choices.get("columns") or choices.get("interval_s"))
            else None
        )
        if spot is not None:
            log = log_from_spot(spot, name)
            r = log.readings
            told = drawn(
                r.time_s.to_numpy(), r.current_a.to_numpy(), r.voltage_v.to_numpy(), log.longest_step_s
            )
            return Examined(log, None, (), (), (), told, told, ())
        try:
            recordings.append(record(table, name, choices, alone=len(files) == 1))
        except InputError as fault:
            fault.table = fault.table or shown_table(table)
            raise
        heads.append(
            replace(table, data=table.data[:HEAD_BYTES], cells=table.cells and table.cells[:_SHOWN_ROWS])
        )
        del table, data
    alignment = None
    if len(recordings) == 2:
        paired = pair(recordings[0], recordings[1], choices.get("offset_s"), choices.get("drift_ppm"))
        recording, alignment = paired.recording, paired.alignment
    else:
        recording = recordings[0]
    try:
        return mended(recording, recordings, alignment, choices)
    except InputError as fault:
        fault.table = fault.table or shown_table(heads[0])
        raise
