"""What happens only on a terminal: pictures, names completed in the shell."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from types import SimpleNamespace

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
    assert options.names_of("lawn")("ch") == ["chapel strip"]
    assert options.names_of("pack")("") == ["green crate", "old box"]
    assert options.names_of("machine")("cyl") == ["cylinder mower"]
    assert "clamp" in " ".join(options.names_of("meter")(""))
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(shed))
    assert options.names_of("lawn")("") == [], "a folder is no logbook, and a shell wants no words about it"


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
        (("charging", "chapel strip", "--charger-w", "240", *CRATE), "Full in about"),
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


def test_a_list_that_nobody_gave_is_an_empty_one_whatever_its_check_makes_of_it() -> None:
    """Typer 0.19 counts what is in such a list."""
    given = SimpleNamespace(
        process_value=None, multiple=True, nargs=1, required=False, callback=lambda *_: None
    )
    completion.take_at_once(given, {list[float]})
    assert given.process_value(None, None) == ()
