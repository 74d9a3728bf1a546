"""The logbook's file is replaced, deleted or put back by hand while a program has it open."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.descriptions import Lawn
from estimator.errors import LogbookError
from estimator.logbook import add_mow, backup, check, keep_lawn, lawns, mows, open_logbook, restore

REPLACED = "{} was replaced or deleted meanwhile; what is there now is without this step; do it again"


@pytest.fixture
def small(tmp_path: Path, describe_in: Callable[[str], None]) -> Path:
    """A logbook with one mow, and a backup beside it."""
    path = tmp_path / "logbook.sqlite"
    describe_in(str(path))
    with open_logbook(path) as book:
        add_mow(book, [("first.csv", b"first")], lawn="orchard")
        backup(book, tmp_path / "backup.sqlite")
    return path


def _replace(path: Path) -> None:
    shutil.copy(path.with_name("backup.sqlite"), path.with_name("new"))
    path.with_name("new").replace(path)


def _delete(path: Path) -> None:
    path.unlink()


@pytest.mark.parametrize("change", [_replace, _delete])
def test_what_was_not_kept_in_the_file_that_is_there_is_not_said_to_be(
    small: Path, change: Callable[[Path], None]
) -> None:
    with open_logbook(small) as book:
        with pytest.raises(LogbookError) as caught, book.writing():
            keep_lawn(book, Lawn("lost", area_m2=1))
            change(small)
        assert str(caught.value) == REPLACED.format(small)
        if change is _delete:
            with pytest.raises(LogbookError, match=r"is not there any more; put it, or a backup of it, back"):
                mows(book)
            _replace(small)
        keep_lawn(book, Lawn("kept", area_m2=1))
    with open_logbook(small) as book:
        assert {lawn.name for lawn in lawns(book)} == {"green", "kept", "orchard"}
        assert check(book).problems == ()


def test_a_file_replaced_after_the_commit_is_told_before_anything_is_acknowledged(small: Path) -> None:
    with open_logbook(small) as book:
        add_mow(book, [("second.csv", b"second")], lawn="orchard")
        _replace(small)
        with pytest.raises(LogbookError) as caught:
            book.settle()
        assert str(caught.value) == REPLACED.format(small)
        assert [mow.files[0].name for mow in mows(book)] == ["first.csv"]


def test_what_is_settled_stands_in_the_file_itself(small: Path) -> None:
    with open_logbook(small) as book:
        add_mow(book, [("second.csv", b"second")], lawn="orchard")
        book.settle()
        shutil.copy(small, small.with_name("copied.sqlite"))  # the file alone, without what stands beside it
    with open_logbook(small.with_name("copied.sqlite")) as copied:
        assert len(mows(copied)) == 2
        assert check(copied).problems == ()


def test_who_still_reads_does_not_hold_up_the_settling(small: Path) -> None:
    with open_logbook(small) as book, open_logbook(small) as other, other.reading():
        assert len(mows(other)) == 1
        add_mow(book, [("second.csv", b"second")], lawn="orchard")
        book.settle()
        assert len(mows(other)) == 1
    with open_logbook(small) as book:
        assert len(mows(book)) == 2


def test_another_file_in_its_place_is_looked_at_as_on_opening(
    small: Path, make_old: Callable[..., None]
) -> None:
    old = small.with_name("old.sqlite")
    make_old(str(old))
    with open_logbook(small) as book:
        old.replace(small)
        assert [mow.pack for mow in mows(book)] == ["old one"]
        assert len(list(small.parent.glob("logbook.version-2.*.sqlite"))) == 1
        book.close()
        small.with_name("text").write_text("no logbook " * 100, encoding="utf-8")
        small.with_name("text").replace(small)
        for _ in range(2):
            with pytest.raises(LogbookError, match="is damaged or is not a logbook"):
                mows(book)


def test_a_closed_logbook_opens_again_what_was_copied_over_it(small: Path) -> None:
    """The page closes its logbook between requests; `cp` writes into the same file."""
    with open_logbook(small) as book:
        add_mow(book, [("second.csv", b"second")], lawn="orchard")
        assert len(mows(book)) == 2
        book.close()
        assert sorted(path.name for path in small.parent.iterdir()) == ["backup.sqlite", "logbook.sqlite"]
        shutil.copy(small.with_name("backup.sqlite"), small)
        assert len(mows(book)) == 1
        add_mow(book, [("third.csv", b"third")], lawn="orchard")
    with open_logbook(small) as book:
        assert [mow.files[0].name for mow in mows(book)] == ["first.csv", "third.csv"]
        assert check(book).problems == ()


@pytest.mark.parametrize("put", ["a new one", "a backup"])
def test_what_sqlite_left_beside_a_deleted_logbook_never_gets_into_the_next_one(
    small: Path, put: str
) -> None:
    with open_logbook(small) as book:
        for name in ("one", "two"):
            keep_lawn(book, Lawn(name, area_m2=2))
        for ending in ("-wal", "-shm"):  # as after a crash: the write-ahead file stays
            shutil.copy(small.with_name(small.name + ending), small.with_name("crashed" + ending))
    small.unlink()
    for ending in ("-wal", "-shm"):
        small.with_name("crashed" + ending).replace(small.with_name(small.name + ending))
    if put == "a backup":
        restore(small.with_name("backup.sqlite"), small)
    with open_logbook(small) as book:
        keep_lawn(book, Lawn("new", area_m2=1))
        found = {lawn.name for lawn in lawns(book)}
        assert found == ({"new"} if put == "a new one" else {"green", "new", "orchard"})
        assert check(book).problems == ()
    assert small.with_name(small.name + "-wal.left-over").stat().st_size > 0
