"""Truncated and bit-flipped logbooks: one clear line, never wrong words, and all that can be is salvaged."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from estimator.descriptions import Grass
from estimator.errors import InputError, LogbookError, MowchargeError
from estimator.logbook import (
    Logbook,
    MowRecord,
    add_mow,
    bytes_of,
    check,
    edit_mow,
    events_of,
    fingerprint,
    history,
    keep_event,
    lawns,
    mend_bytes,
    mow,
    mows,
    open_logbook,
    packs,
    purge_mow,
    remove_mow,
    salvage,
)
from estimator.logbook.tables import PAGE_SIZE, file_bytes
from estimator.logbook.tables import lawns as lawn_table
from estimator.logbook.tables import mows as mow_table

MOWS = 30


@pytest.fixture
def whole(tmp_path: Path, describe_in: Any) -> Path:
    """A logbook of some size: many pages, bytes on overflow pages, an edit, a removed and a purged mow."""
    path = tmp_path / "whole.sqlite"
    describe_in(str(path))
    with open_logbook(path) as book:
        for number in range(MOWS):
            add_mow(
                book,
                [(f"mow {number}.csv", random.Random(number).randbytes(500 + 400 * number))],
                lawn=("orchard", "green")[number % 2],
                grass=Grass("wet", 20.5),
                started=datetime(2025, 5, 1 + number),
                notes="a long word or two about the weather " * 8,
            )
        edit_mow(book, 3, lawn="green", notes="edited")
        keep_event(book, "2025-05-01", "blade care", "sharpened", "cylinder mower")
        remove_mow(book, 4)
        remove_mow(book, 5)
        purge_mow(book, 5)
    return path


def _everything(book: Logbook) -> list[object]:
    """Everything that can be read from a logbook, with the bytes where they are readable."""
    listed = [*mows(book), *mows(book, removed=True)]
    said: list[object] = [*lawns(book), *packs(book), *events_of(book), *listed]
    for found in listed:
        said += [*history(book, found.id), bytes_of(book, found.id)]
    return said


def test_a_flipped_bit_is_told_or_harmless_and_never_read_back_as_something_else(whole: Path) -> None:
    with open_logbook(whole) as book:
        truth = _everything(book)
    image, rng, damaged = whole.read_bytes(), random.Random(1), whole.with_name("damaged.sqlite")
    told = 0
    for _ in range(25):
        changed = bytearray(image)
        changed[rng.randrange(len(image))] ^= 1 << rng.randrange(8)
        damaged.write_bytes(changed)
        try:
            with open_logbook(damaged) as book:
                found = check(book)
                said = _everything(book)
        except MowchargeError as error:
            assert "\n" not in str(error)
            told += 1
        else:
            assert said == truth
            told += bool(found.problems or found.mended)
    assert told > 12


@pytest.mark.parametrize("share", [0.02, 0.2, 0.5, 0.9, 0.999])
def test_a_truncated_logbook_is_one_line_and_its_pages_are_salvaged(whole: Path, share: float) -> None:
    image, cut = whole.read_bytes(), whole.with_name("cut.sqlite")
    cut.write_bytes(image[: int(len(image) * share)])
    with pytest.raises(LogbookError) as caught:
        open_logbook(cut)
    assert str(caught.value).startswith(f"{cut} is damaged")
    assert "salvage it into a new logbook" in str(caught.value)
    report = salvage(cut, whole.with_name("salvaged.sqlite"))
    kept = _compare(whole, whole.with_name("salvaged.sqlite"))
    assert report.mows == len(kept)
    assert len(kept) >= MOWS * (share - 0.35) - 1


def _compare(whole: Path, salvaged: Path) -> dict[int, MowRecord]:
    """Check that whatever was salvaged is as it was, and sound; returns the salvaged mows."""
    with open_logbook(whole) as old, open_logbook(salvaged) as new:
        kept = {found.id: found for found in [*mows(new), *mows(new, removed=True)]}
        for number, found in kept.items():
            truth = mow(old, number)
            assert found in (truth, replace(truth, files=()))
            if not found.files:
                continue
            try:
                assert bytes_of(new, number) == bytes_of(old, number)
            except LogbookError as error:
                assert "repair them with the same file" in str(error)
                assert mend_bytes(new, "again.csv", bytes_of(old, number)[0][1]) == number
                assert bytes_of(new, number) == bytes_of(old, number)
        fileless = [f"mow {number} has no file" for number, found in sorted(kept.items()) if not found.files]
        assert check(new).problems == tuple(fileless)
    return kept


def test_salvage_keeps_all_of_a_sound_logbook(whole: Path) -> None:
    report = salvage(whole, whole.with_name("new.sqlite"))
    assert report.notes == ()
    assert (report.mows, report.files) == (MOWS - 1, MOWS - 1)
    with open_logbook(whole) as old, open_logbook(whole.with_name("new.sqlite")) as new:
        assert fingerprint(new) == fingerprint(old)
        assert add_mow(new, [("new.csv", b"new")], lawn="orchard").id == MOWS + 1


def test_salvage_of_a_busy_logbook_waits_its_turn_and_takes_one_moment_of_it(
    whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_logbook(whole) as book:
        monkeypatch.setattr("estimator.logbook.sqlite_file.BUSY_S", 0.05)
        with book.writing():
            add_mow(book, [("kept.csv", b"kept")], lawn="orchard")
            with pytest.raises(LogbookError, match="is held by another program that is writing; try again"):
                salvage(whole, whole.with_name("new.sqlite"))
        assert not whole.with_name("new.sqlite").exists()
        monkeypatch.undo()
        with ThreadPoolExecutor(1) as other:
            adding = other.submit(
                lambda: [add_mow(book, [("n.csv", b"%d" % n)], lawn="orchard").id for n in range(20)]
            )
            report = salvage(whole, whole.with_name("new.sqlite"))
            assert len(adding.result()) == 20
    assert report.notes == ()
    with open_logbook(whole.with_name("new.sqlite")) as new:
        assert check(new).problems == ()
        assert MOWS <= len([*mows(new), *mows(new, removed=True)]) == report.mows


def test_salvage_finds_everything_behind_a_broken_first_page(whole: Path) -> None:
    """The first page holds the list of tables: without it SQLite reads nothing, but other pages are there."""
    image = bytearray(whole.read_bytes())
    image[:PAGE_SIZE] = bytes(PAGE_SIZE)
    broken = whole.with_name("broken.sqlite")
    broken.write_bytes(image)
    with pytest.raises(
        LogbookError, match=r"is damaged or is not a logbook; give another path, or restore a backup$"
    ):
        open_logbook(broken)
    report = salvage(broken, whole.with_name("new.sqlite"))
    assert report.notes == ()
    with open_logbook(whole) as old, open_logbook(whole.with_name("new.sqlite")) as new:
        assert _everything(new) == _everything(old)


def test_salvage_loses_only_what_stood_on_a_broken_page(whole: Path) -> None:
    image, pages = whole.read_bytes(), len(whole.read_bytes()) // PAGE_SIZE
    total = 0
    for page in range(1, pages, 90):
        changed = bytearray(image)
        changed[page * PAGE_SIZE : (page + 1) * PAGE_SIZE] = random.Random(page).randbytes(PAGE_SIZE)
        broken, new = whole.with_name("broken.sqlite"), whole.with_name(f"new {page}.sqlite")
        broken.write_bytes(changed)
        salvage(broken, new)
        total += len(_compare(whole, new))
    tried = len(range(1, pages, 90))
    assert total >= tried * (MOWS - 1) * 0.97


def test_salvage_puts_lost_rows_together_from_the_history(whole: Path) -> None:
    with open_logbook(whole) as book:
        truth = {number: mow(book, number) for number in (2, 3)}
        with book.writing() as connection:
            connection.execute(sa.update(mow_table).where(mow_table.c.id.in_([2, 3])).values(sum=1))
            connection.execute(sa.update(lawn_table).where(lawn_table.c.name == "green").values(sum=1))
        assert check(book).problems == (
            "lawns, 'green': the row does not match its checksum",
            "mows, 2: the row does not match its checksum",
            "mows, 3: the row does not match its checksum",
        )
        with pytest.raises(
            LogbookError, match=r"is damaged: row 2 of the mows does not match its checksum; keep the"
        ):
            mow(book, 2)
        with pytest.raises(
            LogbookError, match=r"is damaged: row 'green' of the lawns does not match its checksum"
        ):
            lawns(book)
    report = salvage(whole, whole.with_name("new.sqlite"))
    assert report.notes == (
        "lawn 'green' was put together from the history",
        "mow 2 was put together from the history",
        "mow 3 was put together from the history",
    )
    with open_logbook(whole.with_name("new.sqlite")) as new:
        assert {number: mow(new, number) for number in (2, 3)} == truth
        assert check(new).problems == ()


def test_uploaded_bytes_of_a_lost_mow_are_written_beside_the_new_file(whole: Path) -> None:
    with open_logbook(whole) as book:
        data = bytes_of(book, 2)[0][1]
        with book.writing() as connection:
            connection.execute(sa.update(mow_table).where(mow_table.c.id == 2).values(sum=1))
            connection.exec_driver_sql("UPDATE changes SET sum = 1 WHERE subject = 'mow 2'")
    report = salvage(whole, whole.with_name("new.sqlite"))
    assert report.notes == (
        "mow 1.csv belonged to mow 2, which is lost",
        "an uploaded file whose mow is lost was written to new-loose-file-2",
    )
    assert whole.with_name("new-loose-file-2").read_bytes() == data
    with pytest.raises(InputError, match=r"new\.sqlite is there already; name a new file$"):
        salvage(whole, whole.with_name("new.sqlite"))
    with pytest.raises(InputError, match=r"none is not a file; name the damaged logbook$"):
        salvage(whole.with_name("none"), whole.with_name("newer.sqlite"))


def test_damaged_bytes_are_told_and_can_be_mended(book: Logbook) -> None:
    number = add_mow(book, [("a.csv", b"time,amps\n" * 90)], lawn="orchard").id
    with book.writing() as connection:
        connection.execute(sa.update(file_bytes).values(packed=b"BZh9nothing"))
    with pytest.raises(LogbookError) as caught:
        bytes_of(book, number)
    assert str(caught.value) == (
        f"{book.where}: the bytes of a.csv (mow 1) are damaged; "
        "restore a backup, or repair them with the same file (logbook repair)"
    )
    assert check(book).problems == ("mow 1: the bytes of a.csv do not match their checksum",)
    with pytest.raises(InputError, match=r"^b\.csv: belongs to no mow of the logbook; add it as a new mow$"):
        mend_bytes(book, "b.csv", b"else")
    assert mend_bytes(book, "renamed.csv", b"time,amps\n" * 90) == number
    assert bytes_of(book, number) == [("a.csv", b"time,amps\n" * 90)]
    assert check(book).problems == ()
    assert check(book).file_bytes == 900


def test_a_damaged_word_in_what_sqlite_complains_of_is_one_line(whole: Path) -> None:
    """A table's name in the list of tables is damaged: SQLite repeats it, though it is no longer text."""
    image = whole.read_bytes()
    at = image.index(b"CREATE TABLE lawns")
    whole.write_bytes(image[: at + 13] + b"\xc5(" + image[at + 15 :])
    with pytest.raises(LogbookError) as caught, open_logbook(whole) as book:
        _everything(book)
    assert "is damaged" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert salvage(whole, whole.with_name("new.sqlite")).mows == MOWS - 1
