"""Renaming: mows, events and history follow the new name; nothing is worked out again."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.logbook import (
    Logbook,
    add_mow,
    check,
    derived_of,
    events_of,
    export,
    fingerprint,
    history,
    import_,
    keep_derived,
    keep_event,
    keep_lawn,
    keep_meter,
    lawn,
    lawns,
    machine,
    meter,
    mow,
    mows,
    open_logbook,
    pack,
    remove_mow,
    rename,
    salvage,
)
from estimator.logbook.tables import lawns as lawn_table
from estimator.logbook.tables import mows as mow_table


@pytest.fixture
def used(book: Logbook) -> Logbook:
    """Three mows of one lawn, pack and machine, one of them removed, and a day of care."""
    for number in range(3):
        add_mow(
            book,
            [(f"{number}.csv", b"%d" % number)],
            lawn="orchard",
            pack="new one",
            machine="cylinder mower",
            started=datetime(2025, 5, 1 + number),
            derived={"features": (1, number)},
        )
    add_mow(book, [("other.csv", b"other")], lawn="green", pack="old one")
    remove_mow(book, 3)
    keep_event(book, "2025-05-01", "blade care", "sharpened", "cylinder mower")
    keep_meter(book, "clamp", {"current_gain": 0.02})
    return book


def test_everything_goes_with_the_new_name(used: Logbook, place: str, tmp_path: Path) -> None:
    keep_derived(used, "pack new one", "fit", 1, 5)
    assert rename(used, "lawn", "orchard", " apple  rows ") == "apple rows"
    rename(used, "pack", "new one", "green crate")
    rename(used, "machine", "cylinder mower", "reel mower")
    rename(used, "meter", "clamp", "shed clamp")
    with open_logbook(place) as again:
        assert lawn(again, "apple rows") == Lawn("apple rows", 420)
        assert [each.name for each in lawns(again)] == ["apple rows", "green"]
        assert pack(again, "green crate").name == "green crate"
        assert machine(again, "reel mower").cutting_width_m == 0.43
        assert meter(again, "shed clamp") == {"current_gain": 0.02}
        assert {(each.lawn, each.pack, each.machine) for each in mows(again, lawn="apple rows")} == {
            ("apple rows", "green crate", "reel mower")
        }
        assert mow(again, 3).lawn == "apple rows"
        assert mow(again, 4).lawn == "green"
        assert [each.machine for each in events_of(again)] == ["reel mower"]
        assert derived_of(again, 1, "features", 1) == 0
        assert derived_of(again, "pack new one", "fit", 1) is None
        assert check(again).problems == ()
        export(again, tmp_path / "out")
        with open_logbook(tmp_path / "copy.sqlite") as copy:
            import_(copy, tmp_path / "out")
            assert fingerprint(copy) == fingerprint(again)


def test_the_history_goes_on_under_the_new_name(used: Logbook) -> None:
    keep_lawn(used, Lawn("orchard", 430))
    rename(used, "lawn", "orchard", "apple rows")
    keep_lawn(used, Lawn("orchard", 99))
    keep_lawn(used, Lawn("apple rows", 440))
    rename(used, "lawn", "apple rows", "old rows")
    assert [each.what for each in history(used, "lawn old rows")] == [
        "described", "changed", "renamed", "changed", "renamed",
    ]  # fmt: skip
    areas = [each.after and each.after["area_m2"] for each in history(used, "lawn old rows")]
    assert areas == [420, 430, 430, 440, 440]
    assert history(used, "lawn old rows")[2].before == {"name": "orchard", "area_m2": 430}


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("lawn", "orchrad", "x"), "lawn 'orchrad' is not in the logbook; did you mean 'orchard'?"),
        (("lawn", "orchard", "green"), "lawn 'green' is in the logbook already; choose another name"),
        (
            ("lawn", "orchard", "Green"),
            "lawn 'Green' differs from 'green' in capitals only; write 'green', or another name",
        ),
        (("pack", "new one", " "), "a pack has no name; give it one"),
        (
            ("pack", "new one", "a\nb"),
            "pack 'a\\nb' holds a character that is not seen; write its name again",
        ),
    ],
)
def test_a_name_that_cannot_be_given_changes_nothing(
    used: Logbook, words: tuple[str, str, str], line: str
) -> None:
    before = fingerprint(used)
    with pytest.raises(InputError) as caught:
        rename(used, *words)
    assert str(caught.value) == line
    assert fingerprint(used) == before


def test_capitals_may_be_changed_and_the_same_name_changes_nothing(used: Logbook) -> None:
    assert rename(used, "lawn", "orchard", "Orchard") == "Orchard"
    before = fingerprint(used)
    rename(used, "lawn", "Orchard", "Orchard")
    assert fingerprint(used) == before


def test_rows_lost_after_a_renaming_come_back_under_the_new_name(tmp_path: Path, describe_in: Any) -> None:
    place = tmp_path / "logbook.sqlite"
    describe_in(str(place))
    with open_logbook(place) as book:
        add_mow(book, [("a.csv", b"a")], lawn="orchard")
        add_mow(book, [("b.csv", b"b")], lawn="green")
        rename(book, "lawn", "orchard", "apple rows")
        with book.writing() as connection:
            connection.execute(mow_table.update().where(mow_table.c.id == 1).values(sum=1))
            connection.execute(lawn_table.update().where(lawn_table.c.name == "apple rows").values(sum=1))
    salvage(place, tmp_path / "new.sqlite")
    with open_logbook(tmp_path / "new.sqlite") as saved:
        assert mow(saved, 1).lawn == "apple rows"
        assert [each.name for each in lawns(saved)] == ["apple rows", "green"]
