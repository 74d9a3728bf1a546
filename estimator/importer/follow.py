"""Follow a file that a logger is still writing: one log each time it has grown.

The caller decides when to look again; nothing here waits or prints.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Unpack

from estimator.errors import TooFewReadings
from estimator.importer.choices import Choices
from estimator.importer.log import Log
from estimator.importer.read import read_bytes, unreadable


def whole_lines(data: bytes) -> bytes:
    """The content up to the end of its last whole line: a logger may be in the middle of one.

    >>> whole_lines(b"0,1.0,53\\n1,1.1,5")
    b'0,1.0,53\\n'
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        mark = "\n".encode("utf-16-le" if data[:1] == b"\xff" else "utf-16-be")
        at = data.rfind(mark)
        return data[: at + 2] if at >= 0 else b""
    at = max(data.rfind(b"\n"), data.rfind(b"\r"))
    return data[: at + 1]


def follow_log(path: str | Path, looks: Iterable[object], **choices: Unpack[Choices]) -> Iterator[Log]:
    """One log for each look that finds new whole lines in the file, and enough of them to be read.

    path : file being written; looks : anything to iterate over, with one element for each look (a timer, a
        list in tests)
    A file that is missing or has fewer than two readings is waited for; any other fault raises InputError.

    >>> import pathlib, tempfile
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "live.csv"
    >>> def growing():
    ...     _ = path.write_text("time_s,current_a,voltage_v\\n0,9,53\\n1,10,5"); yield 1
    ...     _ = path.write_text("time_s,current_a,voltage_v\\n0,9,53\\n1,10,52\\n2,9,52\\n3,"); yield 2
    >>> [len(log.readings) for log in follow_log(path, growing())]
    [3]
    """
    path = Path(path)
    seen = -1
    for _ in looks:
        try:
            data = whole_lines(path.read_bytes())
        except FileNotFoundError:
            continue
        except OSError as error:
            raise unreadable(error).in_file(path) from None
        if len(data) == seen:
            continue
        seen = len(data)
        if data.count(b"\n") + data.count(b"\r") < 3:
            continue
        try:
            log = read_bytes([(path.name, data)], **choices)
        except TooFewReadings:
            continue
        yield log
