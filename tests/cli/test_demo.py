"""The demonstration answers everything, names its figures, and can be compared with what came."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from estimator import cli
from estimator.logbook import mows, open_logbook


def test_the_demo_answers_everything(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "demo"
    assert cli._run(["demo", "--folder", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "All names and readings of this demonstration are invented." in said
    for answer in (
        "Minutes left:", "Lawns per charge:", "Recommended capacity:", "Seasons of",
        "mows with 'rear roller off'", "finish 90 times in 100", "bands held", "Feed cable 6 mm²",
        "Closest:",
        "A typical mow loads", "Full in about",
        "Cost, in the currency", "Last blade care:",
        "It is refused in one line: time_goes_back.csv, row 202",
    ):  # fmt: skip
        assert answer in said, answer
    assert said.count("Take the battery off before you touch the blades") == 1
    named = re.findall(r"^  (\S+\.png)$", said, re.MULTILINE)
    assert len(named) == 7
    for name in named:
        assert (folder / name).stat().st_size > 5000
    with open_logbook(folder / "demo-logbook.sqlite") as book:
        assert len(mows(book)) == 34
    low, high = map(int, re.search(r"Minutes left: \d+ min \((\d+) to (\d+)\)", said).groups())  # type: ignore[union-attr]
    came = int(re.search(r"The mow ran on for (\d+) minutes", said)[1])  # type: ignore[index]
    assert low - 1 <= came <= high + 1


def test_the_demo_does_not_write_over_anything(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "demo-logbook.sqlite").write_bytes(b"mine")
    assert cli._run(["demo", "--folder", str(tmp_path)]) == 2
    assert "is there already; name another folder" in capsys.readouterr().err
    assert (tmp_path / "demo-logbook.sqlite").read_bytes() == b"mine"


def test_a_closed_pipe_is_no_traceback(orchard_copy: Path) -> None:
    command = "from estimator.cli import main; import sys; sys.argv = ['mowcharge', 'mows', '--json']; main()"
    shell = subprocess.Popen(
        [sys.executable, "-c", command], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={"MOWCHARGE_LOGBOOK": str(orchard_copy), "PATH": "/usr/bin"},
    )  # fmt: skip
    assert shell.stdout is not None
    assert shell.stderr is not None
    shell.stdout.close()
    assert shell.stderr.read() == b""
    shell.stderr.close()
    assert shell.wait(300) in (0, 1)
