"""Plain JSON and CSV files with their checksums, as an export writes them."""

from __future__ import annotations

import csv
import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from estimator.logbook.upkeep.checksums import canonical

SUMS = "checksums.sha256"


def write_json(path: Path, plain: Any) -> None:
    """Write a JSON file with sorted keys."""
    path.write_text(_json_text(plain) + "\n", encoding="utf-8")


def write_rows(path: Path, rows: Iterable[Any]) -> None:
    """Write a list as a JSON file without holding all of it in memory."""
    with path.open("w", encoding="utf-8") as out:
        begin = "[\n "
        for row in rows:
            out.write(begin + _json_text(row).replace("\n", "\n "))
            begin = ",\n "
        out.write("[]\n" if begin.startswith("[") else "\n]\n")


def _json_text(plain: Any) -> str:
    return json.dumps(plain, ensure_ascii=False, indent=1, sort_keys=True)


def write_table(path: Path, rows: list[dict[str, Any]], columns: Sequence[str]) -> None:
    """Write a CSV table for people, with the columns of all its rows; `columns` where there are no rows."""
    names = list(dict.fromkeys(name for row in rows for name in row)) or columns
    with path.open("w", encoding="utf-8", newline="") as sheet:
        writer = csv.DictWriter(sheet, names, restval="")
        writer.writeheader()
        writer.writerows({name: disarmed(value) for name, value in row.items()} for row in rows)


def disarmed(cell: Any) -> Any:
    """Text that a spreadsheet would run as a formula gets a ' in front; all else stays as it is.

    After OWASP, "CSV Injection": cells that begin with = + - @, a tab or a carriage return.

    >>> disarmed("=HYPERLINK(1)"), disarmed(-3.5), disarmed("dry")
    ("'=HYPERLINK(1)", -3.5, 'dry')
    """
    return (
        f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") else cell
    )


def tame(name: str) -> str:
    """A file name that every system accepts.

    >>> tame("mow: 3/4 ü.csv")
    'mow_3_4_ü.csv'
    """
    tidy = re.sub(r"[^\w.-]+", "_", name).strip("._").encode()[-80:]  # systems count bytes
    return tidy.decode("utf-8", "ignore") or "upload"


def spread(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row for the CSV tables: a description gets a column for each of its fields; lists are JSON."""
    if "plain" not in row:
        return dict(row)
    plain = {
        name: canonical(value) if isinstance(value, list | dict) else value
        for name, value in json.loads(row["plain"]).items()
        if name != "name"
    }
    return {"name": row["name"], **plain, "since": row["since"]}


def write_sums(root: Path) -> None:
    """Write the SHA-256 of every file in a folder."""
    lines = []
    for path in sorted(path for path in root.rglob("*") if path.is_file()):
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        lines.append(f"{digest}  {path.relative_to(root).as_posix()}\n")
    (root / SUMS).write_text("".join(lines), encoding="utf-8")
