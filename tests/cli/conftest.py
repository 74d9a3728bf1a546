"""A small logbook of its own to run commands on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.cli import _run

Say = Callable[..., str]


@pytest.fixture
def say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Say:
    """A function that runs a command in a folder with a lawn and a log, and returns what it printed.

    `code` is the expected exit code.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", "logbook.sqlite")
    rows = "".join(f"{k},{9 + k % 5},{52 - k / 400 - 0.1 * (k % 5):.2f}\n" for k in range(900))
    Path("mow.csv").write_text("time_s,current_a,voltage_v\n" + rows)

    def said(*words: str, code: int = 0) -> str:
        ended = _run(list(words))
        told = capsys.readouterr()
        assert ended == code, told.out + told.err
        return told.err if code else told.out

    said("describe", "lawn", "orchard", "--area", "420")
    return said
