"""Programs that add mows, and programs that kill these; tests run them in separate processes.

    python tests/logbook/uploads.py add PLACE COUNT SEED
    python tests/logbook/uploads.py kill PLACE COUNT SEED
    python tests/logbook/uploads.py kill-migrations OLD_FILE FOLDER COUNT SEED
    python tests/logbook/uploads.py fill PLACE LIMIT_BYTES
    python tests/logbook/uploads.py read-only PLACE

Each prints one JSON object at its end.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import shutil
import signal
import sys
import time
from pathlib import Path
from types import FrameType

from estimator.errors import LogbookError
from estimator.logbook import Logbook, add_mow, bytes_of, check, mows, open_logbook


def invented_file(seed: str, rows: int = 300) -> bytes:
    """An invented meter file, a different one for every seed."""
    rng = random.Random(seed)
    lines = (f"{s},{8 + rng.gauss(0, 2):.2f},{48 - s * 0.002 - rng.random():.2f}" for s in range(rows))
    return ("time_s,current_a,voltage_v\n" + "\n".join(lines) + "\n").encode()


def add(place: str, count: int, seed: str) -> list[int]:
    """Add mows one by one; returns their numbers."""
    with open_logbook(place) as book:
        return [_add(book, f"{seed} {number}") for number in range(count)]


def _add(book: Logbook, seed: str) -> int:
    data = invented_file(seed)
    figures = {"features": (1, {"seed": seed, "power_w": list(range(100))})}
    return add_mow(book, [(f"{seed}.csv", data)], lawn="orchard", pack="new one", derived=figures).id


def kill_uploads(place: str, count: int, seed: str) -> dict[str, object]:
    """Kill a program at random instants of its uploads; stops where an acknowledged one is not whole."""
    rng = random.Random(seed)
    with open_logbook(place) as book:
        began = time.perf_counter()
        for number in range(5):
            _add(book, f"{seed} warm {number}")
        one_upload_s = (time.perf_counter() - began) / 5
    acknowledged: dict[int, str] = {}
    during = unacknowledged = 0
    for number in range(count):
        told, started = _kill_one(
            place, f"{seed} {number}", rng.randrange(3), rng.uniform(0, 1.5 * one_upload_s)
        )
        acknowledged |= told
        during += started > len(told)
        with open_logbook(place) as book:
            kept = {mow.id: mow.files[0].name for mow in mows(book)}
            for mow_id, file_seed in told.items():
                if kept.get(mow_id) != f"{file_seed}.csv":
                    raise SystemExit(f"mow {mow_id} was acknowledged and is not there")
                if bytes_of(book, mow_id)[0][1] != invented_file(file_seed):
                    raise SystemExit(f"mow {mow_id} is not whole")
            unacknowledged = len(kept) - 5 - len(acknowledged)
    with open_logbook(place) as book:
        report = check(book)
    return {
        "kills": count, "during an upload": during, "acknowledged": len(acknowledged),
        "kept whole before their acknowledgement": unacknowledged, "problems": list(report.problems),
    }  # fmt: skip


def _kill_one(place: str, seed: str, wait_for: int, then_s: float) -> tuple[dict[int, str], int]:
    """Kill an uploader a while after it begins an upload; returns what it acknowledged, how many it began."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        _upload_for_ever(place, seed, writer)
    os.close(writer)
    text = b""
    while text.count(b"began") <= wait_for:
        text += os.read(reader, 65536)
    time.sleep(then_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while more := os.read(reader, 65536):
        text += more
    os.close(reader)
    lines = [line.split(" ", 2) for line in text.decode().splitlines()]
    return {int(line[1]): line[2] for line in lines if line[0] == "kept"}, sum(
        line[0] == "began" for line in lines
    )


def _upload_for_ever(place: str, seed: str, writer: int) -> None:
    book = open_logbook(place)
    number = 0
    while True:
        os.write(writer, f"began {number}\n".encode())
        mow_id = _add(book, f"{seed} {number}")
        os.write(writer, f"kept {mow_id} {seed} {number}\n".encode())
        number += 1


def kill_migrations(old: str, folder: str, count: int, seed: str) -> dict[str, object]:
    """Kill the opening of an older file at random instants; returns what the next opening found.

    It is killed in turn at one of its calls, which is in the middle however slow the machine is, and after
    some time by the clock, which may be inside a call.
    """
    rng = random.Random(seed)
    root = Path(folder)
    trial = root / "trial.sqlite"
    shutil.copy(old, trial)
    began = time.perf_counter()
    with open_logbook(trial) as book:
        migration_s = time.perf_counter() - began
        whole = _said(book)
    shutil.copy(old, root / "counted.sqlite")
    calls = _calls_until(root / "counted.sqlite", None)
    unfinished = 0
    for number in range(count):
        path = root / f"{number}.sqlite"
        shutil.copy(old, path)
        last = rng.randrange(calls) if number % 2 else None
        child = os.fork()
        if child == 0:
            if last is None:
                open_logbook(path).close()
            else:
                _calls_until(path, last)
            os._exit(0)
        if last is None:
            time.sleep(rng.uniform(0, 1.1 * migration_s))
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        unfinished += os.WIFSIGNALED(status)
        with open_logbook(path) as book:
            if _said(book) != whole:
                raise SystemExit(f"kill {number}: the migrated logbook does not say what it should")
            if check(book).problems:
                raise SystemExit(f"kill {number}: {check(book).problems[0]}")
        for left in [*root.glob(f"{number}.*"), *root.glob(f".{number}.*")]:
            left.unlink()
    return {
        "kills": count,
        "before its end": unfinished,
        "migration_s": round(migration_s, 3),
        "calls": calls,
        "mows": len(whole) - 4,
    }


def _calls_until(path: Path, last: int | None) -> int:
    """Open a logbook and count its calls, built-in ones too; kill this program at call number `last`."""
    count = 0

    def counted(_frame: FrameType, event: str, _what: object) -> None:
        nonlocal count
        if event.endswith("call"):
            if count == last:
                os.kill(os.getpid(), signal.SIGKILL)
            count += 1

    sys.setprofile(counted)
    try:
        open_logbook(path).close()
    finally:
        sys.setprofile(None)
    return count


def _said(book: Logbook) -> list[str]:
    listed = [*mows(book), *mows(book, removed=True)]
    digests = [hashlib.sha256(bytes_of(book, mow.id)[0][1]).hexdigest() for mow in listed[:4]]
    return [repr(mow) for mow in listed] + digests


def fill(place: str, limit: int) -> dict[str, object]:
    """Add mows until there is no room: in a file (a limit in bytes), or on a small disk (limit 0)."""
    if limit:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    kept = []
    with open_logbook(place) as book:
        for number in range(10_000):
            try:
                kept.append(_add(book, f"fill {number}"))
            except LogbookError as error:
                return {"kept": kept, "line": str(error), "listed": [mow.id for mow in mows(book)]}
    raise SystemExit("the disk was never full")


def read_only(place: str) -> dict[str, object]:
    """List and add as a user who may not write."""
    open_logbook(place).close()
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    lines = []
    with open_logbook(place) as book:
        listed = [mow.id for mow in mows(book)]
        try:
            _add(book, "refused")
        except LogbookError as error:
            lines.append(str(error))
    try:
        open_logbook(Path(place).with_name("new.sqlite"))
    except LogbookError as error:
        lines.append(str(error))
    return {"listed": listed, "lines": lines}


def main() -> None:
    what, *rest = sys.argv[1:]
    if what == "add":
        print(json.dumps({"added": add(rest[0], int(rest[1]), rest[2])}))
    elif what == "kill":
        print(json.dumps(kill_uploads(rest[0], int(rest[1]), rest[2])))
    elif what == "kill-migrations":
        print(json.dumps(kill_migrations(rest[0], rest[1], int(rest[2]), rest[3])))
    elif what == "fill":
        print(json.dumps(fill(rest[0], int(rest[1]))))
    elif what == "read-only":
        print(json.dumps(read_only(rest[0])))
    else:
        raise SystemExit(__doc__)


if __name__ == "__main__":
    main()
