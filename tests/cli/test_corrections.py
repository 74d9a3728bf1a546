"""Mistakes are corrected: hand readings, one log over two lawns, things described twice."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from estimator import cli
from estimator.answers.looking_back.pack_life import pack_life
from estimator.errors import NotYet
from estimator.logbook import (
    bytes_of,
    check,
    export,
    fingerprint,
    import_,
    lawns,
    log_of,
    mow,
    mows,
    open_logbook,
)

Say = Callable[..., str]
CRATE = ("describe", "pack", "crate", "--chemistry", "nmc", "--series", "13", "--capacity-ah", "10")
STAYS = "; its description stays in the history\n"
BY_HAND = ("by-hand", "--typical-a", "71", "--idle-a", "4", "--minutes", "25", "--rest-before-v", "53",
           "--start-charge", "100", "--started", "2025-05-01T09:30")  # fmt: skip


def ah_of(say: Say, number: int) -> float:
    return float(json.loads(say("show", str(number), "--json"))["ah"])


@pytest.fixture
def two(say: Say) -> Say:
    """The small logbook with two lawns and a pack."""
    say("describe", "lawn", "verge", "--area", "1/40 acre")
    say(*CRATE)
    return say


def test_every_hand_reading_can_be_edited(say: Say) -> None:
    say(*CRATE)
    say(*BY_HAND)
    wrong = ah_of(say, 1)
    said = say("edit", "1", "--typical-a", "7.1", "--highest-a", "12", "--minutes", "26")
    told = " ".join(said.removeprefix("mow 1: ").split()).split("; ")
    assert sorted(told) == [
        "highest current was not given, now 12 A",
        "minutes of mowing was 25 min, now 26 min",
        "tags were doubtful, now none",  # 71 A for 25 min are 27 Ah from a pack of 10
        "typical current was 71 A, now 7.1 A",
    ]
    assert ah_of(say, 1) < wrong / 4
    with open_logbook("logbook.sqlite") as book:
        spot = log_of(book, 1).spot
        assert spot is not None and (spot.typical_a, spot.idle_a, spot.highest_a, spot.minutes) == (
            7.1,
            4,
            12,
            26,
        )
        assert b"typical_a,71.0" in bytes_of(book, 1)[0][1], "the file stays as it was"
        assert (
            "Corrected by hand: " in mow(book, 1).notes and "typical amps 7.1 (was 71)" in mow(book, 1).notes
        )
    say("edit", "1", "--rest-after-v", "50")
    with open_logbook("logbook.sqlite") as book:
        spot = log_of(book, 1).spot
        assert spot is not None and (spot.typical_a, spot.rest_after_v) == (7.1, 50), "the first stays"
        assert (
            "typical amps 7.1 (was 71)" in mow(book, 1).notes and "after 50 (not read)" in mow(book, 1).notes
        )
    assert " ".join(say("edit", "1", "--typical-a", "71", "--highest-a", "80").split()).startswith(
        "mow 1: tags were none, now doubtful; highest current was 12 A, now 80 A; typical current was 7.1 A, "
        "now 71 A 71 A typical for 26 min are more than crate holds (10 Ah)"
    ), "what is unlikely of it is said as when it was typed"
    with open_logbook("logbook.sqlite") as book:
        assert "typical amps" not in mow(book, 1).notes, "it is as in the file again"
    said = " ".join(say("edit", "1", "--minutes", "40").split())
    assert said.startswith("mow 1: minutes of mowing was 26 min, now 40 min 71 A typical for 40 min are")
    assert "more than crate holds (10 Ah): check amps and minutes." in " ".join(say("show", "1").split())


@pytest.mark.parametrize(
    "read",
    [
        ("--put-back-ah", "3.2"),
        ("--socket-wh", "0.19 kWh", "--load-v", "46"),
        ("--put-back-wh", "150", "--rest-before-v", "53.5"),
    ],
)
def test_what_the_charger_put_back_stands_in_for_the_amps(say: Say, read: tuple[str, ...]) -> None:
    say(*CRATE)
    told = say("by-hand", "--minutes", "24:30", "--start-charge", "100", *read)
    assert told.startswith("Mow 1 on orchard kept.") and ah_of(say, 1) == pytest.approx(3.2, rel=0.15)
    with open_logbook("logbook.sqlite") as book:
        spot = log_of(book, 1).spot
        assert spot is not None and (spot.minutes, spot.typical_a) == (24.5, None)
    assert say("edit", "1", "--minutes", "24:40") == "mow 1: minutes of mowing was 24.5 min, now 24.67 min\n"
    assert "Corrected by hand: minutes 24.67 (was 24.5)." in say("show", "1")


def test_a_correction_that_cannot_be_is_refused(say: Say) -> None:
    say(*CRATE)
    say(*BY_HAND)
    assert say("edit", "1", "--highest-a", "60", code=2).endswith(
        "typical amps of 71 are above highest amps of 60; correct one, or swap them\n"
    )
    say("add", "mow.csv", "--start-charge", "100")
    assert "is a log, not hand readings; edit what was said of" in say("edit", "2", "--idle-a", "3", code=2)


def test_one_log_over_two_lawns(two: Say) -> None:
    said = two(
        "add", "mow.csv", "--lawn", "orchard", "--until", "10", "--lawn", "verge", "--start-charge", "100",
        "--started", "2025-05-01T12:30", "--tag", "stopped short",
    )  # fmt: skip
    assert said.startswith("Mow 1 on orchard and verge kept.\n")
    with open_logbook("logbook.sqlite") as book:
        area_m2 = sum(each.area_m2 for each in lawns(book))
    energy, per_area = (float(re.search(rf"([\d.]+) {unit}", said)[1]) for unit in ("Wh,", "Wh/m²"))  # type: ignore[index]
    assert per_area == pytest.approx(energy / area_m2, rel=0.02), "of both lawns"
    each = r"\d+ Wh, 0\.\d+ Wh/m²\)"
    parts = rf"mow 1 on orchard \(10 min, {each}, mow 2 on verge \(5 min, {each}"
    assert re.search(rf"Now split: one log, 2 mows: {parts}\.\n$", said)
    with open_logbook("logbook.sqlite") as book:
        first, second = mows(book)
        assert (first.lawn, second.lawn) == ("orchard", "verge")
        assert (str(first.started)[11:16], str(second.started)[11:16]) == ("12:30", "12:40")
        assert (first.start_charge, second.start_charge) == (1.0, None)
        assert (first.tags, second.tags) == ((), ("stopped short",))
        assert bytes_of(book, 1) == bytes_of(book, 2) and first.files == second.files
        assert second.notes == "Part of the log of mow 1, whose notes say what was recognised in it."
        logs = [log_of(book, number).readings for number in (1, 2)]
        assert [float(each.time_s.iloc[-1]) for each in logs] == [600.0, 299.0]
        assert check(book).problems == () and check(book).files == 1, "the bytes are kept once"
    whole = sum(9 + k % 5 for k in range(900)) / 3600
    assert ah_of(two, 1) + ah_of(two, 2) == pytest.approx(whole, rel=0.01)


def test_a_kept_mow_is_split_by_minutes_or_by_the_clock(two: Say) -> None:
    two("describe", "lawn", "bank", "--area", "60")
    two("add", "mow.csv", "--lawn", "orchard", "--started", "2025-05-01T12:30")
    said = two("split", "1", "--until", "5", "--lawn", "verge", "--until", "12:40", "--lawn", "bank")
    assert said.startswith("one log, 3 mows: mow 1 on orchard (5 min, ")
    with open_logbook("logbook.sqlite") as book:
        spans = {
            each.lawn: (f"{each.started:%H:%M}", log_of(book, each.id).readings.time_s.iloc[-1])
            for each in mows(book)
        }
    assert spans == {"orchard": ("12:30", 300.0), "verge": ("12:35", 300.0), "bank": ("12:40", 299.0)}


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ("add", "mow.csv", "--lawn", "orchard", "--lawn", "verge"),
            "--lawn is given 2 times and --until 0 times; say when each further lawn began, such as --lawn a "
            "--until 12:40 --lawn b, or in minutes",
        ),
        (("split", "1", "--until", "40", "--lawn", "verge"), "mow.csv: 40 would be minute 40 of the log; it "
         "must lie between minute 0 and minute 15; give the minutes from its start"),
        (("split", "1", "--until", "0", "--lawn", "verge"), "must lie between minute 0 and minute 15"),
        (("split", "1", "--until", "5", "--lawn", "vergr"), "did you mean 'verge'?"),
        (("split", "1", "--until", "whenever", "--lawn", "verge"), "date 'whenever' cannot be read"),
        (("split", "2", "--until", "5", "--lawn", "verge"), "which cannot be split; add a mow a lawn"),
        (("split", "9", "--until", "5", "--lawn", "verge"), "mow 9 is not in the logbook"),
        (("split", "1", "--until", "5"), "neither --lawn nor --pack is given; say which lawn or "
         "pack came next"),
        (("split", "1", "--until", "5", "--pack", "chest"), "pack 'chest' is not in the logbook"),
    ],
)  # fmt: skip
def test_a_split_that_cannot_be_changes_nothing(two: Say, words: tuple[str, ...], line: str) -> None:
    two("add", "mow.csv", "--lawn", "orchard")
    two(*BY_HAND, "--lawn", "orchard", "--rest-after-v", "50")
    with open_logbook("logbook.sqlite") as book:
        before = fingerprint(book)
    assert line in two(*words, code=2)
    with open_logbook("logbook.sqlite") as book:
        assert fingerprint(book) == before


def test_parts_go_with_the_export_and_keep_their_file(two: Say) -> None:
    two("add", "mow.csv", "--lawn", "orchard")
    two("split", "1", "--until", "5", "--lawn", "verge")
    two("remove", "1")
    assert "mow 1 keeps the file of mow 2; purge mow 2 first" in two("logbook", "purge", "1", "--yes", code=2)
    with open_logbook("logbook.sqlite") as book, open_logbook("new.sqlite") as new:
        export(book, Path("out"))
        assert import_(new, Path("out")) == 2
        assert fingerprint(new) == fingerprint(book)
        assert len(log_of(new, 2).readings) == len(log_of(book, 2).readings)


def test_what_no_mow_is_of_is_deleted(two: Say) -> None:
    two("add", "mow.csv", "--lawn", "orchard")
    two("describe", "machine", "flayer", "--kind", "flail")
    two("describe", "meter", "clamp", "--current-percent", "2")
    for kind, name in (("lawn", "verge"), ("machine", "flayer"), ("meter", "clamp")):
        assert two("describe", "delete", kind, name) == f"{kind} {name}: deleted{STAYS}"
    assert "verge" not in two("list")
    assert two("describe", "delete", "lawn", "orchard", code=2) == (
        "mowcharge: lawn 'orchard' is used by mow 1; merge it into another one, or edit that first\n"
    )
    assert "pack 'crate' is used by mow 1" in two("describe", "delete", "pack", "crate", code=2)
    assert two("describe", "delete", "lwan", "orchard", code=2) == (
        "mowcharge: what is described: 'lwan' is not known; did you mean lawn?\n"
    )
    assert "did you mean 'orchard'?" in two("describe", "delete", "lawn", "orchrad", code=2)


def test_two_of_one_are_merged(two: Say) -> None:
    two("describe", "pack", "crate again", *CRATE[3:])
    two("add", "mow.csv", "--lawn", "verge", "--pack", "crate again")
    assert two("describe", "merge", "lawn", "verge", "orchard") == "lawn verge: merged into orchard, 1 mow\n"
    assert two("describe", "merge", "pack", "crate again", "crate") == (
        "pack crate again: merged into crate, 1 mow\n"
    )
    with open_logbook("logbook.sqlite") as book:
        assert (mow(book, 1).lawn, mow(book, 1).pack) == ("orchard", "crate")
        assert [each.name for each in lawns(book)] == ["orchard"] and check(book).problems == ()
    assert "orchard" in two("plan")
    assert "cannot be merged into itself; name two" in two(
        "describe", "merge", "lawn", "orchard", "orchard", code=2
    )
    assert "choose one of lawn, pack, machine" in two("describe", "merge", "meter", "a", "b", code=2)


def test_each_sheet_of_a_workbook_is_a_mow_of_its_own_and_kept_once(two: Say) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["notes without readings"])
    for amps in (9, 7):
        sheet = book.create_sheet(f"mow at {amps} A")
        sheet.append(["s", "A", "V"])
        for second in range(900):
            sheet.append([second, amps + second % 5, 52 - second / 900])
    book.save("season.xlsx")
    add = ("add", "season.xlsx", "--lawn", "orchard")
    assert "('mow at 9 A', 'mow at 7 A'); say which, such as --sheet 'mow at" in two(*add, code=2)
    two(*add, "--sheet", "mow at 9 A")
    two(*add, "--sheet", "mow at 7 A")
    assert "is already in the logbook" in two(*add, "--sheet", "mow at 7 A", code=2)
    assert "Already kept as mow 2, and counted once." in two(*add, "--sheet", "mow at 7 A", "--dry-run")
    assert ah_of(two, 1) / ah_of(two, 2) == pytest.approx(11 / 9, rel=0.02)
    with open_logbook("logbook.sqlite") as kept:
        assert len(mows(kept)) == 2 and check(kept).problems == () and check(kept).files == 1


def test_mows_typed_one_after_the_other_are_asked_for_their_day(two: Say) -> None:
    again = ("by-hand", "--lawn", "orchard", "--typical-a", "7", "--minutes", "20")
    assert "began in these minutes too" not in two(*again)
    said = " ".join(two(*again, "--idle-a", "2").split())
    assert "Mow 1 of this pack began in these minutes too: if this one did not end just now" in said
    assert "`mowcharge edit 2 --started` says when it began" in said
    assert "began in these minutes too" not in two(*again, "--started", "2025-05-01T09:30")


@pytest.mark.parametrize(
    ("until", "line"),
    [
        (
            "12:29",
            "12:29 would be minute 749 of the log, which began at 2025-05-01 00:00; it must lie between",
        ),
        ("60", "60 would be minute 60 of the log, which began at 2025-05-01 00:00"),
    ],
)
@pytest.mark.parametrize("more", [(), ("--dry-run",)])
def test_a_mow_that_cannot_be_split_is_not_kept_whole(
    two: Say, until: str, line: str, more: tuple[str, ...]
) -> None:
    asked = (
        "add",
        "mow.csv",
        "--lawn",
        "orchard",
        "--lawn",
        "verge",
        "--started",
        "2025-05-01",
        *more,
        "--until",
    )
    assert line in two(*asked, until, code=2)
    with open_logbook("logbook.sqlite") as book:
        assert mows(book) == []
    assert ("It would be split: orchard (10 min, " if more else "Now split: one log, 2 mows") in two(
        *asked, "10"
    )


@pytest.mark.parametrize("typed", ["about 12", "~12 Ah", "12?", "ca. 12,0"])
def test_a_guessed_capacity_is_said_as_a_guess_until_its_label_is_found(say: Say, typed: str) -> None:
    say("describe", "lawn", "verge", "--area", "100")
    guessed = " ".join(say(*CRATE[:-1], typed).split())
    assert (
        "about 12 Ah, guessed, cut-off 39 V" in guessed and "a mow from full to the cut-off shows" in guessed
    )
    assert (
        "about 12" in say("list")
        and json.loads(say("list", "--json"))["packs"][0]["capacity_guessed"] is True
    )
    left = " ".join(say("minutes", "--typical", "9", "--minutes", "10", "--start-charge", "100").split())
    assert "That crate holds 12 Ah is a guess, which may be off by a third and more" in left
    assert "crate, about 12 Ah, guessed; now" in " ".join(say("capacity", "verge").split())
    with open_logbook("logbook.sqlite") as book:
        export(book, Path("out"))
        with open_logbook("again.sqlite") as again:
            import_(again, Path("out"))
            assert fingerprint(again) == fingerprint(book)
    say("describe", "pack", "crate", "--cut-off-v", "40")
    assert "about 12" in say("list"), "what is not given stays as it was"
    assert "13 nmc cells in series, charged to 54.6 V, 12 Ah, cut-off 40 V" in say(
        *CRATE[:3], "--capacity-ah", "12"
    )
    assert "about" not in say("list")


def test_what_shows_the_capacity_of_lead_acid_is_said_with_its_price(say: Say) -> None:
    say("describe", "lawn", "verge", "--area", "100")
    for name, chemistry, amps in (("box", "agm", "9"), ("crate", "nmc", "8")):
        say("describe", "pack", name, "--chemistry", chemistry, "--series", "12", "--capacity-ah", "30")
        say("by-hand", "--lawn", "verge", "--pack", name, "--typical-a", amps, "--minutes", "20")
    with open_logbook("logbook.sqlite") as book:
        said = {}
        for name in ("box", "crate"):
            with pytest.raises(NotYet) as refused:
                pack_life(book, (), name)
            said[name] = str(refused.value)
    assert said["crate"].endswith("log one from full until the cut-off stops the motor")
    assert "no shorter mow shows it, nor do its volts at rest" in said["box"]
    assert "a full discharge of the some 350 that it lasts" in said["box"]


def test_a_tag_of_blade_care_is_pointed_to_where_such_days_are_noted(two: Say) -> None:
    """Once seen: mows tagged with sharpened blades, of which `care` knew nothing."""
    noted = "Tag 'new blades' does not count as blade care: note the day with `describe care`."
    added = two("by-hand", "--lawn", "orchard", "--typical-a", "7", "--minutes", "20", "--tag", "new blades")
    assert noted in " ".join(added.split())
    assert noted in " ".join(two("edit", "1", "--tag", "new blades").split())
    assert "does not count" not in two("edit", "1", "--tag", "north side") + two("show", "1")


def test_a_start_keeps_the_half_that_is_not_named(two: Say) -> None:
    two(*BY_HAND, "--lawn", "verge")
    assert (
        two("edit", "1", "--started", "10:12") == "mow 1: start was 2025-05-01 09:30, now 2025-05-01 10:12\n"
    )
    assert two("edit", "1", "--started", "3 May 2025").endswith("now 2025-05-03 10:12\n")


def test_a_day_that_is_said_keeps_the_hour_of_a_log_without_a_date(two: Say) -> None:
    rows = [f"09:{30 + k // 30:02d}:{2 * (k % 30):02d},{8 + k % 3},{52 - k / 900:.2f}" for k in range(600)]
    Path("log.csv").write_text("Time,Amps (A),Volts (V)\n" + "\n".join(rows))
    two("add", "log.csv", "--lawn", "verge", "--pack", "crate", "--started", "2025-05-01")
    assert json.loads(two("show", "1", "--json"))["record"]["started"] == "2025-05-01T09:30:00"
    two("split", "1", "--until", "09:40", "--lawn", "orchard")
    assert json.loads(two("show", "2", "--json"))["record"]["started"] == "2025-05-01T09:40:00"


def test_what_takes_a_correction_back_is_named(two: Say, capsys: pytest.CaptureFixture[str]) -> None:
    two(*BY_HAND, "--lawn", "verge")
    assert cli._run(["edit", "1", "--untag", "x"]) == 2
    assert cli._run(["remove", "1"]) == 0 and cli._run(["remove", "1"]) == 2
    said = capsys.readouterr()
    assert "no option --untag; --blank tag takes it back" in said.err
    assert "mow 1 is removed already; restore brings it back" in said.err


def test_only_what_lacks_of_a_pack_is_asked_for(two: Say, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli._run(["describe", "pack", "new", "--volts", "48", "--capacity-ah", "20"]) == 2
    assert capsys.readouterr().err.endswith("pack new is not described yet; give --chemistry\n")
