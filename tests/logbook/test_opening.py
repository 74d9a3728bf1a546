"""Where the logbook is, and what is refused in one line."""

from __future__ import annotations

import sqlite3
import threading
import time
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from estimator.errors import LogbookError
from estimator.logbook import backup, default_place, is_there, lawns, open_logbook, restore, salvage
from estimator.logbook.sqlite_file import BUSY_S


def test_the_environment_names_the_logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(tmp_path / "from the environment %20?#.sqlite"))
    with open_logbook() as book:
        assert book.where == default_place() == str(tmp_path / "from the environment %20?#.sqlite")
    assert (tmp_path / "from the environment %20?#.sqlite").is_file()


def test_else_it_is_in_the_users_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MOWCHARGE_LOGBOOK", raising=False)
    monkeypatch.setattr("platformdirs.user_data_dir", lambda name, appauthor: str(tmp_path / name))
    with open_logbook() as book:
        assert book.path == tmp_path / "mowcharge" / "logbook.sqlite"


def test_a_logbook_that_is_only_read_is_not_made(tmp_path: Path) -> None:
    place = tmp_path / "folder" / "logbook.sqlite"
    with pytest.raises(LogbookError) as caught:
        open_logbook(place, make=False)
    assert str(caught.value) == (
        f"there is no logbook at {place}; check the path, or begin one there with `mowcharge describe`"
    )
    assert not place.parent.exists()
    open_logbook(place).close()
    open_logbook(place, make=False).close()


def test_an_empty_database_that_is_only_read_stays_empty(postgres_url: str) -> None:
    for _ in range(2):
        with pytest.raises(LogbookError, match=r"^there is no logbook at postgresql://gardener@127"):
            open_logbook(postgres_url, make=False)
    open_logbook(postgres_url).close()
    open_logbook(postgres_url, make=False).close()


def test_a_new_logbook_is_one_file_in_wal_mode_with_foreign_keys(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite") as book, book.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
    assert [path.name for path in tmp_path.iterdir()] == ["logbook.sqlite"]


def _text(path: Path) -> None:
    path.write_text("time,amps\n" * 100, encoding="utf-8")


def _empty(path: Path) -> None:
    path.touch()


def _folder(path: Path) -> None:
    path.mkdir()


def _foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE t (a)")


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (_text, "{} is damaged or is not a logbook; give another path, or restore a backup"),
        (
            _empty,
            "{} is empty (0 bytes), so what it held is lost; restore a backup, or delete it to start afresh",
        ),
        (_folder, "{} is a folder; name a file in it"),
        (_foreign, "{} is not a logbook but a file of another program; give another path"),
    ],
)
def test_what_is_no_logbook_is_refused_in_one_line(tmp_path: Path, make: object, line: str) -> None:
    path = tmp_path / "logbook.sqlite"
    make(path)  # type: ignore[operator]
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(LogbookError) as caught:
        open_logbook(path)
    assert str(caught.value) == line.format(path)
    assert (path.read_bytes() if path.is_file() else b"") == before


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (
            "mysql://host/name",
            "mysql:// is not a logbook that can be opened; give a path or a postgresql:// URL",
        ),
        ("postgresql://host:port/x", "the PostgreSQL URL cannot be read; write postgresql://user@host/name"),
    ],
)
def test_other_urls_are_refused(place: str, line: str) -> None:
    with pytest.raises(LogbookError) as caught:
        open_logbook(place)
    assert str(caught.value) == line


def test_without_psycopg_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("estimator.logbook.opening.find_spec", lambda _name: None)
    with pytest.raises(
        LogbookError, match=r"^psycopg is missing, which PostgreSQL needs; pip install 'mowcharge"
    ):
        open_logbook("postgresql://host/name")


def test_a_database_of_another_program_is_refused(postgres_url: str) -> None:
    import psycopg

    with psycopg.connect(postgres_url, autocommit=True) as connection:
        connection.execute("CREATE TABLE files (id int)")
    with pytest.raises(
        LogbookError, match=r"holds 'files' of another program; give the logbook its own database$"
    ):
        open_logbook(postgres_url)


def test_a_writer_that_waits_too_long_is_told_so(
    tmp_path: Path, describe_in: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    from estimator.descriptions import Lawn
    from estimator.logbook import keep_lawn

    path = tmp_path / "logbook.sqlite"
    describe_in(str(path))  # type: ignore[operator]
    monkeypatch.setattr("estimator.logbook.sqlite_file.BUSY_S", 0.05)
    with open_logbook(path) as one, open_logbook(path) as other, one.writing():
        with pytest.raises(LogbookError) as caught:
            keep_lawn(other, Lawn("new", 5))
        assert (
            str(caught.value) == f"{path} is held by another program that is writing; try again in a minute"
        )
        assert len(lawns(other)) == 2


def test_who_finds_all_connections_taken_waits_as_long_as_a_writer(tmp_path: Path, postgres_url: str) -> None:
    for place in (str(tmp_path / "logbook.sqlite"), postgres_url):
        with open_logbook(place) as book:
            assert isinstance(book.engine.pool, sa.QueuePool)
            assert book.engine.pool.timeout() == BUSY_S == 60


def test_more_readers_than_connections_are_told_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr("estimator.logbook.sqlite_file.BUSY_S", 0.05)
    with open_logbook(path) as book, ExitStack() as taken:
        for _ in range(32):
            taken.enter_context(book.engine.connect())
        with pytest.raises(LogbookError) as caught:
            lawns(book)
        assert str(caught.value) == f"{path} gets too many requests at once; try again in a minute"
        taken.close()
        assert lawns(book) == ()


def test_a_copy_waits_for_who_holds_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as book, closing(sqlite3.connect(path, check_same_thread=False)) as other:
        book.engine.dispose()
        other.execute("PRAGMA locking_mode=EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        monkeypatch.setattr("estimator.logbook.sqlite_file.BUSY_S", 0.05)
        began = time.perf_counter()
        with pytest.raises(LogbookError) as caught:
            backup(book, tmp_path / "copy.sqlite")
        assert (
            str(caught.value) == f"{path} is held by another program that is writing; try again in a minute"
        )
        assert time.perf_counter() - began < 4, "5 s would be the driver's own wait"
        monkeypatch.setattr("estimator.logbook.sqlite_file.BUSY_S", BUSY_S)
        timer = threading.Timer(0.3, other.close)
        timer.start()
        backup(book, tmp_path / "copy.sqlite")
        timer.join()


def test_a_folder_that_may_not_be_searched_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The superuser may search every folder, so the error that others meet is planted."""

    def refuse(_path: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.exists", refuse)
    for look in (is_there, open_logbook, lambda path: salvage(path, tmp_path / "new"), restore):
        with pytest.raises(LogbookError) as caught:
            look(tmp_path / "shut" / "logbook.sqlite")
        assert str(caught.value) == (
            f"{tmp_path / 'shut' / 'logbook.sqlite'} cannot be looked for (Permission denied); "
            "check its name and the permissions of its folders"
        )
