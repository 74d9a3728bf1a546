"""Daily backups: when and where they are made, which stay, and what happens when they fail."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.errors import LogbookError
from estimator.logbook import Logbook, back_up_today, bytes_of, check, mows, open_logbook
from estimator.logbook.tables import file_bytes
from estimator.logbook.tables import mows as mow_table
from estimator.logbook.upkeep.rotating import SETTING, backups_of

ROWS = "time_s,current_a,voltage_v\n" + "".join(f"{s},{6 + s % 3},{53 - s / 400}\n" for s in range(300))


@pytest.fixture
def place(tmp_path: Path, describe_in: Callable[[str], None], monkeypatch: pytest.MonkeyPatch) -> Path:
    """A described logbook whose backups are not turned off."""
    monkeypatch.delenv(SETTING)
    describe_in(str(tmp_path / "logbook.sqlite"))
    return tmp_path / "logbook.sqlite"


def _add(book: Logbook, number: int) -> tuple[str, ...]:
    said = Circumstances("orchard", "new one", started=datetime(2025, 5, 1) + timedelta(days=number))
    return add_mow(book, [("a.csv", f"{ROWS}# {number}\n".encode())], said).notes


def test_a_day_on_which_a_mow_is_kept_has_a_backup_that_opens(place: Path) -> None:
    with open_logbook(place) as book:
        assert backups_of(book) == [], "none before there is anything to lose"
        assert not any("backup" in note for note in _add(book, 1))
        (kept,) = backups_of(book)
        assert kept == place.with_name("logbook-backups") / f"logbook.{date.today()}.sqlite"
        before = kept.stat().st_mtime_ns
        _add(book, 2)
        assert kept.stat().st_mtime_ns == before, "not again within the hour"
        os.utime(kept, (0, kept.stat().st_mtime - 4000))
        _add(book, 3)
        assert backups_of(book) == [kept]
    with open_logbook(kept) as backup:
        assert len(mows(backup)) == 3
        assert check(backup).problems == ()
    assert [path.name for path in kept.parent.iterdir()] == [kept.name]


def test_one_setting_tells_where_or_turns_them_off(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_logbook(place) as book:
        monkeypatch.setenv(SETTING, "off")
        assert back_up_today(book) == ()
        assert list(tmp_path.glob("**/*backup*")) == []
        monkeypatch.setenv(SETTING, str(tmp_path / "elsewhere"))
        assert back_up_today(book) == ()
        assert [path.parent.name for path in backups_of(book)] == ["elsewhere"]


def test_the_newest_and_the_last_of_each_month_stay(place: Path) -> None:
    with open_logbook(place) as book:
        for number in range(0, 300, 5):
            assert back_up_today(book, date(2025, 1, 1) + timedelta(days=number)) == ()
        kept = [path.stem.removeprefix("logbook.") for path in backups_of(book)]
    assert kept == [
        "2025-10-23", "2025-10-18", "2025-10-13", "2025-09-28", "2025-08-29", "2025-07-30", "2025-06-30",
        "2025-05-31",
    ]  # fmt: skip


def test_a_clock_set_back_does_not_cost_the_backup_of_the_day(place: Path) -> None:
    with open_logbook(place) as book:
        for day in (28, 29, 30, 31):
            back_up_today(book, date(2026, 12, day))
        _add(book, 1)
        back_up_today(book, date(2026, 12, 3))
        (todays,) = [path for path in backups_of(book) if path.stem.endswith("2026-12-03")]
        os.utime(todays, (0, todays.stat().st_mtime + 40_000))  # made while the clock was hours ahead
        _add(book, 2)
        back_up_today(book, date(2026, 12, 3))
    with open_logbook(todays) as backup:
        assert len(mows(backup)) == 2


def test_a_backup_that_fails_loses_no_mow_and_no_older_backup(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_logbook(place) as book:
        assert back_up_today(book, date(2025, 5, 1)) == ()
        older = backups_of(book)
        with monkeypatch.context() as patch:
            full = LogbookError("the disk has no room left", mend="free some space")
            patch.setattr("estimator.logbook.upkeep.rotating.copy_sqlite", lambda *_: _raise(full))
            notes = _add(book, 1)
        folder = place.with_name("logbook-backups")
        assert notes[-1] == (
            f"Today's backup in {folder} failed: the disk has no room left. The mow is kept all the same."
        )
        assert len(mows(book)) == 1
        with book.writing() as connection:
            connection.execute(sa.update(mow_table).values(sum=1))
        (said,) = back_up_today(book)
        assert "does not match its checksum" in said, "what cannot be listed is no backup"
        assert backups_of(book) == older
        assert sorted(folder.iterdir()) == older


@pytest.mark.parametrize("damage", [b"BZh9nothing", None])
def test_bytes_damaged_beyond_their_guard_come_back_out_of_a_backup(
    place: Path, damage: bytes | None
) -> None:
    with open_logbook(place) as book:
        _add(book, 1)
        truth = bytes_of(book, 1)
        backups_of(book)[0].with_name("logbook.2099-01-01.sqlite").write_bytes(b"damaged as well" * 100)
        with book.writing() as connection:
            if damage is None:
                connection.execute(sa.delete(file_bytes))
            else:
                connection.execute(sa.update(file_bytes).values(packed=damage))
        with pytest.raises(LogbookError, match="are damaged; restore a backup"):
            bytes_of(book, 1)
        found = check(book)
        assert found.mended == (
            "mow 1: the bytes of a.csv were damaged and are whole again, out of a backup",
        )
        assert found.problems == ()
        assert bytes_of(book, 1) == truth
        assert check(book).mended == ()


def _raise(error: Exception) -> None:
    raise error
