"""Readings that a logger posts while it measures: on disk before they are acknowledged, each counted once.

Every mow is one file of readings, in the order of their numbers. A logger numbers its readings from 0, gives
the number of the first one with each post, and goes on from the number in the answer. So no reading is lost
with a lost post or answer, and none counts twice where a post is sent again.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from threading import Lock

from estimator.errors import InputError

MOST_READINGS = 200_000
"""How many readings a mow can have: two days of one a second."""

MOST_MOWS = 20  # from loggers that were never stopped; bounds the disk
SHORTEST = 30
"""An old mow with fewer readings than this is thrown away to make room for a new one."""

TITLES = ("time", "current_a", "voltage_v", "temperature_c")
_NUMBER = re.compile(r"-?(?:\d{1,12}(?:\.\d{0,9})?|\.\d{1,9})(?:[eE][-+]?\d{1,2})?")
_writing = Lock()


@dataclass(frozen=True)
class Posted:
    """How far a mow has come: the word by which its logger names it, how many of its readings are kept."""

    mow: str
    kept: int


def keep_readings(folder: Path, mow: str, first: int, lines: str, now: datetime) -> Posted:
    """Keep the readings of a post that are not kept yet; they are on disk on return.

    mow : any word, the same for all readings of a mow (a logger may take a random number when it starts)
    first : number of the reading in the first line
    lines : one reading each, `seconds, amps, volts`, and the pack's temperature [°C] if measured; seconds
        count from any start; now : the time now, from which the start is worked out at the first post
    A post that leaves a hole keeps nothing; its answer says from which reading to send again. Raises
    InputError for what is not a reading, or where too much is kept.

    >>> folder = getfixture("tmp_path")
    >>> keep_readings(folder, "7", 0, "0,4.1,52.3\\n1,4.2,52.2", datetime(2025, 5, 1, 9)).kept
    2
    >>> keep_readings(folder, "7", 1, "1,4.2,52.2\\n2,4,52.1", datetime(2025, 5, 1, 9)).kept
    3
    >>> keep_readings(folder, "7", 9, "9,4,52", datetime(2025, 5, 1, 9)).kept
    3
    """
    readings = [_reading(line, first + place) for place, line in enumerate(lines.split("\n")) if line.strip()]
    name = sha256(mow.encode()).hexdigest()[:24]
    with _writing:
        path = next(iter(folder.glob(f"*-{name}.csv")), None)
        if path is None:
            if first > 0 or not readings:
                return Posted(mow, 0)
            path = _begun(folder, name, now - timedelta(seconds=readings[0][0]), len(readings[0]))
        begun = begun_of(path)
        kept, last_s, width = _so_far(path, begun)
        fresh = readings[max(kept - first, 0) :] if first <= kept else []
        if kept + len(fresh) > MOST_READINGS:
            raise InputError(f"{MOST_READINGS} readings are kept of this mow", mend="begin another one")
        text = ""
        for place, reading in enumerate(fresh, start=kept):
            if reading[0] <= last_s:
                problem = f"reading {place} is of {reading[0]:g} s, the one before of {last_s:g} s"
                raise InputError(problem, mend="send them in the order of time, or begin another mow")
            if len(reading) != width:
                raise InputError(f"reading {place} has {len(reading)} numbers", mend=f"send {width} each")
            last_s = reading[0]
            stamp = (begun + timedelta(seconds=last_s)).isoformat(" ", "milliseconds")
            text += ",".join([stamp, *(f"{each:g}" for each in reading[1:])]) + "\n"
        if text:
            with path.open("a", encoding="ascii", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        return Posted(mow, kept + len(fresh))


def newest(folder: Path) -> Path | None:
    """The file of the mow that was last posted to; None where there is none."""
    files = posted_files(folder)
    return files[-1] if files else None


def posted_files(folder: Path) -> list[Path]:
    """The files of all posted mows not yet kept in the logbook or thrown away, the last posted to last."""
    found = (
        [(each.stat().st_mtime, each.name, each) for each in folder.glob("*.csv")] if folder.is_dir() else []
    )
    return [each for _, _, each in sorted(found)]


def remove_posted(path: Path) -> None:
    """Delete a posted mow and what was said of it."""
    for each in (path, path.with_suffix(".json")):
        each.unlink(missing_ok=True)


def begun_of(path: Path) -> datetime:
    """When a posted mow began."""
    return datetime.strptime(path.name.rpartition("-")[0], _STAMP)


_STAMP = "%Y-%m-%d-%H%M%S.%f"


def _begun(folder: Path, name: str, begun: datetime, width: int) -> Path:
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    there = posted_files(folder)
    for each in there[: max(len(there) - MOST_MOWS + 1, 0)]:
        if each.read_bytes().count(b"\n") > SHORTEST:
            raise InputError(f"{len(there)} posted mows wait", mend="keep or throw away some of them first")
        remove_posted(each)
    path = folder / f"{begun.strftime(_STAMP)}-{name}.csv"
    with path.open("x", encoding="ascii", newline="") as file:
        file.write(",".join(TITLES[:width]) + "\n")
        file.flush()
        os.fsync(file.fileno())
    return path


def _so_far(path: Path, begun: datetime) -> tuple[int, float, int]:
    """How many readings a file holds, the seconds of the last one, and how many numbers each has; half a line
    that a power cut left at the end is removed."""
    data = path.read_bytes()
    whole = data.rfind(b"\n") + 1
    if whole < len(data):
        os.truncate(path, whole)
    title, *lines = data[:whole].decode("ascii").splitlines()
    width = title.count(",") + 1
    if not lines:
        return 0, float("-inf"), width
    last = datetime.fromisoformat(lines[-1].split(",")[0])
    return len(lines), (last - begun).total_seconds(), width


def _reading(line: str, number: int) -> Sequence[float]:
    parts = [part.strip() for part in line.split(",")]
    if len(parts) not in (3, 4) or not all(_NUMBER.fullmatch(part) for part in parts):
        raise InputError(f"reading {number} is {line.strip()[:40]!r}", mend="write it as 12.5,4.1,52.3")
    values = [float(part) for part in parts]
    if not 0 <= values[0] < 1e7 or abs(values[1]) > 1e4 or not 0 <= values[2] <= 4000:
        raise InputError(f"reading {number} is {line.strip()[:40]!r}", mend="send seconds, amps and volts")
    return values
