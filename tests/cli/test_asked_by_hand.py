"""Hand readings asked for on a terminal: a slip repeats one question, and all is shown before it is kept."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest
import typer

from estimator import cli
from estimator.amounts import HAND_READINGS
from estimator.importer.log import SpotNotes
from estimator.logbook import log_of, mow, mows, open_logbook

STOP = "Ctrl-C"
NOTHING = ("", "", "", "", "")
"""Blank answers for start, charge, grass and height, and for the minutes."""
Dialogue = Callable[..., tuple[int, str, list[str]]]


@pytest.fixture
def dialogue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Dialogue:
    """A function that runs `by-hand` with answers in turn; returns exit code, what was printed and asked."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", "logbook.sqlite")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    pack = ("--chemistry", "LiFePO4", "--series", "16", "--capacity-ah", "20")
    assert cli._run(["describe", "lawn", "Orchard", "--area", "20 x 35 m"]) == 0
    assert cli._run(["describe", "pack", "crate", *pack]) == 0
    capsys.readouterr()

    def run(answers: tuple[str, ...], *words: str) -> tuple[int, str, list[str]]:
        asked: list[str] = []
        left = iter(answers)

        def answer(question: str, default: str = "", **_: object) -> str:
            asked.append(question)
            text = next(left)
            if text == STOP:
                raise typer.Abort
            return text or default

        monkeypatch.setattr("typer.prompt", answer)
        code = cli._run(["by-hand", *words])
        assert list(left) == [], "every answer was asked for"
        said = capsys.readouterr()
        return code, said.out + said.err, asked

    return run


FULL = ("12 Sep 2025 9:30", "100", "damp-ish", "25", "25 min", "17", "4", "31", "", "54,2", "50.4", "52.9")


def test_from_mower_to_answer(dialogue: Dialogue) -> None:
    code, said, asked = dialogue((*FULL, ""))
    assert code == 0 and "Mow 1 on Orchard kept." in said
    assert "Lawn: Orchard\nPack: crate\nPress Enter where you do not know." in said, "the only ones are taken"
    assert asked[-1] == (
        "Orchard, pack crate, 2025-09-12 09:30, from 100 %, damp, 25 mm off, 25 min, typical 17, idle 4, "
        "highest 31 A, "
        "54.2 to 52.9 V, 50.4 V cutting: keep it? [Y/n, or what to change, such as minutes]"
    )
    with open_logbook("logbook.sqlite") as book:
        kept, spot = mow(book, 1), log_of(book, 1).spot
    assert (kept.lawn, kept.grass.moisture, kept.grass.growth_mm, kept.start_charge) == (
        "Orchard",
        "damp",
        25,
        1,
    )
    assert str(kept.started) == "2025-09-12 09:30:00"
    assert spot == SpotNotes(
        typical_a=17, idle_a=4, highest_a=31, minutes=25, rest_before_v=54.2, load_v=50.4, rest_after_v=52.9
    )


@pytest.mark.parametrize(
    ("place", "slip", "reason"),
    [
        (0, "someday", "date 'someday' cannot be read"),
        (0, "2199-01-01", "start of the mow is 2199-01-01, which is in the future; check the year"),
        (1, "120", "start charge is 120 %; give 0 to 100 %"),
        (2, "drry", "grass moisture 'drry' is not known; did you mean dry?"),
        (3, "-5", "grass: growth is -5 mm; give 0 to 5000 mm"),
        (4, "some", "minutes of mowing is 'some'; give a number [min]"),
        (5, "seventeen", "typical current is 'seventeen'; give a number [A]"),
        (5, "17 V", "typical current is '17 V': unit 'v' is not known; use one of A, mA"),
        (6, "18", "idle amps of 18 are above typical amps of 17; correct one, or swap them"),
        (7, "12", "typical amps of 17 are above highest amps of 12; correct one, or swap them"),
        (9, "5400", "volts at rest before are 5400; give a number up to 1000"),
    ],
)
def test_a_slip_asks_that_one_again_and_loses_nothing(
    dialogue: Dialogue, place: int, slip: str, reason: str
) -> None:
    code, said, asked = dialogue((*FULL[:place], slip, *FULL[place:], "n"))
    assert code == 0 and f"  {reason}" in said and "Nothing was kept." in said
    assert asked[place] == asked[place + 1] and len(asked) == len(FULL) + 2
    assert asked[-1].startswith(
        "Orchard, pack crate, 2025-09-12 09:30, from 100 %, damp, 25 mm off, 25 min, typical 17, idle 4"
    )


def test_what_no_mow_can_do_without_is_asked_again(dialogue: Dialogue) -> None:
    blanks = ("",) * len(FULL)
    code, said, asked = dialogue((*blanks, "", "16.5", "22", "n"))
    assert code == 0 and "  typical amps are missing (or mean, or volts at rest after)" in said
    assert "  the minutes of mowing are missing" in said
    assert asked[-1].startswith("Orchard, pack crate, 22 min, mean 16.5 A: keep it?")
    code, said, asked = dialogue((*blanks, "16.5", "22", "n"))
    assert asked[-1].startswith("Orchard, pack crate, 22 min, typical 16.5 A: keep it?")
    code, said, asked = dialogue((*blanks, "", "", "22", "52.9", "n"))
    assert asked[-1].startswith("Orchard, pack crate, 22 min, 52.9 V: keep it?")


@pytest.mark.parametrize(
    ("answers", "line"),
    [
        (
            ("",) * 4,
            "no typical amps are given; give --typical-a or --mean-a, or --minutes with --rest-after-v",
        ),
        (("16.5", "", ""), "the minutes are not given; give --minutes, or --rest-after-v"),
    ],
)
def test_who_knows_neither_that_nor_another_way_is_not_asked_for_ever(
    dialogue: Dialogue, answers: tuple[str, ...], line: str
) -> None:
    code, said, _ = dialogue((*("",) * len(FULL), *answers))
    assert code == 2 and said.endswith(f"{line}\n")
    with open_logbook("logbook.sqlite") as book:
        assert mows(book) == []


def test_who_has_no_watch_is_asked_for_volts_instead(dialogue: Dialogue) -> None:
    blanks = ("",) * len(FULL)
    code, said, asked = dialogue((*blanks, "16.5", "", "52.9", "n"))
    assert code == 0 and "  without them, volts at rest after it say how long it took" in said
    assert asked[-1].startswith("Orchard, pack crate, minutes unknown, typical 16.5 A, 52.9 V: keep it?")


def test_one_answer_is_changed_at_the_end(dialogue: Dialogue) -> None:
    code, said, asked = dialogue((*FULL, "minuts", "26", "furlongs", "grass", "wet", "n"))
    assert (
        asked[-2].startswith("Grass: dry (leaves no mark on a shoe)")
        and "  answer y, n, or one of began," in said
    )
    assert "from 100 %, wet, 25 mm off, 26 min" in asked[-1] and code == 0
    with open_logbook("logbook.sqlite") as book:
        assert mows(book) == []


def test_what_the_pack_can_hardly_do_is_said_before_it_is_kept(dialogue: Dialogue) -> None:
    volts = (*FULL[:9], "27.1", "50.4", "52.9")
    code, said, asked = dialogue((*volts, "before", "54.2", "n"))
    line = "Volts at rest before are 27.1, below the cut-off of 40 V at which crate stops: check them."
    assert code == 0 and " ".join(said.split()).count(line) == 1
    assert "27.1 to 52.9 V" in asked[-3] and "54.2 to 52.9 V" in asked[-1]


def test_what_no_pack_can_do_is_mended_at_the_end(
    dialogue: Dialogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    from estimator.answers.keeping import keep
    from estimator.errors import InputError

    tried = []

    def refuse_once(book: object, files: object, said: object) -> object:
        tried.append(said)
        if len(tried) == 1:
            raise InputError("this was no mow", mend="look again")
        return real(book, files, said)  # type: ignore[arg-type]

    real = keep.look_at_mow
    monkeypatch.setattr(keep, "look_at_mow", refuse_once)
    code, said, asked = dialogue((*FULL, "y", "minutes", "26", "y"), "--dry-run")
    assert code == 0 and "  this was no mow; look again\n" in said and "looked at; nothing kept" in said
    assert "26 min" in asked[-1] and "look at it? [Y/n" in asked[-1]


@pytest.mark.parametrize("place", [0, 5, 12])
def test_stopping_keeps_nothing_and_says_so(dialogue: Dialogue, place: int) -> None:
    code, said, _ = dialogue((*(*FULL, STOP)[:place], STOP))
    assert code == 1 and said.endswith("Nothing was kept.\nmowcharge: stopped\n")
    with open_logbook("logbook.sqlite") as book:
        assert mows(book) == []


def test_one_of_several_lawns_by_number_or_beginning(dialogue: Dialogue) -> None:
    assert cli._run(["describe", "lawn", "Verge", "--area", "90"]) == 0
    for word, lawn in (("2", "Verge"), ("or", "Orchard"), ("VERGE", "Verge")):
        code, _, asked = dialogue((word, *FULL, "n"))
        assert (
            code == 0 and asked[0] == "Which lawn: 1 Orchard, 2 Verge" and asked[-1].startswith(f"{lawn}, ")
        )
    code, said, asked = dialogue(("", "vergr", "Verge", *FULL, "n"))
    assert code == 0 and "  lawn 'vergr' is not known; did you mean Verge?" in said
    assert asked[0] == asked[1] == asked[2]


def test_what_is_given_is_not_asked(dialogue: Dialogue) -> None:
    words = ("--moisture", "wet", "--start-charge", "100", "--days-since-cut", "9", "--started", "2025-05-01")
    _, _, asked = dialogue((*FULL[4:], "n"), *words)
    assert asked[0] == "Minutes of mowing"
    assert asked[-1].startswith(
        "Orchard, pack crate, 2025-05-01 00:00, from 100 %, wet, 9 days after the last cut, 25 min"
    )


def test_every_hand_reading_has_its_name_once() -> None:
    assert {each.name for each in fields(SpotNotes)} == set(HAND_READINGS)


def test_a_share_typed_as_the_charge_is_asked_again(dialogue: Dialogue) -> None:
    answers = ("12 Sep 2025 9:30", "0.8", "80", *FULL[2:])
    code, said, _ = dialogue((*answers, ""))
    assert code == 0 and "start charge is 0.8 %; write 80 for 80 %" in said
    with open_logbook("logbook.sqlite") as book:
        assert mow(book, 1).start_charge == 0.8
