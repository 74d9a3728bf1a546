"""From meter files and spot notes to logs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Unpack

from estimator.importer.choices import Choices
from estimator.importer.examine import examine, examine_bytes
from estimator.importer.log import Log


def read_log(*paths: str | Path, **choices: Unpack[Choices]) -> Log:
    """Read one recording from its file, or from the ammeter's and the voltmeter's file.

    Parameters
    ----------
    *paths : str or Path, one or two
        .csv, .txt, .tsv, any of them gzipped, or .xlsx; spot notes count as a recording too
    **choices : see `Choices`, default none
        decisions that overrule those taken from the data, such as decimal=",", interval_s=5.0 [s] or
        columns={"current": "3[mA]"}

    Returns
    -------
    Log
        its `notes` say what was recognised, mended and left out, with the effect in [Ah]

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
