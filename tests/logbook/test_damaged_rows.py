"""Single rows of a logbook file that make no sense: skipped or reported, never taken."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from estimator.errors import InputError, LogbookError
from estimator.logbook import Logbook, add_mow, bytes_of, export, import_, mows, open_logbook, salvage
from estimator.logbook.handle import told
from estimator.logbook.upkeep.sqlite_pages import found_rows

HIGH = 2**62
UNSAID = "does not say its schema version; restore a backup, or salvage it"


@pytest.fixture
def small(tmp_path: Path, describe_in: Any) -> Path:
    """A logbook of three mows, two of them of the orchard."""
    path = tmp_path / "small.sqlite"
    describe_in(str(path))
    with open_logbook(path) as book:
        for number, lawn in enumerate(("orchard", "green", "orchard"), start=1):
            add_mow(book, [(f"mow {number}.csv", b"9.8 A\n" * 60 * number)], lawn=lawn)
    return path


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


def table_of_lawns(path: Path) -> bytes:
    """A file with one table of its own: orchard in row 1, green in a row whose number takes nine bytes."""
    change(
        path,
        "CREATE TABLE plots (name TEXT, area_m2 INTEGER)",
        "INSERT INTO plots VALUES ('orchard', 420)",
        f"INSERT INTO plots (rowid, name, area_m2) VALUES ({HIGH}, 'green', 26000)",
    )
    return path.read_bytes()


def plots(image: bytes) -> list[tuple[int, tuple[Any, ...]]]:
    return [(row.rowid, row.cells) for row in found_rows(image) if len(row.cells) == 2]


def test_rows_are_read_from_their_page(tmp_path: Path) -> None:
    image = table_of_lawns(tmp_path / "plots.sqlite")
    assert plots(image) == [(1, ("orchard", 420)), (HIGH, ("green", 26000))]
    assert list(found_rows(b"SQLite")) == []


def cell_pointer(image: bytearray, page: int, at: int) -> None:
    struct.pack_into(">H", image, page + 8, 3)


def cell_byte(place: int, *values: int) -> Callable[[bytearray, int, int], None]:
    def put(image: bytearray, page: int, at: int) -> None:
        image[page + at + place : page + at + place + len(values)] = bytes(values)

    return put


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(cell_pointer, id="cell inside the page's header"),
        pytest.param(cell_byte(0, 0xFF, 0xFF, 0x7F), id="row longer than the file"),
        pytest.param(cell_byte(2, 0x7F), id="header longer than the row"),
        pytest.param(cell_byte(3, 10), id="reserved kind of cell"),
        pytest.param(cell_byte(3, 0x7F), id="text longer than the row"),
    ],
)
def test_a_damaged_row_is_passed_over_and_its_neighbour_read(
    tmp_path: Path, damage: Callable[[bytearray, int, int], None]
) -> None:
    """Cell layout after https://www.sqlite.org/fileformat2.html, 1.6 and 2.1: length, row number, length of
    the header, kinds of the cells."""
    image = bytearray(table_of_lawns(tmp_path / "plots.sqlite"))
    (page_size,) = struct.unpack_from(">H", image, 16)
    (at,) = struct.unpack_from(">H", image, page_size + 8)
    damage(image, page_size, at)
    assert plots(bytes(image)) == [(HIGH, ("green", 26000))]


def test_salvage_tells_of_a_mow_whose_lawn_is_lost(small: Path) -> None:
    change(
        small,
        "UPDATE lawns SET sum = 1 WHERE name = 'green'",
        "UPDATE changes SET sum = 1 WHERE subject = 'lawn green'",
    )
    report = salvage(small, small.with_name("new.sqlite"))
    assert report.mows == 2
    assert "mow 2 is lost: nothing is left of its lawn 'green'" in report.notes
    with open_logbook(small.with_name("new.sqlite")) as new:
        assert [(found.id, found.lawn) for found in mows(new)] == [(1, "orchard"), (3, "orchard")]


@pytest.mark.parametrize("packed", ["X'425A68'", "'text'"])
def test_salvage_tells_of_bytes_that_are_lost(small: Path, packed: str) -> None:
    change(small, f"UPDATE file_bytes SET packed = {packed} WHERE file_id = 1")
    report = salvage(small, small.with_name("new.sqlite"))
    assert (report.mows, report.files) == (3, 2)
    assert report.notes == ("mow 1: the bytes of mow 1.csv are lost; upload the file again",)
    assert not list(small.parent.glob("*loose*"))


def test_a_mow_without_its_files_says_so(small: Path) -> None:
    change(small, "PRAGMA foreign_keys = OFF", "DELETE FROM file_bytes", "DELETE FROM files")
    with open_logbook(small) as book, pytest.raises(LogbookError) as caught:
        bytes_of(book, 1)
    assert str(caught.value) == f"{small}: the files of mow 1 are lost; restore a backup"


@pytest.mark.parametrize(
    ("statement", "line"),
    [
        ("DELETE FROM about", UNSAID),
        ("DROP TABLE about", UNSAID),
        ("UPDATE about SET value = 'two' WHERE name = 'schema'", UNSAID),
        (
            "UPDATE about SET value = '0' WHERE name = 'schema'",
            "has a schema 0 that never existed; restore a backup",
        ),
    ],
)
def test_a_logbook_of_no_known_version_is_not_opened(small: Path, statement: str, line: str) -> None:
    change(small, statement)
    with pytest.raises(LogbookError) as caught:
        open_logbook(small)
    assert str(caught.value) == f"{small} {line}"


def test_a_read_only_logbook_is_not_written(small: Path) -> None:
    with open_logbook(small) as book:
        fixed = Logbook(book.engine, book.where, book.path, read_only=True)
        with pytest.raises(LogbookError) as caught:
            add_mow(fixed, [("new.csv", b"new")], lawn="orchard")
        assert str(caught.value) == f"{small} cannot be written; copy it to a folder of your own"
        assert len(mows(book)) == 3


def test_complaints_that_have_no_words_of_their_own_are_damage() -> None:
    assert str(told("a.sqlite", sqlite3.DatabaseError("odd page\nand more"))).startswith(
        "a.sqlite is damaged"
    )
    assert "(odd page)" in str(told("a.sqlite", sqlite3.DatabaseError("odd page\nand more")))
    assert str(told("postgresql://shed", OSError("gone"))) == (
        "postgresql://shed: gone; look at the server and the URL"
    )


@pytest.mark.parametrize("whole", [[], {"format": "another"}])
def test_a_folder_that_is_no_export_is_not_imported(small: Path, whole: Any) -> None:
    folder = small.with_name("exported")
    with open_logbook(small) as book:
        export(book, folder)
    named, sums = folder / "logbook.json", folder / "checksums.sha256"
    before = hashlib.sha256(named.read_bytes()).hexdigest()
    named.write_text(json.dumps(whole))
    sums.write_text(sums.read_text().replace(before, hashlib.sha256(named.read_bytes()).hexdigest()))
    with open_logbook(small.with_name("new.sqlite")) as new, pytest.raises(InputError) as caught:
        import_(new, folder)
    assert str(caught.value) == "logbook.json: is not an exported logbook; name the folder of an export"
