"""Mows that an earlier version kept are checked once; where a person takes the tag off, it stays off."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from estimator.answers.keeping.second_look import look_again
from estimator.descriptions import DOUBTFUL, Lawn, Pack
from estimator.importer.read import read_bytes
from estimator.logbook import (
    Logbook,
    add_mow,
    edit_mow,
    export,
    import_,
    keep_lawn,
    keep_pack,
    mow,
    mows,
    note,
    open_logbook,
    rename,
)
from estimator.logbook.tables import LOOK

SOUND, STUCK, THOUSANDTHS = 1, 2, 3
"""The mows of the logbook by number."""


def recorded(seed: int, times: float = 1, held_from: int = 900) -> bytes:
    """An invented mow of 20 minutes, a reading a second; from one reading on, amps stay the same."""
    random = np.random.default_rng(seed)
    k = np.arange(1200)
    load = 5 + 2.5 * np.sin(k / 7) + random.normal(0, 0.8, k.size)
    load = np.where((k < 60) | (k > 1150), 0.0, load)
    volts = 53.5 - 0.0015 * k - 0.12 * load + random.normal(0, 0.01, k.size)
    amps = np.where(k >= held_from, load[min(held_from, 1000)], load) * times
    rows = [f"{t},{i:.2f},{v:.2f}" for t, i, v in zip(k, amps, volts, strict=True)]
    return "\n".join(["time_s,current_a,voltage_v", *rows]).encode()


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """A logbook as an earlier version left it: a sound mow, one with a hung clamp, one of mA read as A."""
    with open_logbook(tmp_path / "own.sqlite") as found:
        keep_lawn(found, Lawn("apple rows", 420))
        keep_pack(found, Pack("nmc", 13, 10.0, 39.0, current_limit_a=30.0, name="crate"))
        kinds = (recorded(1, held_from=1200), recorded(2), recorded(3, times=1000, held_from=1200))
        for day, data in enumerate(kinds, start=1):
            add_mow(
                found, [("mow.csv", data)], lawn="apple rows", pack="crate", tags=("windy",),
                started=datetime(2025, 5, day, 9),
            )  # fmt: skip
        note(found, LOOK, "")
        yield found


def test_the_logs_are_what_they_are_called() -> None:
    assert not read_bytes([("mow.csv", recorded(1, held_from=1200))]).doubts
    assert read_bytes([("mow.csv", recorded(2))]).doubts


def test_what_an_earlier_version_kept_is_set_aside_where_it_is_doubtful(book: Logbook) -> None:
    assert [each.id for each in mows(book)] == [SOUND, STUCK, THOUSANDTHS]
    assert look_again(book) == (STUCK, THOUSANDTHS)
    assert [each.id for each in mows(book)] == [SOUND]
    assert mow(book, STUCK).tags == ("windy", DOUBTFUL)


def test_it_is_done_once(book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    look_again(book)
    edit_mow(book, STUCK, tags=("windy",))
    with monkeypatch.context() as patch:
        patch.setattr("estimator.logbook.log_of", lambda *_: pytest.fail("a log was read again"))
        assert look_again(book) == ()
    note(book, LOOK, "")  # a later version that doubts more
    assert look_again(book) == ()
    assert [each.id for each in mows(book)] == [SOUND, STUCK]


def test_a_logbook_made_today_is_not_looked_at_and_what_is_brought_into_it_is(
    book: Logbook, tmp_path: Path
) -> None:
    export(book, tmp_path / "folder")
    with open_logbook(tmp_path / "new.sqlite") as new:
        import_(new, tmp_path / "folder")
        rename(new, "pack", "crate", "green crate")
        assert look_again(new) == (STUCK, THOUSANDTHS)
    with open_logbook(tmp_path / "made today.sqlite") as made:
        keep_lawn(made, Lawn("apple rows", 420))
        add_mow(made, [("mow.csv", recorded(2))], lawn="apple rows", started=datetime(2025, 5, 1, 9))
        assert look_again(made) == ()


def test_a_command_says_once_what_was_set_aside(book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    from estimator.cli.books import asked_book

    asked_book(book.where).close()
    said = capsys.readouterr().err
    assert "mows 2, 3 were set aside as doubtful, once, after an update" in said
    assert "mowcharge mows --doubtful" in said
    asked_book(book.where).close()
    assert capsys.readouterr().err == ""
