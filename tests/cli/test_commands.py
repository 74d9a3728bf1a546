"""The command line: instant help, JSON or short text, one line for trouble; bad input changes nothing."""

from __future__ import annotations

import importlib
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import typer
from jsonschema import Draft202012Validator

from estimator import cli
from estimator.cli.command_table import ANSWERS, COMMANDS
from estimator.logbook import mows, open_logbook

Run = Callable[..., "Said"]
CRATE = ("--pack", "green crate")


class Said:
    """What a command said: exit code, stdout, stderr."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def plain(self) -> Any:
        assert self.code == 0, self.err
        return json.loads(self.out)


@pytest.fixture
def run(
    orchard_copy: Path,
    samples: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Run:
    """Run a command in a folder with the sample logs and a logbook of the orchard's mows."""
    folder = tmp_path / "work"
    folder.mkdir()
    for file in (*samples.glob("*.csv"), *samples.glob("*.txt"), *(samples / "broken").iterdir()):
        shutil.copy(file, folder / file.name)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(orchard_copy))
    monkeypatch.setenv("COLUMNS", "73")

    def runs(*words: str) -> Said:
        code = cli._run(list(words))
        said = capsys.readouterr()
        return Said(code, said.out, said.err)

    return runs


def every_command() -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for name, entry in COMMANDS.items():
        module, _, attribute = entry.where.partition(":")
        target = getattr(importlib.import_module(f"estimator.cli.commands.{module}"), attribute)
        if isinstance(target, typer.Typer):
            found.extend((name, str(each.name)) for each in target.registered_commands)
        else:
            found.append((name,))
    return found


def callback_of(words: tuple[str, ...]) -> Callable[..., None]:
    module, _, attribute = COMMANDS[words[0]].where.partition(":")
    target = getattr(importlib.import_module(f"estimator.cli.commands.{module}"), attribute)
    if not isinstance(target, typer.Typer):
        return target
    return next(each.callback for each in target.registered_commands if each.name == words[1])  # type: ignore[return-value]


def example_of(words: tuple[str, ...]) -> str:
    found = re.search(r"Example: mowcharge (.+)", callback_of(words).__doc__ or "")
    assert found, words
    return found[1]


@pytest.mark.parametrize("words", every_command(), ids=" ".join)
def test_help_shows_an_example(words: tuple[str, ...], run: Run) -> None:
    said = run(*words, "--help")
    assert "{" not in said.out.splitlines()[0]
    assert said.code == 0
    assert "Example: mowcharge " + words[0] in " ".join(said.out.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_the_table_says_what_the_commands_say(name: str) -> None:
    module, _, attribute = COMMANDS[name].where.partition(":")
    target = getattr(importlib.import_module(f"estimator.cli.commands.{module}"), attribute)
    said = target.info.help if isinstance(target, typer.Typer) else (target.__doc__ or "").splitlines()[0]
    assert said.split(";")[0].rstrip(".") == COMMANDS[name].line.split(";")[0].rstrip(".")


NEEDS = {
    ("add",): (),
    ("restore",): (("remove", "30"),),
    ("logbook", "restore"): (("logbook", "backup", "spring.sqlite"),),
    ("logbook", "import"): (("logbook", "export", "orchard-2024"),),
    ("logbook", "purge"): (("remove", "30"),),
    ("logbook", "salvage"): (("logbook", "backup", "damaged.sqlite"),),
}


@pytest.mark.parametrize(
    "words", [each for each in every_command() if each not in (("demo",), ("page",))], ids=" ".join
)
def test_the_example_in_the_help_runs(words: tuple[str, ...], run: Run) -> None:
    for before in NEEDS.get(words, ()):
        assert run(*before).code == 0
    said = run(*shlex.split(example_of(words)))
    assert said.code == 0, said.err
    assert said.out.strip()
    assert said.err == ""


JSON = {
    "plan": ("plan", "chapel strip", *CRATE),
    "capacity": ("capacity", "chapel strip", *CRATE),
    "minutes": ("minutes", "2025-09-27a.csv", *CRATE),
    "seasons": ("seasons", *CRATE),
    "compare": ("compare", "--tag", "rear roller off"),
    "pack-life": ("pack-life", "chapel strip", *CRATE),
    "track-record": ("track-record", "--last", "3"),
    "cable": ("cable", "--size", "6 mm2", "--length", "1", *CRATE),
    "limits": ("limits", *CRATE),
    "motor": ("motor",),
    "charging": ("charging", "chapel strip", "--charger-w", "240", *CRATE),
    "cost": ("cost", "chapel strip", "--price-per-kwh", "0.3", *CRATE),
    "care": ("care",),
    "grass": ("grass",),
    "list": ("list",),
    "show": ("show", "3"),
    "mows": ("mows", "--lawn", "apple rows"),
    "check": ("logbook", "check"),
    "follow": ("follow", "2025-09-27a.csv", "--once", *CRATE),
    "add": ("add", "2024-04-13a.csv", "--lawn", "apple rows", "--dry-run", *CRATE),
}  # fmt: skip


NAMES = {
    "plan": {"count", "minutes", "lawns", "sure"},
    "capacity": {"capacity_ah", "parts", "sure"},
    "minutes": {"minutes", "low", "high", "level"},
}
"""Some of the library's names that each object must have."""


@pytest.mark.parametrize("name", JSON)
def test_json_is_one_object_as_its_schema_says_with_the_librarys_names(name: str, run: Run) -> None:
    command = JSON[name][:2] if JSON[name][0] == "logbook" else JSON[name][:1]
    schema = run(*command, "--json-schema").plain
    Draft202012Validator.check_schema(schema)
    plain = run(*JSON[name], "--json").plain
    Draft202012Validator(schema).validate(plain)
    assert NAMES.get(name, set()) <= set(plain) == set(schema["properties"])
    assert all(float(f"{each:.9g}") == each for each in figures_in(plain)), "no dust of binary fractions"


def figures_in(plain: Any) -> Iterator[float]:
    if isinstance(plain, float):
        yield plain
    elif isinstance(plain, (dict, list)):
        for each in plain.values() if isinstance(plain, dict) else plain:
            yield from figures_in(each)


def test_every_command_with_an_object_has_a_schema() -> None:
    with_json = {words[-1] for words in every_command() if "as_json" in callback_of(words).__annotations__}
    assert with_json == set(ANSWERS)


def test_percent_on_the_command_line_is_a_share_in_the_object(run: Run) -> None:
    plain = run("plan", "chapel strip", *CRATE, "--sure", "80", "--start-charge", "50", "--json").plain
    assert (plain["sure"], plain["start_charge"]) == (0.8, 0.5)


def test_one_more_lawn_has_the_same_odds_in_plan_and_in_minutes(run: Run) -> None:
    so_far = ("2025-06-14a.csv", "--start-charge", "100", "--moisture", "damp", "--pack", "old box")
    by_hand = ("--typical", "6", "--minutes", "12", "--start-charge", "100", *CRATE)
    for asked, minutes in ((("--so-far", *so_far), so_far), (by_hand, by_hand)):
        table = run("minutes", *minutes, "--one-more").out.split("one more lawn now")[1].split("\n\n")[0]
        rows = [re.split("  +", line) for line in table.splitlines()[1:]]
        others = ", ".join(f"{row[0]} {row[-1]}" for row in rows if row[0] != "apple rows")
        said = " ".join(run("plan", *asked).out.split())
        assert len(rows) == 3 and f"Instead of apple rows, each by itself: {others}." in said
        plain = run("plan", *asked, "--json").plain
        assert [each["lawn"] for each in plain["more"]] == [row[0] for row in rows]
        assert 0 < plain["start_charge"] < 1


def test_a_plan_takes_a_log_so_far_or_readings_by_hand_not_both(run: Run) -> None:
    said = run("plan", "--so-far", "2025-06-14a.csv", "--typical", "6", *CRATE)
    assert (said.code, said.err) == (
        2,
        "mowcharge: a file and readings by hand are given; give one of the two\n",
    )


BAD = {
    "no such file": (("add", "nothere.csv", "--lawn", "apple rows", *CRATE), "nothere.csv: is not there"),
    "a folder": (("add", ".", "--lawn", "apple rows", *CRATE), "is a folder"),
    "empty file": (("add", "empty.csv", "--lawn", "apple rows", *CRATE), "empty.csv: is empty"),
    "wrong columns": (("add", "wrong_columns.csv", "--lawn", "apple rows", *CRATE), "wrong_columns.csv"),
    "text in numbers": (("add", "words_in_numbers.csv", "--lawn", "apple rows", *CRATE), "words_in_numbers.csv, row 152"),  # noqa: E501
    "time going back": (("add", "time_goes_back.csv", "--lawn", "apple rows", *CRATE), "time_goes_back.csv, row 202"),  # noqa: E501
    "unknown lawn": (("add", "2024-06-08a.csv", "--lawn", "apple row", *CRATE), "did you mean 'apple rows'?"),
    "the same file twice": (("add", "2024-04-13a.csv", "--lawn", "apple rows", *CRATE), "is already in the logbook as mow 1"),  # noqa: E501
    "which pack": (("plan",), "no pack is named; name one of green crate, old box with --pack"),
    "unknown command": (("pland",), "there is no command 'pland'; did you mean 'plan'?"),
    "unknown part": (("logbook", "bakup"), "there is no command 'bakup'; did you mean 'backup'?"),
    "no number in a range": (("plan", *CRATE, "--temperature-c", "nan"), "--temperature-c"),
    "no number": (("cable", "--size", "6 mm2", "--length", "1", *CRATE, "--copper-c", "nan"), "--copper-c is nan; give a number"),  # noqa: E501
    "endless": (("seasons", *CRATE, "--pack-c", "inf"), "--pack-c is inf; give a number"),
    "no number among many": (("describe", "pack", "grey", "--chemistry", "nmc", "--series", "13", "--capacity-ah", "nan", "--cut-off-v", "39"), "--capacity-ah is 'nan'; give a number [Ah]"),  # noqa: E501
    "unknown option": (("plan", "--moist", "wet"), "there is no option --moist; did you mean --moisture?"),
    "two numbers": (("remove", "7", "8"), "'8' is more than this command takes; give one number at a time"),
    "one of two lawns": (("by-hand", "--lawn", "park", "--lawn=verge"), "--lawn is given 2 times; give it once"),  # noqa: E501
    "a word too many": (("describe", "lawn", "park", "--area", "900", "sqm"), "'sqm' is more than this command takes; put what has a space in it between quotation marks"),  # noqa: E501
    "moisture": (("plan", *CRATE, "--moisture", "soggy"), "grass moisture 'soggy' is not known; choose one of dry, damp, wet"),  # noqa: E501
    "not a number": (("capacity", *CRATE, "--sure", "very"), "--sure"),
    "over the range": (("plan", *CRATE, "--sure", "120"), "certainty is 120 %; give 50 to 99.9 %"),
    "area": (("describe", "lawn", "park", "--area", "big"), "area is 'big'"),
    "comma": (("describe", "lawn", "park", "--area", "1,000"), "the comma may be a decimal or a thousands mark; leave it out"),  # noqa: E501
    "date": (("add", "2024-06-08a.csv", "--lawn", "apple rows", *CRATE, "--started", "someday"), "date 'someday' cannot be read"),  # noqa: E501
    "picture": (("plan", *CRATE, "--picture", "plan.bmp"), "end its name in .png or .svg"),
    "decision": (("minutes", "2024-06-08a.csv", *CRATE, "--decide", "day_first"), "decision 'day_first' has no value"),  # noqa: E501
    "no mow": (("show", "999"), "mow 999 is not in the logbook"),
    "nothing to edit": (("edit", "3"), "nothing to change is given"),
    "nothing to compare": (("compare",), "is not given; give either --tag or --changed-on"),
    "too much to compare": (
        ("compare", "--tag", "wet", "--changed-on", "2025-01-01"), "give either --tag or --changed-on"
    ),
    "charger": (("charging", *CRATE), "give either --charger-w or --charger-a"),
    "wire": (("cable", "--size", "thick", "--length", "1", *CRATE), "thick"),
    "kind": (("describe", "machine", "cylinder mower", "--kind", "laser"), "machine cylinder mower: kind 'laser' is not known; choose one of cylinder, rotary, flail"),  # noqa: E501
    "not a backup": (("logbook", "restore", "nothere.sqlite"), "nothere.sqlite is not a file"),
    "nothing to follow": (("follow", "nothere.csv", "--once", *CRATE), "nothere.csv"),
    "missing argument": (("cable", "--length", "1"), "--size"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_gives_one_line_and_exit_code_2(name: str, run: Run, orchard_copy: Path) -> None:
    with open_logbook(orchard_copy) as book:
        before = dump(book)
    words, line = BAD[name]
    said = run(*words)
    assert said.code == 2, (said.out, said.err)
    assert said.out == ""
    told, _, below = said.err.partition("\n")
    assert line in told
    assert told.startswith("mowcharge: ")
    # A file that cannot be read is shown below the line.
    assert not below or below.split()[:4] == ["column", "title", "values", "taken"]
    with open_logbook(orchard_copy) as book:
        assert dump(book) == before


def dump(book: Any) -> str:
    import sqlalchemy as sa

    from estimator.logbook.tables import metadata

    with book.reading() as connection:
        return repr([connection.execute(sa.select(table)).all() for table in metadata.sorted_tables])


def test_trouble_with_the_logbook_is_exit_code_3(run: Run, tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(b"this is no logbook, and never was one" * 40)
    for words in (("mows", "--logbook", str(broken)), ("--logbook", str(broken), "mows")):
        said = run(*words)
        assert said.code == 3
        assert said.out == ""
        assert said.err.count("\n") == 1
    assert run("mows", "--logbook", str(tmp_path)).code == 3


def test_what_should_not_happen_is_one_line_with_the_details_in_a_file(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("deep inside")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("estimator.answers.plan.plan_of_day", fail)
    said = run("plan", *CRATE)
    assert said.code == 1
    assert said.err.count("\n") == 1
    assert "please report it" in said.err
    assert "Traceback" not in said.err + said.out
    (trouble,) = tmp_path.glob("mowcharge-trouble-*.txt")
    assert "deep inside" in trouble.read_text()
    assert trouble.stat().st_mode & 0o777 == 0o600, "the folder may be one that all share"


def test_stopping_a_command_is_one_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("estimator.answers.plan.plan_of_day", stop)
    said = run("plan", *CRATE)
    assert (said.code, said.err) == (1, "mowcharge: stopped\n")


def test_a_dry_run_keeps_nothing_and_draws(run: Run, orchard_copy: Path) -> None:
    with open_logbook(orchard_copy) as book:
        before = len(mows(book))
    said = run(
        "add", "2025-05-17a.csv", "--lawn", "far meadow", *CRATE, "--dry-run", "--picture", "looked.svg"
    )
    assert said.code == 0
    assert "nothing kept" in said.out
    assert "Already kept as mow 22, and counted once." in said.out and "from 24 logs" in said.out
    assert "<title>" in Path("looked.svg").read_text()
    with open_logbook(orchard_copy) as book:
        assert len(mows(book)) == before


def test_numbers_may_carry_their_unit_and_what_is_no_number_is_refused_in_plain_words(run: Run) -> None:
    grown = ["plan", "--json", "--pack"]
    in_inches = run(*grown, "green crate", "--growth-mm", "1 in", "--sure", "95 %").plain
    assert in_inches == run(*grown, "green crate", "--growth-mm", "25.4").plain
    sized = run("describe", "pack", "spare", "--chemistry", "nmc", "--volts", "36V", "--capacity-ah", "10 Ah")
    assert sized.out.startswith("pack spare: 10 nmc cells in series, charged to 42.0 V, 10 Ah")
    for words, refused in (
        (("plan", "--growth-mm", "wet"), "--growth-mm is 'wet'; give a number [mm]"),
        (
            ("capacity", "--size-ah", "15 kg"),
            "--size-ah is '15 kg': unit 'kg' is not known; use one of Ah, mAh",
        ),
        (("follow", "a.csv", "--every", "20s"), "--every is '20s': unit 's' is not known; give a number"),
        (("follow", "a.csv", "--every", "0.1"), "--every is 0.1; give 1 second or more"),
        (
            ("describe", "machine", "m", "--width", "0.43"),
            "machine m: cutting width is 0.0043 m; give 0.05 to 20 m",
        ),
        (("edit", "first", "--moisture", "dry"), "MOW is 'first'; give a whole number"),
    ):
        assert (said := run(*words)).code == 2
        assert said.err == f"mowcharge: {refused}\n"


def test_decimal_commas_are_taken_wherever_a_number_is_asked_for(run: Run) -> None:
    described = "describe pack spare --chemistry nmc --series 13 --capacity-ah {} --cut-off-v {}".format
    said = run(*described("10,5", "39,5").split())
    assert said.out.startswith(
        "pack spare: 13 nmc cells in series, charged to 54.6 V, 10.5 Ah, cut-off 39.5 V"
    )
    grown = "plan --growth-mm {} --start-charge {} --sure 90,5 --json --pack".format
    with_commas = run(*grown("25,5", "92,5").split(), "green crate").plain
    assert with_commas == run(*grown("25.5", "92.5").split(), "green crate").plain
    assert with_commas["start_charge"] == 0.925
    thousands = run(*described("1,200", "39").split())
    assert (thousands.code, thousands.err) == (
        2,
        "mowcharge: --capacity-ah is '1,200': the comma may be a decimal or a thousands mark; leave it out\n",
    )  # fmt: skip
    out_of_range = run("plan", "--growth-mm", "-2,5")
    assert out_of_range.code == 2
    assert out_of_range.err == "mowcharge: growth is -2.5 mm; give 0 to 5000 mm\n"
    assert run("plan", "--growth-mm", "two").code == 2


@pytest.mark.parametrize("place", ["empty", "mistyped"])
def test_a_slip_in_the_name_of_the_logbook_makes_no_new_one(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    at = tmp_path / "gardne" / "logbook.sqlite"
    words = ("--logbook", str(at)) if place == "mistyped" else ()
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(at))
    line = (
        f"mowcharge: there is no logbook at {at}; check the path, or begin one there with "
        "`mowcharge describe`\n"
    )
    for command in (
        "list", "mows", "show 3", "edit 3 --moisture wet", "remove 3", "restore 3", "plan",
        "minutes 2024-05-04a.csv", "capacity", "seasons", "compare --tag x", "pack-life", "track-record",
        "limits", "care", "grass", "add 2024-05-04a.csv --lawn x", "by-hand --lawn x --typical-a 5",
        "logbook backup copy.sqlite", "logbook check", "logbook export out", "logbook renew",
        "logbook repair 2024-05-04a.csv", "logbook purge 3 --yes", "report report.html",
    ):  # fmt: skip
        said = run(*command.split(), *words)
        assert (said.code, said.out, said.err) == (3, "", line), command
    assert run("logbook", "where", *words).out == f"{at} (not there yet)\n"
    assert not at.parent.exists()


def test_from_an_empty_logbook_to_a_recommended_pack_by_hand(run: Run, tmp_path: Path) -> None:
    new = ("--logbook", str(tmp_path / "new.sqlite"))
    first = run("describe", "lawn", "front", "--area", "3000 sqft", *new)
    assert first.out == "lawn front: 279 m² (3000 sqft)\n"
    assert first.err == f"a new logbook was made: {tmp_path / 'new.sqlite'}\n"
    assert (
        run(
            "describe",
            "pack",
            "grey",
            "--chemistry",
            "lfp",
            "--series",
            "16",
            "--capacity-ah",
            "20",
            "--cut-off-v",
            "44",
            *new,
        ).code
        == 0
    )
    assert run("describe", "machine", "reel", "--width", "17 in", "--motor", "2 kW", *new).out == (
        "machine reel: cut 43 cm, motor 2000 W\n"
    )
    read = "--typical-a 5 --idle-a 1.5 --highest-a 14 --minutes 22 --rest-before-v 53.2 --rest-after-v 52.6"
    said = run("by-hand", "--lawn", "front", *read.split(), "--moisture", "dry", *new)
    assert said.out.startswith("Mow 1 on front kept.")
    answer = run("capacity", "front", "--json", *new).plain
    # the mow took about 5 A for 22 minutes; little is known, so more is recommended
    assert answer["parts"][0]["ah"] == pytest.approx(2.2, rel=0.3)
    assert answer["parts"][0]["ah"] < answer["capacity_ah"]
    assert answer["motor"]["rated_w"] == 2000.0
    back = run("edit", "1", "--blank", "rest-after-v", "--blank", "highest-a", *new)
    assert " ".join(back.out.split()) == (
        "mow 1: highest current was 14 A, now not given; voltage at rest after was 52.6 V, now not given"
    )
    assert run("edit", "1", "--start-charge", "80", "--started", "2025-05-01T09:30", *new).code == 0
    undone = run("edit", "1", "--blank", "start-charge", "--blank", "started", *new)
    assert " ".join(undone.out.split()) == (
        "mow 1: start charge was 80 %, now not given; start was 2025-05-01 09:30, now not given"
    )
    bare = run("edit", "1", "--growth-mm", "22", "--blank", "moisture", *new)
    assert bare.out == "mow 1: growth was not given, now 22 mm; moisture was dry, now not given\n"
    again = run("edit", "1", "--blank", "start-charge", "--blank", "highest-a", *new)
    assert again.out == "mow 1: said all this already; nothing changed\n"
    notes = run("show", "1", *new).out
    assert re.search(r"grass +22 mm\n", notes) and re.search(r"started +unknown", notes)
    assert "highest amps taken back (was 14), volts at rest after taken back (was 52.6)." in " ".join(
        notes.split()
    )
    wrong = run("edit", "1", "--blank", "rest-aftr-v", *new)
    assert (wrong.code, wrong.err) == (
        2,
        "mowcharge: --blank 'rest-aftr-v' is not known; did you mean rest-after-v?\n",
    )


def test_output_is_plain_when_piped_and_fits_a_narrow_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "61")
    for words in (
        ("plan", "chapel strip", *CRATE),
        ("seasons", *CRATE),
        ("limits", *CRATE),
        ("motor", "--why"),
    ):
        said = run(*words)
        assert "\x1b" not in said.out
        assert max(len(line) for line in said.out.splitlines()) <= 72, words
        assert max(len(line) for line in said.out.splitlines() if line.startswith(("  - ", "! "))) <= 60


def test_headings_are_bold_on_a_terminal_unless_no_color(monkeypatch: pytest.MonkeyPatch) -> None:
    from estimator.cli import output

    class Terminal:
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert output.strong("x") == "\x1b[1mx\x1b[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert output.strong("x") == "x"


def test_edit_remove_restore(run: Run) -> None:
    assert run("edit", "33", "--moisture", "damp").out == "mow 33: moisture was wet, now damp\n"
    story = run("show", "33", "--json").plain
    assert story["record"]["grass"]["moisture"] == "damp"
    assert [each["what"] for each in story["history"]] == ["added", "edited"]
    assert run("remove", "33").code == 0
    assert 33 not in [each["id"] for each in run("mows", "--json").plain["mows"]]
    assert [each["id"] for each in run("mows", "--removed", "--json").plain["mows"]] == [33]
    assert run("restore", "33").code == 0
    assert run("remove", "33").code == 0
    assert run("logbook", "purge", "33", "--yes").code == 0
    assert run("show", "33").code == 2


def test_export_and_import_give_the_same_answers(run: Run, tmp_path: Path) -> None:
    assert run("logbook", "export", "out").code == 0
    new = str(tmp_path / "again.sqlite")
    assert "mows read from out" in run("logbook", "import", "out", "--logbook", new).out
    assert run("plan", *CRATE, "--json").plain == run("plan", *CRATE, "--json", "--logbook", new).plain


def test_an_export_says_how_far_it_is(
    orchard_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from estimator.cli.commands import logbook

    said: list[str] = []

    @contextmanager
    def told(doing: str) -> Iterator[Callable[[str], None]]:
        said.append(doing)
        yield said.append

    monkeypatch.setattr(logbook, "busy", told)
    logbook.export(str(tmp_path / "out"), str(orchard_file))
    assert said[:2] == ["exporting", "exporting mow 1 of 34"]
    assert said[-2:] == ["exporting mow 34 of 34", "writing checksums"]


def test_the_shell_completes_lawns_and_packs(orchard_file: Path) -> None:
    for words, expected in (
        (["plan", ""], {"apple rows", "chapel strip", "far meadow"}),
        (["plan", "--pack", "gr"], {"green crate"}),
    ):
        done = subprocess.run(
            [sys.executable, "-c", "from estimator.cli import main; main()"],
            env={
                "PATH": "/usr/bin", "MOWCHARGE_LOGBOOK": str(orchard_file), "_MOWCHARGE_COMPLETE": "complete_fish",  # noqa: E501
                "_TYPER_COMPLETE_ARGS": " ".join(["mowcharge", *words]), "_TYPER_COMPLETE_FISH_ACTION": "get-args",  # noqa: E501
            },
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        said = {line.split("\t")[0] for line in done.stdout.splitlines()}
        assert said == expected, done.stderr


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash")
def test_bash_gets_names_with_blanks_as_one_word(orchard_file: Path, tmp_path: Path) -> None:
    command = tmp_path / "mowcharge"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m estimator.cli "$@"\n')
    command.chmod(0o755)
    script = """
        eval "$("$1" --show-completion bash)"
        for word in ap '"ap' 'apple\\ r'; do
            COMP_WORDS=("$1" plan "$word") COMP_CWORD=2 COMPREPLY=()
            _mowcharge_completion "$1"
            printf '%s|' "${COMPREPLY[@]}"
        done
    """
    done = subprocess.run(
        ["bash", "-c", script, "bash", str(command)],
        env={**os.environ, "MOWCHARGE_LOGBOOK": str(orchard_file)},
        capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    assert done.stdout == r"apple\ rows|apple rows|apple\ rows|", done.stderr


HEAVY = ("numpy", "pandas", "scipy", "matplotlib", "sqlalchemy", "rich", "pydantic")


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; sys.argv = ['mowcharge', '--help']\n"
        "from estimator.cli import _run; code = _run(['--help'])\n"
        f"loaded = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "assert code == 0 and not loaded, loaded"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, timeout=300)


@pytest.mark.parametrize(
    "question",
    [
        ("plan", "chapel strip"),
        (
            "minutes",
            str(Path(__file__).parents[2] / "sample_logs" / "2025-05-17a.csv"),
            "--start-charge",
            "100",
        ),
        ("minutes", "--typical", "6", "--minutes", "12", "--start-charge", "99,5"),
    ],
)
def test_answers_in_text_load_neither_pictures_nor_tables(
    question: tuple[str, ...], orchard_copy: Path
) -> None:
    """Nor the validators of options: texts and numbers are taken as they are."""
    code = (
        "import sys\nfrom estimator.cli import _run\n"
        f"words = [*{question!r}, '--pack', 'green crate', '--logbook', {str(orchard_copy)!r}]\n"
        "assert _run(words) == 0\n"
        "slow = ('matplotlib', 'pandas', 'scipy.stats', 'scipy.signal', 'pydantic')\n"
        "loaded = [name for name in slow if name in sys.modules]\n"
        "assert not loaded, loaded"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stderr


def test_what_takes_long_is_said_on_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    import io
    import threading

    from estimator.cli import output

    said = threading.Event()

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

        def write(self, text: str) -> int:
            if "adding mow 3 of 9 ..." in text:
                said.set()
            return super().write(text)

    assert output.SAID_AFTER_S == 1.0
    monkeypatch.setattr(sys, "stderr", Terminal())
    monkeypatch.setattr(output, "SAID_AFTER_S", 3600.0)
    with output.busy("quick"):
        pass
    assert sys.stderr.getvalue() == ""
    monkeypatch.setattr(output, "SAID_AFTER_S", 0.0)
    with output.busy("starting") as progress:
        progress("adding mow 3 of 9")
        assert said.wait(300)
    assert sys.stderr.getvalue().endswith("\r\x1b[K")
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    before = threading.enumerate()
    with output.busy("piped"):
        assert set(threading.enumerate()) <= set(before), "nobody watches"
    assert sys.stderr.getvalue() == ""


def test_a_day_of_care_is_noted(run: Run) -> None:
    said = run("describe", "care", "2025-09-01", "reel lapped")
    assert said.out.startswith("care of cylinder mower on 2025-09-01: reel lapped\n! Take the battery off")
    assert "2025-09-01" in run("list").out
    assert run("care", "--json").plain["figures"]["since"] == "2025-09-01"
    assert run("describe", "care", "someday").code == 2


def test_cautions_stand_where_a_hand_comes_near_pack_or_machine(run: Run) -> None:
    acid = ("--chemistry", "lead_acid", "--series", "24", "--capacity-ah", "12", "--cut-off-v", "42")
    assert "! Lead-acid batteries give off hydrogen" in run("describe", "pack", "grey box", *acid).out
    follow = run("follow", "2025-09-27a.csv", "--once", *CRATE).out
    assert follow.startswith("! Lithium cells can burn") and follow.count("min left") == 1
    by_hand = ("by-hand", "--lawn", "apple rows", *CRATE, "--typical-a", "5", "--minutes", "20",
               "--rest-before-v", "53", "--dry-run")  # fmt: skip
    assert "! Clamp the cable before the blades turn." in run(*JSON["add"]).out
    once_more = run(*by_hand).out
    assert "! Clamp" not in once_more and "Cautions: measuring, probes, lithium cells - " in once_more


def test_a_mow_that_stopped_short_is_tagged_and_its_tags_are_explained(run: Run) -> None:
    by_hand = ("by-hand", "--lawn", "apple rows", *CRATE, "--typical-a", "5", "--minutes", "20",
               "--rest-before-v", "53", "--tag", "stopped short")  # fmt: skip
    assert run(*by_hand).code == 0
    assert {"stopped", "short"} <= set(run("mows", "--tag", "stopped short").out.split()), (
        "in one line or two"
    )
    listed = run("mows", "--tag", "stopped short", "--json").plain["mows"]
    assert listed and all("stopped short" in mow["tags"] for mow in listed)
    for command in ("add", "by-hand", "edit"):
        words = " ".join(run(command, "--help").out.split())
        assert "'stopped short' where the lawn was not finished" in words and "'lawn done'" in words


def test_one_way_to_tell_wet_grass(run: Run) -> None:
    told = " ".join(run("grass").out.split())
    assert "leaves a mark on a shoe" in told and "drips" in told
    assert "dry (leaves no mark on a shoe)" in " ".join(run("plan", "--help").out.split())
