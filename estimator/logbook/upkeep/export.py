"""Export everything to a folder of plain CSV, JSON and the uploaded files, and import it again, identical.

The import reads logbook.json, derived.json and the files; tables and readings are for people and programs.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from estimator.errors import InputError, LogbookError, MowchargeError
from estimator.logbook.handle import Logbook
from estimator.logbook.records.readings import bytes_of, log_of
from estimator.logbook.records.uploads import put_bytes
from estimator.logbook.sqlite_file import is_there
from estimator.logbook.tables import LOOK, SCHEMA_VERSION, SUMMED, about, derived, files, metadata, mows
from estimator.logbook.upkeep.battery_data_format import battery_data_frame
from estimator.logbook.upkeep.checksums import canonical, with_sum
from estimator.logbook.upkeep.compression import compressed
from estimator.logbook.upkeep.copying import number_on, rows_of
from estimator.logbook.upkeep.plain_files import (
    SUMS,
    spread,
    tame,
    write_json,
    write_rows,
    write_sums,
    write_table,
)

if TYPE_CHECKING:
    from estimator.importer.log import Log

_FORMAT = "mowcharge logbook export"
_NO_MATCH = "the file does not match its checksum"
_READ_ME = """\
An export of a mowcharge logbook.

logbook.json      all descriptions, mows, events and the history of edits; derived.json the figures worked out
files/            the uploaded files, byte for byte, in a folder for each mow
readings/         the readings of each mow as read today, with Battery Data Format labels and units:
                  current that leaves the pack is negative there
*.csv             tables to look at; words that a spreadsheet would take for a formula have a ' before them
checksums.sha256  SHA-256 of every file, as `sha256sum --check` reads it

The import takes logbook.json, derived.json and files/ and refuses the folder where a checksum does not hold.
"""


@dataclass(frozen=True)
class ExportReport:
    """Where the export is, how many mows it holds, and a sentence for each mow that cannot be read."""

    folder: Path
    mows: int
    notes: tuple[str, ...]


def export(
    book: Logbook, folder: str | Path, progress: Callable[[str], None] = lambda _: None
) -> ExportReport:
    """Write everything that the logbook holds to a new or empty folder, one mow after another.

    Raises InputError where the folder holds something, LogbookError where uploaded bytes are damaged.
    `import_` brings it back, identical:

    >>> from estimator.descriptions import Lawn
    >>> from estimator.logbook import add_mow, fingerprint, keep_lawn, open_logbook
    >>> folder = getfixture("tmp_path")
    >>> with open_logbook(folder / "old.sqlite") as old, open_logbook(folder / "new.sqlite") as new:
    ...     keep_lawn(old, Lawn("orchard", area_m2=420))
    ...     readings = b"time_s,current_a,voltage_v\\n0,9,48\\n1,9,48\\n"
    ...     _ = add_mow(old, [("mow.csv", readings)], lawn="orchard")
    ...     export(old, folder / "out").mows
    ...     import_(new, folder / "out")
    ...     fingerprint(new) == fingerprint(old)
    1
    1
    True
    """
    root = Path(folder).expanduser()
    is_there(root)
    try:
        root.mkdir(parents=True, exist_ok=True)
        if any(root.iterdir()):
            raise InputError(f"{root} is not empty", mend="name a new folder")
        with book.reading() as connection:
            tables = {table.name: [_plain(row) for row in rows_of(connection, table)] for table in SUMMED}
            mow_ids = [row["id"] for row in tables["mows"]]
            files_of: dict[int, list[dict[str, Any]]] = {}
            for row in tables["files"]:
                row["path"] = f"files/{row['mow_id']:04d}/{row['position'] + 1}-{tame(row['name'])}"
                files_of.setdefault(row["mow_id"], []).append(row)
            notes = []
            for place, mow_id in enumerate(mow_ids, start=1):
                progress(f"exporting mow {place} of {len(mow_ids)}")
                uploads = bytes_of(book, mow_id)
                if mow_id in files_of:  # a part of a log has no files of its own
                    for row, (_name, data) in zip(files_of[mow_id], uploads, strict=True):
                        path = root / row["path"]
                        path.parent.mkdir(parents=True, exist_ok=True)
                        path.write_bytes(data)
                notes += _write_readings(book, root, mow_id, uploads)
            write_rows(root / "derived.json", map(_figures, rows_of(connection, derived)))
        write_json(root / "logbook.json", {"format": _FORMAT, "schema": SCHEMA_VERSION, "tables": tables})
        for name, rows in tables.items():
            columns = [column.name for column in metadata.tables[name].columns if column.name != "sum"]
            write_table(root / f"{name}.csv", [spread(row) for row in rows], columns)
        (root / "README.txt").write_text(_READ_ME, encoding="utf-8")
        progress("writing checksums")
        write_sums(root)
    except OSError as error:
        raise LogbookError(
            f"the export to {root} failed ({error.strerror or error})", mend="choose another"
        ) from error
    return ExportReport(root, len(mow_ids), tuple(notes))


def import_(book: Logbook, folder: str | Path) -> int:
    """Read an exported folder into an empty logbook; returns the number of mows.

    All of it is taken, or nothing. Raises InputError for a folder that is not an export or whose checksums do
    not match, and for a logbook that already holds something.
    """
    root = Path(folder).expanduser()
    is_there(root)
    _check_sums(root)
    whole = _read_json(root, "logbook.json")
    if not isinstance(whole, dict) or whole.get("format") != _FORMAT:
        raise InputError(
            "is not an exported logbook", file=root / "logbook.json", mend="name the folder of an export"
        )
    if whole["schema"] not in (2, SCHEMA_VERSION):  # exports of both are laid out alike
        raise InputError(
            f"the export is of schema {whole['schema']}, this program knows {SCHEMA_VERSION}",
            file=root / "logbook.json",
            mend="import it with the program that wrote it"
            if whole["schema"] < SCHEMA_VERSION
            else "update mowcharge",
        )
    try:
        return _take(book, root, whole)
    except (KeyError, TypeError, AttributeError) as error:
        raise InputError(
            f"is not an exported logbook ({error!r})", file=root / "logbook.json", mend="export again"
        ) from error


def _take(book: Logbook, root: Path, whole: dict[str, Any]) -> int:
    with book.writing() as connection:
        if any(connection.scalar(sa.select(sa.func.count()).select_from(table)) for table in SUMMED):
            raise InputError(f"{book.where} is not empty", mend="import into a new logbook")
        for table in metadata.sorted_tables:
            for row in whole["tables"].get(table.name, ()):
                path = row.pop("path", None)
                connection.execute(sa.insert(table).values(**with_sum(table, row)))
                if table is files:
                    data = _bytes(root, path or "")
                    if hashlib.sha256(data).hexdigest() != row["sha256"]:
                        raise InputError(_NO_MATCH, file=path, mend="export again")
                    put_bytes(connection, row["id"], compressed(row["codec"], data))
        connection.execute(sa.delete(about).where(about.c.name == LOOK))  # these mows may be older
        for figures in _read_json(root, "derived.json"):
            squeezed = zlib.compress(canonical(figures.pop("plain")).encode(), 6)
            connection.execute(sa.insert(derived).values(**figures, packed=squeezed))
        number_on(connection)
        return int(connection.scalar(sa.select(sa.func.count()).select_from(mows)) or 0)


def readings_csv(book: Logbook, mow_id: int) -> str:
    """The readings of one mow as CSV text with Battery Data Format labels and units."""
    return _bdf_text(log_of(book, mow_id))


def _bdf_text(log: Log) -> str:
    return str(battery_data_frame(log).to_csv(index=False, lineterminator="\n"))


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != "sum"}


def _figures(row: Mapping[str, Any]) -> dict[str, Any]:
    plain = {name: value for name, value in row.items() if name != "packed"}
    return {**plain, "plain": json.loads(zlib.decompress(row["packed"]))}


def _write_readings(
    book: Logbook, root: Path, mow_id: int, uploads: Sequence[tuple[str, bytes]]
) -> list[str]:
    """Write a mow's readings; returns a sentence where they cannot be read."""
    try:
        text = _bdf_text(log_of(book, mow_id, uploads))
    except MowchargeError as error:
        return [f"mow {mow_id}: {error}"]
    (root / "readings").mkdir(exist_ok=True)
    (root / "readings" / f"{mow_id:04d}.csv").write_text(text, encoding="utf-8")
    return []


def _check_sums(root: Path) -> None:
    """Raise InputError unless what is imported matches its checksums; the tables for people may be edited."""
    try:
        lines = (root / SUMS).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        raise InputError(f"{root} is not an exported logbook", mend="name the folder of an export") from None
    told = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
    for name in ("logbook.json", "derived.json"):
        if told.get(name) != hashlib.sha256(_bytes(root, name)).hexdigest():
            raise InputError(_NO_MATCH, file=root / name, mend="export again")


def _bytes(root: Path, name: str) -> bytes:
    path = (root / name).resolve()
    if not path.is_relative_to(root.resolve()):
        raise InputError(
            f"the export names {name}, which is outside its folder", mend="do not trust this folder"
        )
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error})", file=path, mend="export again"
        ) from None


def _read_json(root: Path, name: str) -> Any:
    try:
        return json.loads(_bytes(root, name))
    except ValueError as error:
        raise InputError(f"is not JSON ({error})", file=root / name, mend="export again") from None
