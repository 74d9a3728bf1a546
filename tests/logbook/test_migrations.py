"""Older logbooks are backed up and brought forward; newer ones are refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from estimator.descriptions import Grass, Lawn, Machine
from estimator.errors import LogbookError
from estimator.logbook import (
    add_mow,
    bytes_of,
    check,
    derived_of,
    edit_mow,
    events_of,
    history,
    keep_event,
    lawns,
    machine,
    meter,
    mow,
    mows,
    open_logbook,
    pack,
)


def test_everything_of_version_2_is_there_in_the_present_version(version_2: str) -> None:
    with open_logbook(version_2) as book:
        assert check(book).problems == ()
        assert lawns(book) == (Lawn("green", 260), Lawn("orchard", 420))
        assert pack(book, "old one").chemistry == "lfp"
        assert machine(book, "cylinder mower") == Machine(
            "cylinder mower", 0.43, blade_care=(date(2024, 4, 1),)
        )
        assert meter(book, "clamp") == {"current_gain": 0.02}
        first = mow(book, 1)
        assert (first.lawn, first.grass, first.tags) == ("orchard", Grass("damp", 25.0), ("blunt",))
        assert first.temperature_c is None
        assert [found.id for found in mows(book)] == [1]
        assert [found.id for found in mows(book, removed=True)] == [2]
        assert mow(book, 2).grass == Grass()
        assert bytes_of(book, 1)[0][1].startswith(b"time_s,current_a,voltage_v\n0,8.0,39.50\n")
        assert [name for name, _ in bytes_of(book, 2)] == ["ampères.csv", "volts.csv"]
        assert [change.what for change in history(book, 1)] == ["added", "edited"]
        assert derived_of(book, 1, "features", 1) == {"energy_wh": 70.5}
        assert events_of(book) == ()


def test_a_migrated_logbook_goes_on_as_a_new_one_does(version_2: str) -> None:
    with open_logbook(version_2) as book:
        assert add_mow(book, [("june.csv", b"new")], lawn="green", temperature_c=21).id == 3
        assert edit_mow(book, 1, grass=Grass("wet")).grass == Grass("wet")
        keep_event(book, "2024-06-01", "blade care", machine="cylinder mower")
        assert check(book).problems == ()
    with open_logbook(version_2) as book:
        assert mow(book, 3).temperature_c == 21


def test_a_migrated_logbook_has_the_columns_of_a_new_one(version_2: str, tmp_path: Path) -> None:
    def columns(engine: sa.Engine) -> dict[str, list[tuple[str, bool]]]:
        inspector = sa.inspect(engine)
        return {
            table: [(column["name"], bool(column["nullable"])) for column in inspector.get_columns(table)]
            for table in inspector.get_table_names()
        }

    with open_logbook(version_2) as old, open_logbook(tmp_path / "new.sqlite") as new:
        found, wanted = columns(old.engine), columns(new.engine)
        assert {table: found[table] for table in wanted} == wanted


def test_the_older_file_is_backed_up_as_it_was(tmp_path: Path, make_old: object) -> None:
    path = tmp_path / "club.sqlite"
    make_old(str(path))  # type: ignore[operator]
    open_logbook(path).close()
    (kept,) = tmp_path.glob("club.version-2.*.sqlite")
    with closing(sqlite3.connect(kept)) as old:
        assert old.execute("SELECT value FROM about WHERE name = 'schema'").fetchone() == ("2",)
        assert [row[1] for row in old.execute("PRAGMA table_info(file_bytes)")] == ["file_id", "packed"]
    assert {found.name for found in tmp_path.iterdir()} == {"club.sqlite", kept.name}


def test_the_older_tables_are_kept_on_postgresql_too(postgres_url: str, make_old: object) -> None:
    make_old(postgres_url)  # type: ignore[operator]
    with open_logbook(postgres_url) as book, book.reading() as connection:
        (schema,) = [
            name
            for name in sa.inspect(connection).get_schema_names()
            if name.startswith("mowcharge_version_2_")
        ]
        assert connection.exec_driver_sql(f"SELECT count(packed) FROM {schema}.file_bytes").scalar() == 3


def test_a_failing_migration_leaves_the_older_logbook_as_it_was(
    version_2: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from estimator.logbook import migrations

    def fails(connection: sa.Connection) -> None:
        whole(connection)
        raise LogbookError("power cut")

    whole = migrations.STEPS[2]
    monkeypatch.setitem(migrations.STEPS, 2, fails)
    with pytest.raises(LogbookError, match="power cut"):
        open_logbook(version_2)
    monkeypatch.undo()
    with open_logbook(version_2) as book:
        assert [found.id for found in mows(book)] == [1]


def test_a_newer_logbook_is_refused(book: object, place: str) -> None:
    from estimator.logbook.tables import about

    with book.writing() as connection:  # type: ignore[attr-defined]
        connection.execute(sa.update(about).values(value="4"))
    with pytest.raises(LogbookError) as caught:
        open_logbook(place)
    assert str(caught.value).endswith(
        "is of a newer mowcharge (schema 4; this one knows 3); update mowcharge"
    )
    assert caught.value.exit_code == 3


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("0", "has a schema 0 that never existed; restore a backup"),
        ("1", "has a schema 1 that never existed; restore a backup"),
        ("²", "does not say its schema version; restore a backup, or salvage it"),
        ("9" * 5000, "does not say its schema version; restore a backup, or salvage it"),
    ],
)
def test_a_schema_that_never_was_is_refused_and_nothing_is_copied(
    tmp_path: Path, said: str, line: str
) -> None:
    from estimator.logbook.tables import about

    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as book, book.writing() as connection:
        connection.execute(sa.update(about).values(value=said))
    with pytest.raises(LogbookError) as caught:
        open_logbook(path)
    assert str(caught.value) == f"{path} {line}"
    assert [found.name for found in tmp_path.iterdir()] == ["logbook.sqlite"]
