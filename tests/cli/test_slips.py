"""Slips of the keyboard and of the shell end in one line, never in a wrong answer or a traceback."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from estimator.cli import _run

MOW = "time_s,current_a,voltage_v\n" + "\n".join(
    f"{k},{9 + k % 5},{52 - k / 400 - 0.1 * (k % 5):.2f}" for k in range(300)
)


PACK = "describe pack {} --chemistry nmc --series {} --capacity-ah 10 --cut-off-v {}"


@dataclass(frozen=True)
class Done:
    """How a command ended and what it said."""

    returncode: int
    stdout: str
    stderr: str


Say = Callable[..., Done]


@pytest.fixture
def say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Say:
    """A function that runs a command in an empty folder with a new logbook."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", "logbook.sqlite")

    def said(*words: str) -> Done:
        return Done(_run(list(words)), *capsys.readouterr())

    return said


@pytest.fixture
def shed(say: Say) -> Say:
    """The same folder with a lawn, two packs and a log."""
    Path("mow.csv").write_text(MOW)
    for words in (
        "describe lawn orchard --area 420",
        PACK.format("crate", 13, 39),
        PACK.format("small", 10, 30),
    ):
        assert say(*words.split()).returncode == 0
    return say


ADD = ("add", "mow.csv", "--lawn", "orchard", "--dry-run", "--pack")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*ADD, "crate", "--start-charge", "0.95"), "start charge is 0.95 %; write 95 for 95 %"),
        ((*ADD, "small"), "mow.csv: volts of 50.9 to 51.9 are not those of small (10 nmc cells in series"),
        ((*ADD, "crate", "--temperature-c", "400"), "temperature is 400 °C; give -40 to 70 °C"),
        (
            (*ADD, "crate", "--decide", "zero_a=nan"),
            "zero_a is nan; give amps as a number from -1000 to 1000",
        ),
        ((*ADD, "crate", "--decide", "reverse=maybe"), "reverse is maybe; say yes or no"),
        (
            ("show", "99999999999999999999"),
            "mow 99999999999999999999 is not in the logbook; none is kept yet",
        ),
    ],
)
def test_a_slip_is_one_line_and_exit_code_2(shed: Say, words: tuple[str, ...], said: str) -> None:
    done = shed(*words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"mowcharge: {said}")
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_where_output_has_no_place_to_go(shed: Say) -> None:
    def by_shell(words: str, ends: str) -> subprocess.CompletedProcess[str]:
        command = f"{sys.executable} -m estimator.cli {words} {ends}"
        return subprocess.run(command, shell=True, capture_output=True, text=True, check=False)

    closed = by_shell("list", ">&-")
    assert (closed.returncode, closed.stderr) == (0, "")
    full = by_shell("list", "> /dev/full")
    assert full.returncode == 1
    assert full.stderr == "mowcharge: no space is left to write to; make room or write elsewhere\n"
    both = by_shell("show 77", ">&- 2>&-")
    assert (both.returncode, both.stderr) == (2, "")


@pytest.mark.parametrize("words", [[], ["describe"], ["logbook"]])
def test_a_command_alone_shows_its_help(words: list[str], say: Say) -> None:
    done, helped = say(*words), say(*words, "--help")
    assert done.returncode == 0
    assert done.stdout == helped.stdout
    assert "Commands" in done.stdout or "Ask:" in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize("group", ["describe", "logbook"])
def test_what_a_command_does_is_not_cut_short_in_the_list(group: str, say: Say) -> None:
    said = say(group, "--help").stdout
    assert "..." not in said.partition("Commands:")[2]
    assert "completion" not in said


@pytest.mark.parametrize(
    ("given", "line"),
    [
        (
            "--minutes 20 --rest-before-v 54",
            "no typical amps are given; give --typical-a or --mean-a, or --minutes with --rest-after-v, "
            "--put-back-wh or --socket-wh",
        ),
        (
            "--minutes 20 --rest-before-v 54 --idle-a 1.5",
            "no typical amps are given; give --typical-a or --mean-a, or --minutes with --rest-after-v, "
            "--put-back-wh or --socket-wh",
        ),
        (
            "--typical-a 4.4 --rest-before-v 54",
            "the minutes are not given; give --minutes, or --rest-after-v",
        ),
        (
            "--typical-a 4.4 --highest-a 3 --minutes 20 --rest-before-v 54",
            "typical amps of 4.4 are above highest amps of 3; correct one, or swap them",
        ),
        (
            "--idle-a 6 --typical-a 4.4 --minutes 20 --rest-before-v 54",
            "idle amps of 6 are above typical amps of 4.4; correct one, or swap them",
        ),
    ],
)
def test_readings_by_hand_that_miss_one_name_the_option(given: str, line: str, shed: Say) -> None:
    done = shed("by-hand", "--lawn", "orchard", "--pack", "crate", *given.split())
    assert (done.returncode, done.stderr) == (2, f"mowcharge: {line}\n")


def test_half_a_square_metre_of_a_small_lawn_is_not_rounded_away(say: Say) -> None:
    assert say("describe", "lawn", "front", "--area", "95,5").stdout.endswith("lawn front: 95.5 m²\n")
    assert "95.5" in say("list").stdout


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            "describe pack crate --series 13",
            "pack crate is not described yet; give --chemistry, --capacity-ah",
        ),
        (
            "describe pack crate --chemistry nmc --series=13",
            "pack crate is not described yet; give --capacity-ah",
        ),
        ("split 3 --until 9", "neither --lawn nor --pack is given; say which lawn or pack came next"),
    ],
)
def test_all_missing_options_are_named_at_once(words: str, line: str, say: Say) -> None:
    done = say(*words.split())
    assert (done.returncode, done.stderr) == (2, f"mowcharge: {line}\n")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("lead_acid --volts 24", "12 lead-acid cells in series, charged to 29.4 V"),
        ("Li-ion --volts 36", "10 lithium cells in series, charged to 42.0 V"),
        ("lfp --volts 51.2 --series 16", "16 lfp cells in series, charged to 58.4 V"),
        ("lfp --volts 51,2", "16 lfp cells in series, charged to 58.4 V"),
        ("Li-ion --volts 20", "5 lithium cells in series, charged to 21.0 V"),
        (
            "nmc --volts 48 --series 20",
            "48 V of nmc is not 20 cells: it can be 13 cells (54.6 V when full) or 14 cells (58.8 V when "
            "full); give --series",
        ),
        (
            "nmc --volts 48",
            "48 V of nmc can be 13 cells (54.6 V when full) or 14 cells (58.8 V when full); give --series",
        ),
        ("AGM --volts 23", "23 V of lead-acid is no whole number of cells; give --series"),
        ("nmc", "pack crate is not described yet; give --series or --volts"),
    ],
)
def test_a_pack_known_by_the_volts_on_its_label(say: Say, words: str, line: str) -> None:
    done = say(*f"describe pack crate --capacity-ah 10 --chemistry {words}".split())
    assert line in done.stdout + done.stderr


CRATE = "describe pack crate --chemistry lithium --capacity-ah 5"


def test_what_is_known_of_a_pack_is_said_back(say: Say) -> None:
    done = say(*CRATE.split(), "--volts", "36", "--first-year", "2022", "--current-limit-a", "30")
    first, *notes = done.stdout.partition("!")[0].splitlines()
    assert first == (
        "pack crate: 10 lithium cells in series, charged to 42.0 V, 5 Ah, cut-off 30 V, current limit 30 A, "
        "in use since 2022"
    )
    assert "give --series if it is not charged to these volts" in " ".join(" ".join(notes).split())
    done = say(*CRATE.split(), "--series", "10", "--cut-off-v", "30")
    assert done.stdout.splitlines()[1].startswith("Cautions:"), "nothing was guessed"


def test_a_refused_table_names_the_clock_not_the_day(say: Say, tmp_path: Path) -> None:
    rows = "".join(f"02.05.2026;10:{k // 60:02d}:{k % 60:02d};{5 + k % 3},1;52,0\n" for k in range(300))
    (tmp_path / "log.csv").write_text("Day;Clock;Amps;Volts\n" + rows.replace("10:02:00", "10,02:00"))
    say("describe", "lawn", "orchard", "--area", "420")
    say(*PACK.format("crate", 13, 39).split())
    done = say("add", "log.csv", "--start-charge", "100")
    assert done.stderr.splitlines()[-1] == (
        "To say what is what: --column current=3[A] --column voltage=4[V] --column time=2"
    )
