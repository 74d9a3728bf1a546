"""What only happens by hand on a terminal: readings asked for one by one, pictures, names for the shell."""

from __future__ import annotations

import os
import re
import shutil
import sys
from pathlib import Path

import pytest

from estimator import cli
from estimator.cli import options
from estimator.cli import typing_habits as completion

CRATE = ("--pack", "green crate")


@pytest.fixture
def shed(orchard_copy: Path, samples: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a log and the orchard's logbook."""
    shutil.copy(samples / "2025-09-27a.csv", tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(orchard_copy))
    return tmp_path


def test_readings_by_hand_are_asked_for(
    shed: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = {"usual": "about five", "minutes of": "25", "before": "53,2"}
    asked: list[str] = []

    def answer(words: str, **_: object) -> str:
        asked.append(words)
        for part, text in answers.items():
            if part in words.lower():
                answers[part] = "5" if text == "about five" else text
                return text
        return ""

    monkeypatch.setattr("typer.prompt", answer)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    code = cli._run(["by-hand", "--lawn", "apple rows", *CRATE, "--dry-run"])
    said = capsys.readouterr().out
    assert code == 0
    assert "Press Enter where there is no reading." in said and "a number such as 4.5" in said
    assert said.startswith("! Clamp the cable before the blades turn.")
    assert len(asked) == len(set(asked)) + 1, "one was asked again"
    charge = re.search(r"charge used +([0-9.]+) Ah", said)
    assert charge and 1.8 < float(charge[1]) < 2.4, "five amps for 25 minutes are 2.1 Ah"


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "chapel strip", *CRATE),
        ("capacity", "chapel strip", *CRATE),
        ("minutes", "2025-09-27a.csv", *CRATE),
        ("compare", "--tag", "rear roller off"),
        ("pack-life", "chapel strip", *CRATE),
        ("track-record", "--last", "3"),
    ],
    ids=lambda words: words[0],
)
def test_an_answer_draws_its_picture(
    shed: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli._run([*words, "--picture", "drawn.svg"]) == 0, capsys.readouterr().err
    assert "<title>" in (shed / "drawn.svg").read_text(encoding="utf-8")


def test_names_for_the_shell(shed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert options.lawn_names("ch") == ["chapel strip"]
    assert options.pack_names("") == ["green crate", "old box"]
    assert options.machine_names("cyl") == ["cylinder mower"]
    assert "clamp" in " ".join(options.meter_names(""))
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(shed))
    assert options.lawn_names("") == [], "a folder is no logbook, and a shell wants no words about it"


def test_completion_for_bash_puts_backslashes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(os.environ, "_MOWCHARGE_COMPLETE", "complete_bash")
    monkeypatch.setitem(os.environ, "COMP_WORDS", "mowcharge\nplan\nap")
    monkeypatch.setitem(os.environ, "COMP_CWORD", "2")
    assert completion.asked_by_bash()
    completion.complete_in_bash(lambda: print("apple rows"))
    assert capsys.readouterr().out == "apple\\ rows\n"


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("charging", "chapel strip", "--charger-w", "240", *CRATE), "To full in about"),
        (
            ("charging", "chapel strip", "--charger-w", "240", "--pause-minutes", "30", *CRATE),
            "a break gives",
        ),
        (("cost", "chapel strip", "--price-per-kwh", "0.3", *CRATE), "electricity"),
        (("logbook", "check"), "very checksum"),
    ],
)
def test_answers_with_less_or_more_said(
    shed: Path, words: tuple[str, ...], line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli._run(list(words)) == 0
    assert line in capsys.readouterr().out
