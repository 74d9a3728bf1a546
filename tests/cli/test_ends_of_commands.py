"""How commands end: exit codes, notes on the way, and streams that the shell has closed."""

from __future__ import annotations

import errno
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from estimator import __version__, cli
from estimator.amounts import from_percent
from estimator.cli import named_files as files
from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.logbook import add_mow, keep_lawn, open_logbook, remove_mow


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small logbook whose first mow has lost its bytes and whose second was removed."""
    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as opened:
        keep_lawn(opened, Lawn("orchard", area_m2=420))
        for number in (1, 2):
            add_mow(opened, [(f"mow {number}.csv", b"9.8 A\n" * 60 * number)], lawn="orchard")
        remove_mow(opened, 2)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE file_bytes SET packed = X'425A68' WHERE file_id = 1")
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(path))
    return path


Said = pytest.CaptureFixture[str]


def test_a_version_and_a_list_of_commands(monkeypatch: pytest.MonkeyPatch, capsys: Said) -> None:
    monkeypatch.setattr(sys, "argv", ["mowcharge", "--version"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 0
    assert __version__ in capsys.readouterr().out
    assert cli._run(["--help"]) == 0
    shown = capsys.readouterr().out
    assert all(f"\n  {command} " in shown for command in ("add", "minutes", "logbook"))


def test_a_damaged_logbook_ends_a_check_with_three(book: Path, capsys: Said) -> None:
    assert cli._run(["logbook", "check"]) == 3
    assert capsys.readouterr().out == (
        "1 problem in 2 mows, 1 file, 720 bytes:\n"
        "  - mow 1: the bytes of mow 1.csv do not match their checksum\n"
    )


def test_what_salvage_lost_is_listed_before_what_it_saved(book: Path, capsys: Said) -> None:
    new = book.with_name("new.sqlite")
    assert cli._run(["logbook", "salvage", str(book), str(new)]) == 0
    assert capsys.readouterr().out == (
        "  - mow 1: the bytes of mow 1.csv are lost; upload the file again\n"
        f"2 mows with 1 file saved to {new}\n"
    )


def test_a_mow_is_deleted_for_good_only_after_yes(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    asked: list[str] = []

    def refuse(words: str, *, abort: bool) -> None:
        asked.append(words)
        raise KeyboardInterrupt

    monkeypatch.setattr("typer.confirm", refuse)
    assert cli._run(["logbook", "purge", "2"]) == 1
    assert asked == ["Delete mow 2 for good?"]
    assert capsys.readouterr().err == "mowcharge: stopped\n"
    monkeypatch.setattr("typer.confirm", lambda words, *, abort: True)
    assert cli._run(["logbook", "purge", "2"]) == 0
    assert capsys.readouterr().out == "mow 2: deleted for good\n"


def test_trouble_that_nobody_foresaw_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    class Broken:
        def main(self, *_: Any, **__: Any) -> int:
            raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr("estimator.cli.group.build", Broken)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cli._run([]) == 1
    (trouble,) = tmp_path.glob("mowcharge-trouble-*.txt")
    assert capsys.readouterr().err == (
        f"mowcharge: this should not happen (OSError); please report it and send along {trouble}\n"
    )
    assert "Input/output error" in trouble.read_text()


def test_closed_streams_keep_the_exit_code(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    assert cli._fail("said to nobody", 3) == 3


@pytest.mark.parametrize("typed", ["no", "False", "OFF"])
def test_no_is_no(typed: str) -> None:
    assert files._value(typed) is False
    assert files._value("yes") is True
    assert files._value("3,5") == 3.5


def test_a_share_is_no_percentage() -> None:
    with pytest.raises(InputError) as refused:
        from_percent("start_charge", 0.95)
    assert str(refused.value) == "start charge is 0.95 %; write 95 for 95 %"
    assert from_percent("start_charge", 95.0) == 0.95


def test_a_report_is_an_html_file(capsys: Said, book: Path) -> None:
    assert cli._run(["report", "orchard.pdf"]) == 2
    assert capsys.readouterr().err == "mowcharge: report orchard.pdf: '.pdf'; end its name in .html\n"
