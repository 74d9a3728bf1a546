"""Characters that a terminal would obey or cannot write are written out: in file names, tags and words."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.cli import _run
from estimator.cli.output import Shown, visible

OBEYED = "\x1b]0;owned\x07\x9b31m\r\u202e"
HALF = "\udcff"
"""What a byte that is not text becomes on the command line."""
ROWS = "".join(f"{k},{9 + k % 5},{52 - k / 400 - 0.1 * (k % 5):.2f}\n" for k in range(300))
Say = Callable[..., tuple[int, str]]


@pytest.fixture
def say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Say:
    """A function that runs a command in a folder with a described logbook; returns exit code and output."""

    def said(*words: str) -> tuple[int, str]:
        written = io.BytesIO()
        with monkeypatch.context() as patch:
            patch.setenv("MOWCHARGE_LOGBOOK", "logbook.sqlite")
            for stream in ("stdout", "stderr"):
                patch.setattr(sys, stream, Shown(written, "utf-8", "backslashreplace", write_through=True))
            try:
                code = _run(list(words))
            finally:
                sys.stdout.detach(), sys.stderr.detach()
        return code, written.getvalue().decode("utf-8")

    monkeypatch.chdir(tmp_path)
    pack = ["--chemistry", "nmc", "--series", "13", "--capacity-ah", "10", "--cut-off-v", "39"]
    assert said("describe", "lawn", "orchard", "--area", "420")[0] == 0
    assert said("describe", "pack", "crate", *pack)[0] == 0
    (tmp_path / "mow.csv").write_text("time_s,current_a,voltage_v\n" + ROWS)
    return said


def test_file_names_tags_and_words_are_shown_and_not_obeyed(say: Say) -> None:
    name = f"a{OBEYED}.csv"
    Path("mow.csv").rename(name)
    said = [say("add", name, "--lawn", "orchard", "--tag", f"new{OBEYED}cable")]
    said += [say("describe", "care", "2025-06-20", f"blades{OBEYED}sharpened")]
    said += [say(*words) for words in (["mows"], ["show", "1"], ["logbook", "check"])]
    said += [say("show", "1", "--json"), say("add", name, "--lawn", f"no{OBEYED}lawn")]
    assert [code for code, _ in said] == [0, 0, 0, 0, 0, 0, 2]
    for _, text in said:
        assert visible(text) == text
    assert r"\u001b]0;owned\u0007\u009b31m" in "".join(text for _, text in said)
    assert json.loads(said[5][1])["record"]["files"][0]["name"] == name


@pytest.mark.parametrize(
    "words",
    [
        ["add", HALF, "--lawn", "orchard"],
        ["add", "mow.csv", "--lawn", "orchard", "--tag", HALF],
        ["add", "mow.csv", "--lawn", HALF],
        ["add", "mow.csv", "--lawn", "orchard", "--pack", HALF],
        ["add", "mow.csv", "--lawn", "orchard", "--meter", HALF],
        ["add", "mow.csv", "--lawn", "orchard", "--decide", f"zero_a={HALF}"],
        ["add", "mow.csv", "--lawn", "orchard", "--column", f"current={HALF}"],
        ["add", "mow.csv", "--lawn", "orchard", "--started", HALF],
        ["describe", "care", "2025-06-20", HALF],
        ["describe", "care", HALF],
        ["describe", "lawn", HALF, "--area", "4"],
        ["describe", "rename", "lawn", "orchard", HALF],
        ["logbook", "repair", HALF],
        ["logbook", "repair", "\ud800"],
        ["logbook", "import", HALF],
        ["logbook", "restore", HALF],
        ["logbook", "salvage", HALF, "new.sqlite"],
        ["logbook", "salvage", "logbook.sqlite", "\ud800"],
        ["logbook", "import", "\ud800"],
        ["logbook", "export", "\ud800"],
        ["logbook", "backup", "\ud800"],
        ["edit", "1", "--tag", HALF],
        ["--logbook", HALF, "mows"],
        ["compare", "--tag", HALF],
        ["plan", HALF],
        ["minutes", HALF],
    ],
)
def test_half_a_character_is_one_line(say: Say, words: list[str]) -> None:
    code, said = say(*words)
    assert code in (1, 2, 3), said
    assert said.startswith("mowcharge: ")
    assert said.count("\n") == 1 or "--column" in words, "how the columns were read follows"
    assert "should not happen" not in said


@pytest.mark.parametrize("length", [256, 5000])
@pytest.mark.parametrize(
    "words", [["add", "{}", "--lawn", "orchard"], ["minutes", "{}"], ["--logbook", "{}", "mows"],
              ["logbook", "backup", "{}"], ["logbook", "export", "{}"], ["logbook", "import", "{}"],
              ["logbook", "restore", "{}"], ["logbook", "salvage", "{}", "new"], ["logbook", "repair", "{}"],
              ["logbook", "salvage", "logbook.sqlite", "{}"],
              ["describe", "lawn", "x", "--area", "4", "--logbook", "{}"]]
)  # fmt: skip
def test_a_name_too_long_for_the_disk_is_one_line(say: Say, words: list[str], length: int) -> None:
    code, said = say(*(word.format("n" * length) for word in words))
    assert code in (2, 3), said
    assert "should not happen" not in said
    assert said.count("\n") == 1


def test_a_temperature_that_no_air_has_is_refused(say: Say) -> None:
    code, said = say("capacity", "orchard", "--coldest-c", "1e308")
    assert code == 2
    assert "coldest temperature is 1e+308 °C; give -40 to 70 °C" in said
    assert "should not happen" not in said
