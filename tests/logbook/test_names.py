"""Names as people write them: composed or not, with blanks, capitals, characters that no list can show."""

from __future__ import annotations

import unicodedata

import pytest

from estimator.descriptions import Lawn, Machine
from estimator.errors import InputError
from estimator.logbook import (
    add_mow,
    edit_mow,
    events_of,
    keep_event,
    keep_lawn,
    keep_machine,
    lawn,
    lawns,
    mow,
    mows,
    open_logbook,
    salvage,
)


@pytest.fixture
def book(tmp_path):
    with open_logbook(tmp_path / "logbook.sqlite") as opened:
        yield opened


COMPOSED, APART = (unicodedata.normalize(form, "caf\u00e9 garden") for form in ("NFC", "NFD"))


def test_one_lawn_however_its_accents_and_blanks_are_written(book) -> None:
    keep_lawn(book, Lawn(COMPOSED, area_m2=100))
    keep_lawn(book, Lawn(f"  {APART.replace(' ', '  ')} ", area_m2=200))
    assert [each.area_m2 for each in lawns(book)] == [200]
    assert lawn(book, APART).name == COMPOSED
    kept = add_mow(book, [("a.csv", b"a")], lawn=APART)
    assert kept.lawn == COMPOSED
    assert [each.id for each in mows(book, lawn=f" {APART}")] == [kept.id]
    assert edit_mow(book, kept.id, lawn=APART).lawn == COMPOSED


def test_capitals_alone_make_no_second_lawn(book) -> None:
    keep_lawn(book, Lawn("Orchard", area_m2=100))
    with pytest.raises(InputError) as refused:
        keep_lawn(book, Lawn("orchard", area_m2=200))
    assert str(refused.value) == (
        "lawn 'orchard' differs from 'Orchard' in capitals only; write 'Orchard', or another name"
    )
    keep_lawn(book, Lawn("Orchard", area_m2=300))
    assert [each.area_m2 for each in lawns(book)] == [300]


@pytest.mark.parametrize(
    "name", ["two\nlines", "a\ttab", "red \x1b[31m", "turned \u202e round", "a\u200bb", "line\u2028end"]
)
def test_characters_that_no_list_shows_are_refused(book, name) -> None:
    with pytest.raises(InputError, match=r"holds a character that is not seen; write its name again"):
        keep_lawn(book, Lawn(name, area_m2=100))
    assert lawns(book) == ()


@pytest.mark.parametrize("name", ["../x", "=cmd()", "<script>", "\U0001f333\u200d\U0001f34f", "-", "a" * 100])
def test_odd_names_that_can_be_shown_are_kept(book, name) -> None:
    keep_lawn(book, Lawn(name, area_m2=100))
    assert lawn(book, name).name == name


def test_tags_are_trimmed_and_empty_ones_left_out(book) -> None:
    keep_lawn(book, Lawn("orchard", area_m2=100))
    assert add_mow(book, [("a.csv", b"a")], lawn="orchard", tags=["", " new  reel", "new reel"]).tags == (
        "new reel",
    )


def test_events_know_a_machine_however_it_is_written(book) -> None:
    keep_machine(book, Machine(COMPOSED))
    keep_event(book, "2025-05-01", "blade care", "sharpened", machine=APART)
    assert [each.machine for each in events_of(book)] == [COMPOSED]


@pytest.mark.parametrize("number", [0, -1, 10**30, -(10**30)])
def test_a_number_of_no_mow_is_said(book, number) -> None:
    with pytest.raises(InputError, match=f"mow {number} is not in the logbook; none is kept yet"):
        mow(book, number)


def test_a_file_that_never_was_a_logbook_is_not_salvaged(tmp_path) -> None:
    other = tmp_path / "mow.csv"
    other.write_text("time_s,current_a,voltage_v\n0,1,50\n" * 500)
    with pytest.raises(InputError, match=r"mow.csv: nothing of a logbook is left in it; restore a backup"):
        salvage(other, tmp_path / "new.sqlite")
    assert not (tmp_path / "new.sqlite").exists()
