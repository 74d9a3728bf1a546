"""Slips of the keyboard and of the shell end in one line, never in a wrong answer or a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

MOW = "time_s,current_a,voltage_v\n" + "\n".join(
    f"{k},{9 + k % 5},{52 - k / 400 - 0.1 * (k % 5):.2f}" for k in range(300)
)


@pytest.fixture
def shed(tmp_path: Path) -> Path:
    (tmp_path / "mow.csv").write_text(MOW)
    for words in (
        ["describe", "lawn", "orchard", "--area", "420"],
        [
            "describe",
            "pack",
            "crate",
            "--chemistry",
            "nmc",
            "--series",
            "13",
            "--ah",
            "10",
            "--cut-off",
            "39",
        ],
        [
            "describe",
            "pack",
            "small",
            "--chemistry",
            "nmc",
            "--series",
            "10",
            "--ah",
            "10",
            "--cut-off",
            "30",
        ],
    ):
        assert say(tmp_path, *words).returncode == 0
    return tmp_path


def say(folder: Path, *words: str, shell_end: str = "") -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "MOWCHARGE_LOGBOOK": str(folder / "logbook.sqlite")}
    command = [sys.executable, "-m", "estimator.cli", *words]
    if shell_end:
        command = ["sh", "-c", f'"$@" {shell_end}', "sh", *command]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)


ADD = ("add", "mow.csv", "--lawn", "orchard", "--dry-run", "--pack")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*ADD, "crate", "--start-charge", "0.95"), "start charge is 0.95 %; write 95 for 95 %"),
        ((*ADD, "small"), "mow.csv: volts of 50.9 to 51.9 are not those of small (10 nmc cells in series"),
        ((*ADD, "crate", "--air-celsius", "400"), "Invalid value for '--air-celsius'"),
        (
            (*ADD, "crate", "--decide", "zero_a=nan"),
            "zero_a is nan; give amps as a number from -1000 to 1000",
        ),
        ((*ADD, "crate", "--decide", "reverse=maybe"), "reverse is maybe; say yes or no"),
        (("show", "99999999999999999999"), "mow 99999999999999999999 is not in the logbook; list the mows"),
    ],
)
def test_a_slip_is_one_line_and_exit_code_2(shed: Path, words: tuple[str, ...], said: str) -> None:
    done = say(shed, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"mowcharge: {said}")
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_where_output_has_no_place_to_go(shed: Path) -> None:
    closed = say(shed, "described", shell_end=">&-")
    assert (closed.returncode, closed.stderr) == (0, "")
    full = say(shed, "described", shell_end="> /dev/full")
    assert full.returncode == 1
    assert full.stderr == "mowcharge: no space is left to write to; make room or write elsewhere\n"
    both = say(shed, "show", "77", shell_end=">&- 2>&-")
    assert (both.returncode, both.stderr) == (2, "")
