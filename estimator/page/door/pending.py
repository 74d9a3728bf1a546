"""Uploads that wait to be kept: on disk, under a random name, for a week at most."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from secrets import token_hex
from time import time

from estimator.errors import InputError

KEPT_S = 7 * 24 * 3600.0
"""After how long [s] an upload that nobody kept is thrown away."""

MOST_UPLOADS = 300
"""How many uploads can wait to be kept: no visitor can fill the disk."""
MOST_BYTES = 2 * 1024**3
"""The largest size of all waiting uploads together [bytes]."""


@dataclass(frozen=True)
class PendingUpload:
    """One upload: its files as (name, content), and what the user said about them so far."""

    key: str
    files: tuple[tuple[str, bytes], ...]
    said: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Waiting:
    """One upload that waits: the names of its files, and what the user said about them."""

    key: str
    names: tuple[str, ...]
    said: Mapping[str, str]


def put_upload(
    folder: Path, files: Sequence[tuple[str, bytes]], said: Mapping[str, str] | None = None
) -> str:
    """Store an upload and return its key; names of files are stored as content and never used as paths.

    Raises InputError where too much is waiting already; nothing that waits is dropped to make room.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    drop_old(folder)
    waiting = [entry for entry in folder.iterdir() if entry.is_dir()]
    size = sum(_size(entry) for entry in waiting)
    if len(waiting) >= MOST_UPLOADS or size + sum(len(content) for _, content in files) > MOST_BYTES:
        raise InputError(
            f"{len(waiting)} uploads wait to be kept", mend="keep or throw away some of them first"
        )
    key = token_hex(16)
    building = folder / f".{key}"
    building.mkdir(mode=0o700)
    for number, (_, content) in enumerate(files):
        (building / f"{number}.bin").write_bytes(content)
    _write_said(building, [name for name, _ in files], said or {})
    building.rename(folder / key)
    return key


def get_upload(folder: Path, key: str) -> PendingUpload:
    """The upload with a key; InputError where it was kept, thrown away, or waited too long."""
    entry = _entry(folder, key)
    try:
        about = json.loads((entry / "said.json").read_text(encoding="utf-8"))
        files = tuple(
            (name, (entry / f"{number}.bin").read_bytes()) for number, name in enumerate(about["names"])
        )
    except (OSError, ValueError, KeyError):
        raise _gone() from None
    return PendingUpload(key, files, about["said"])


def all_waiting(folder: Path) -> tuple[Waiting, ...]:
    """Every upload that waits, the oldest first, without reading its files.

    >>> folder = getfixture("tmp_path")
    >>> key = put_upload(folder, [("may.csv", b"1,2,3")], {"lawn": "orchard"})
    >>> [(each.names, each.said["lawn"]) for each in all_waiting(folder)]
    [(('may.csv',), 'orchard')]
    """
    drop_old(folder)
    found = []
    for entry in folder.glob("[!.]*"):
        with suppress(OSError, ValueError, KeyError):  # another request may keep or drop it meanwhile
            about = json.loads((entry / "said.json").read_text(encoding="utf-8"))
            since = (entry / "0.bin").stat().st_mtime
            if not about["said"].get("asked"):  # a log so far is only a question until somebody keeps it
                found.append((since, Waiting(entry.name, tuple(about["names"]), about["said"])))
    return tuple(each for _, each in sorted(found, key=lambda one: (one[0], one[1].names)))


def say(folder: Path, key: str, said: Mapping[str, str]) -> PendingUpload:
    """Replace what was said about a waiting upload; returns it as it is now."""
    upload = get_upload(folder, key)
    try:
        _write_said(_entry(folder, key), [name for name, _ in upload.files], said)
    except OSError:
        raise _gone() from None
    return PendingUpload(key, upload.files, said)


def drop_upload(folder: Path, key: str) -> None:
    """Throw an upload away; it may be gone already."""
    shutil.rmtree(_entry(folder, key), ignore_errors=True)


def drop_old(folder: Path, now: float | None = None) -> int:
    """Throw away what has waited too long; returns how many uploads."""
    now = time() if now is None else now
    dropped = 0
    for entry in folder.iterdir() if folder.is_dir() else ():
        try:
            if now - entry.stat().st_mtime > KEPT_S:
                shutil.rmtree(entry, ignore_errors=True)
                dropped += 1
        except OSError:
            continue
    return dropped


def _size(entry: Path) -> int:
    """Bytes of an upload; where another request is writing or dropping it, of what is there."""
    total = 0
    with suppress(OSError):
        for part in entry.iterdir():
            total += part.stat().st_size
    return total


def _entry(folder: Path, key: str) -> Path:
    if not re.fullmatch(r"[0-9a-f]{32}", key):
        raise _gone()
    return folder / key


def _write_said(entry: Path, names: Sequence[str], said: Mapping[str, str]) -> None:
    text = json.dumps({"names": list(names), "said": dict(said)})
    part = entry / f"said.{token_hex(4)}.part"
    part.write_text(text, encoding="utf-8")
    part.replace(entry / "said.json")


def _gone() -> InputError:
    return InputError("this upload is not here any more", mend="upload the file again")
