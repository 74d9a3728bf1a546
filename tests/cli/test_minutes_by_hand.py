"""Minutes left from numbers on the command line, or asked for one by one."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable

import pytest

import estimator as est
from estimator.importer.log import SpotNotes
from estimator.logbook import mow_count, open_logbook

Say = Callable[..., str]
PACK = ("describe", "pack", "bank", "--chemistry", "lfp", "--series", "16", "--capacity-ah", "20")
NOW = ("minutes", "--typical", "17", "--minutes", "12", "--start-charge", "100")


def test_numbers_are_enough_and_nothing_is_kept(say: Say) -> None:
    say(*PACK)
    said = say(*NOW)
    assert said.startswith("Minutes left: ")
    assert "mean current" in said and "note the Wh that the charger puts back" in " ".join(said.split())
    with open_logbook() as book:
        assert mow_count(book) == 0


def test_short_names_are_second_names_and_json_says_the_same_as_the_library(say: Say) -> None:
    say(*PACK)
    short, long = (
        json.loads(say("minutes", *words, "--minutes", "12", "--start-charge", "100", "--json"))
        for words in (
            ("--typical", "17", "--load-volts", "52,1"),
            ("--typical-a", "17", "--load-v", "52.1"),
        )
    )
    assert short == long
    notes = SpotNotes(typical_a=17.0, load_v=52.1, minutes=12.0)
    pack = est.Pack("lfp", series=16, capacity_ah=20.0, cut_off_v=est.usual_cut_off_v("lfp", 16), name="bank")
    assert short["minutes"] == pytest.approx(est.minutes_left_by_hand(notes, pack, 1.0).minutes, rel=1e-3)


def test_another_lawn_has_its_chance(say: Say) -> None:
    say(*PACK)
    answer = json.loads(say(*NOW, "--lawn", "orchard", "--json"))
    assert [each["lawn"] for each in answer["more"]] == ["orchard"]
    assert 0 <= answer["more"][0]["odds"] <= 1


def test_on_a_terminal_it_asks(say: Say, monkeypatch: pytest.MonkeyPatch) -> None:
    say(*PACK)
    told = say(*NOW, "--load-v", "52.1")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    for answers in (
        iter(("100", "", "17", "", "52,1", "12", "")),  # minutes left out are asked for again
        iter(("1000", "100", "12", "17", "", "nonsense", "52,1", "orc")),  # a slip asks that one again
    ):
        monkeypatch.setattr("typer.prompt", lambda *_, left=answers, **__: next(left))
        said = say("minutes")
        assert told.splitlines()[0] in said
        assert list(answers) == []
    assert "orchard" in said, "the chance of the lawn that was named by how it begins"
    blank = iter(("",) * 9)  # five questions, then the amps and three other ways to know them
    monkeypatch.setattr("typer.prompt", lambda *_, **__: next(blank))
    assert "no typical amps are given; give --typical-a or --mean-a" in say("minutes", code=2)
    assert list(blank) == []


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ((), "neither a log nor readings are given; name a file, or give --typical-a and --minutes"),
        (("mow.csv", "--typical", "17"), "a file and readings by hand are given; give one of the two"),
        (("--minutes", "12"), "no typical amps are given"),
        (
            ("--minutes", "12", "--put-back-ah", "3"),
            "there is no option --put-back-ah here; mowcharge by-hand takes it",
        ),
        (("--typical", "17"), "the minutes are not given; give --minutes"),
        (
            ("--typical", "17", "--minutes", "12", "--highest", "9"),
            "typical amps of 17 are above highest amps of 9",
        ),
    ],
)
def test_what_is_missing_is_one_line(say: Say, words: tuple[str, ...], line: str) -> None:
    say(*PACK)
    assert line in say("minutes", *words, code=2)


def test_options_that_a_refusal_names_are_taken(say: Say) -> None:
    """Mean amps (AVG) and volts at rest stand in for minutes that were not noted; the result is said."""
    say(*PACK)
    said = say("minutes", "--mean", "15", "--rest-after", "50.0", "--start-charge", "100")
    used = re.search(r"used so far +([\d.]+) Ah, \d+ Wh in (\d+) min", said)
    assert used is not None and float(used[1]) == pytest.approx(15 * float(used[2]) / 60, rel=0.15)


def test_blocks_counted_as_cells_are_pointed_out(say: Say) -> None:
    said = say("describe", "pack", "box", "--chemistry", "agm", "--series", "2", "--capacity-ah", "33")
    assert "2 cells are some 4 V: a 12 V block counts 6, two of them 12" in said
    again = say("describe", "pack", "box", "--chemistry", "agm", "--series", "12", "--capacity-ah", "33")
    assert "block counts" not in again


def test_an_empty_pack_has_under_a_minute_left(say: Say) -> None:
    say(*PACK)
    said = say("minutes", "--typical", "150", "--minutes", "30", "--start-charge", "100")
    assert said.startswith("Minutes left: under 1\n") and "check amps and minutes" in " ".join(said.split())
