"""What is unlikely about a mow is kept with it; every answer can use hand readings without volts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from estimator.answers.charge_curve import charge_of_mow
from estimator.answers.conversion import care_of_machine
from estimator.answers.figures.mow_figures import features_of_mows, figures_shown
from estimator.answers.figures.mow_log import ASIDE, doubts_of_mow, log_of_mow
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import pack_doubts, pack_now
from estimator.answers.keeping.after_mow import after_mow
from estimator.answers.keeping.changing import edit_mow
from estimator.answers.keeping.keep import Circumstances, add_mow, look_at_mow, spot_file
from estimator.answers.keeping.read_mow import MowFigures
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.mow import mows_listed, story_of_mow
from estimator.answers.plan import PlanQuestion, plan_of_day
from estimator.descriptions import DOUBTFUL, LAWN_DONE, RAN_OUT, STOPPED_SHORT, Lawn, Pack
from estimator.errors import InputError
from estimator.importer.by_hand.amps import mean_current
from estimator.importer.log import SpotNotes
from estimator.logbook import Logbook, keep_lawn, keep_pack, mow, mows, open_logbook, pack
from estimator.logbook.upkeep.export import export, readings_csv
from estimator.report.words.mow_text import mow_list_text

FOUR = SpotNotes(idle_a=1.5, typical_a=4.4, highest_a=12.0, minutes=26)
"""Four numbers on a scrap of paper."""


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with open_logbook(tmp_path / "own.sqlite") as found:
        keep_lawn(found, Lawn("apple rows", 420))
        keep_pack(found, Pack("nmc", 13, 10.0, 39.0, current_limit_a=30.0, name="crate"))
        yield found


def by_hand(book: Logbook, spot: SpotNotes, day: int = 3, **more: object) -> MowFigures:
    said = Circumstances(**{"lawn": "apple rows", "started": datetime(2025, 5, day, 9), **more})
    return add_mow(book, [spot_file(spot)], said)


def rows(*parts: tuple[float, int]) -> list[tuple[str, bytes]]:
    """A log of parts (amps, seconds), one after another."""
    amps = [a for a, seconds in parts for _ in range(seconds)]
    lines = [f"{k},{a + 0.1 * (k % 3):.1f},{53 - 0.001 * k - 0.1 * a:.2f}" for k, a in enumerate(amps)]
    return [("mow.csv", "\n".join(["time_s,current_a,voltage_v", *lines]).encode())]


def test_four_numbers_are_kept_and_asked_about(book: Logbook) -> None:
    kept = by_hand(book, FOUR, start_charge=1.0)
    assert kept.ah == pytest.approx(mean_current(FOUR).amps * 26 / 60, rel=0.03)
    assert 50 < kept.wh / kept.ah < 54
    assert any(note.startswith("No volts were read: 5") for note in kept.notes)
    assert "No volts were read" in mow(book, 1).notes
    story = story_of_mow(book, 1)
    assert (story.ah, story.energy_wh) == pytest.approx((kept.ah, kept.wh))
    assert charge_of_mow(book, 1).charge == pytest.approx(1 - kept.ah / 10, abs=0.06)
    assert log_of_mow(book, 1).readings["voltage_v"].notna().all()
    assert plan_of_day(book, PlanQuestion()).expected > 0.5


def test_what_a_charger_put_back_after_other_mows_corrects_a_mow_of_which_only_amps_are_known(
    book: Logbook,
) -> None:
    alone = by_hand(book, FOUR, start_charge=1.0)
    for day in (10, 17, 24):  # by the charger, the usual mean is 1.4 times what the amps suggest
        by_hand(book, replace(FOUR, put_back_ah=1.4 * alone.ah + 0.01 * day), day, start_charge=1.0)
    with_others = story_of_mow(book, 1)
    assert 1.1 * alone.ah < with_others.ah < 1.4 * alone.ah
    assert with_others.ah_std / with_others.ah < alone.ah_std / alone.ah
    assert "the other mows" in with_others.why.parts[0].note
    listed = mows_listed(book)
    assert (listed.minutes[0], listed.energy_wh[0]) == (with_others.minutes, with_others.energy_wh)
    found = charge_of_mow(book, 1)
    assert found.used_ah == pytest.approx(with_others.ah)
    assert found.low < 1 - with_others.ah / 10 < found.high < found.low + 0.3


def test_a_pack_learns_no_resistance_from_volts_that_nobody_read(book: Logbook) -> None:
    before = fit_of_pack(book, pack(book, "crate")).resistance_ohm
    by_hand(book, FOUR)
    assert fit_of_pack(book, pack(book, "crate")).resistance_ohm == pytest.approx(before, rel=1e-6)


def test_figures_of_four_numbers_are_the_same_when_they_are_worked_out_anew(book: Logbook) -> None:
    kept = by_hand(book, FOUR, start_charge=0.6)
    with book.writing() as connection:
        connection.exec_driver_sql("delete from derived")
    again = features_of_mows(book)[1]
    assert again.energy_wh == pytest.approx(kept.wh)
    assert again.energy_log_std == pytest.approx(kept.wh_std / kept.wh)


def test_four_numbers_follow_their_mow_to_another_pack_and_need_one(book: Logbook) -> None:
    by_hand(book, FOUR)
    keep_pack(book, Pack("lfp", 12, 10.0, 30.0, name="box"))
    edit_mow(book, 1, pack="box")
    assert features_of_mows(book)[1].typical_v == pytest.approx(39, abs=1)
    with pytest.raises(InputError) as refused:
        edit_mow(book, 1, pack=None)
    assert str(refused.value).startswith("by hand.csv: volts are missing, and no pack is known")
    assert mow(book, 1).pack == "box"


def test_minutes_left_after_four_numbers(book: Logbook) -> None:
    """2.25 of 10 Ah are gone after 26 minutes; about 5 A go on, so some 85 minutes are left."""
    question = MinutesQuestion(files=(spot_file(FOUR),), start_charge=1.0)
    left = minutes_of_files(book, question)
    assert left.low < 85 < left.high


def test_four_numbers_are_exported(book: Logbook, tmp_path: Path) -> None:
    by_hand(book, FOUR)
    export(book, tmp_path / "out")
    lines = (tmp_path / "out" / "readings" / "0001.csv").read_text().splitlines()
    assert len(lines) == 8
    assert readings_csv(book, 1).splitlines() == lines


@pytest.mark.parametrize(
    ("spot", "words"),
    [
        (
            SpotNotes(typical_a=44, minutes=6, rest_before_v=54, rest_after_v=53.5),
            "Typical amps are 44, over the limit of 30 A of crate: check them.",
        ),
        (
            SpotNotes(typical_a=4.4, minutes=600, rest_before_v=54),
            "4.4 A typical for 600 min are more than crate holds (10 Ah): check amps and minutes.",
        ),
        (
            SpotNotes(typical_a=4.4, minutes=20, rest_before_v=36, rest_after_v=53.5),
            "Volts at rest before are 36, below the cut-off of 39 V at which crate stops: check them.",
        ),
        (
            SpotNotes(typical_a=4.4, minutes=20, rest_before_v=50, rest_after_v=53.5),
            "Volts at rest rise from 50 to 53.5 while mowing: check them.",
        ),
    ],
)
def test_unlikely_hand_readings_are_noted_and_kept_as_noted(
    book: Logbook, spot: SpotNotes, words: str
) -> None:
    said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9))
    assert words in look_at_mow(book, [spot_file(spot)], said).figures.notes
    kept = by_hand(book, spot)
    assert words in kept.notes
    assert words in mow(book, 1).notes.splitlines()
    assert words in doubts_of_mow(book, 1, log_of_mow(book, 1))
    assert kept.ah > 0
    assert kept.ah_std > 0
    aside = spot.minutes == 600  # 40 Ah cannot be of a pack of 10 Ah; the others are only unlikely
    assert (DOUBTFUL in mow(book, 1).tags) is (ASIDE in kept.notes) is aside


def test_a_slip_of_the_minutes_is_set_aside_until_it_is_corrected_and_a_tag_taken_off_stays_off(
    book: Logbook,
) -> None:
    """4.4 A for 220 min are 14.9 Ah from a pack of 10; for 22 min they are 1.5 Ah."""
    for day in (3, 4):
        by_hand(book, replace(FOUR, minutes=20 + day), day)
    before = plan_of_day(book, PlanQuestion()).expected
    slip = replace(FOUR, idle_a=None, minutes=220)
    by_hand(book, slip, 10)
    assert plan_of_day(book, PlanQuestion()).expected == before
    assert DOUBTFUL not in edit_mow(book, 3, hand={"minutes": 22}).tags
    assert DOUBTFUL in edit_mow(book, 3, hand={"minutes": 220}, tags=("dusty",)).tags
    assert edit_mow(book, 3, tags=("dusty",)).tags == ("dusty",)
    assert edit_mow(book, 3, hand={"typical_a": 4.5}).tags == ("dusty",)


@pytest.mark.parametrize(
    ("spot", "line"),
    [
        (SpotNotes(minutes=20, rest_before_v=54), "typical amps are missing"),
        (
            SpotNotes(minutes=20, typical_a=4.4, highest_a=3),
            "typical amps of 4.4 are above highest amps of 3",
        ),
    ],
)
def test_what_cannot_be_is_not_kept(book: Logbook, spot: SpotNotes, line: str) -> None:
    with pytest.raises(InputError, match=f"^by hand.csv: {line}"):
        by_hand(book, spot)


def test_a_log_that_ends_while_cutting_is_noted_until_it_is_tagged(book: Logbook) -> None:
    short = rows((1.5, 20), (5.0, 300), (1.5, 5), (5.0, 200))
    said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9))
    note = next(note for note in add_mow(book, short, said).notes if "ends while cutting" in note)
    assert note == (
        "The log ends while cutting, at 5.2 A and 52.0 V: tag the mow 'stopped short' if the lawn was not "
        "finished, or 'ran out' if the battery stopped the motor."
    )
    assert note in mow(book, 1).notes
    assert doubts_of_mow(book, 1, log_of_mow(book, 1)) == (note,)
    edit_mow(book, 1, tags=(STOPPED_SHORT,))
    assert doubts_of_mow(book, 1, log_of_mow(book, 1)) == ()
    assert not features_of_mows(book)[1].whole


def test_a_log_that_ends_at_rest_is_not_doubted(book: Logbook) -> None:
    whole = rows((0.0, 30), (5.0, 300), (1.5, 5), (0.0, 30))
    said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9))
    assert not any("ends while cutting" in note for note in add_mow(book, whole, said).notes)


def test_a_mow_by_hand_has_one_charge_before_it_is_kept_then_and_afterwards(book: Logbook) -> None:
    """What the charger put back after earlier mows counts in all three, so none is plain amps times hours."""
    for day in (1, 2):
        by_hand(book, replace(FOUR, minutes=25.0 + day, put_back_wh=120.0), day, start_charge=1.0)
    said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9), start_charge=1.0)
    seen = look_at_mow(book, [spot_file(FOUR)], said).figures
    kept = by_hand(book, FOUR, start_charge=1.0)
    story = story_of_mow(book, 3)
    assert (seen.ah, seen.wh, seen.ah_std) == pytest.approx((kept.ah, kept.wh, kept.ah_std))
    assert (story.ah, story.energy_wh, story.ah_std) == pytest.approx((kept.ah, kept.wh, kept.ah_std))
    assert charge_of_mow(book, 3).used_ah == pytest.approx(kept.ah)
    assert kept.ah > 1.03 * mean_current(FOUR).amps * 26 / 60
    assert not any("Ah within" in note for note in kept.notes)


def test_idle_amps_by_hand_and_those_of_logs_make_no_trend_together(book: Logbook) -> None:
    """A meter's hold and the turns of a log differ a little; care follows those there are more of."""
    idle_then_cut = ((1.5, 90), (6.0, 500), (1.5, 90), (6.0, 500))
    for day in range(1, 6):
        files = rows((0.0, 30), *idle_then_cut, (0.0, 30 + day))
        add_mow(book, files, Circumstances(lawn="apple rows", started=datetime(2025, 5, day, 9)))
    for day in range(6, 8):
        by_hand(book, SpotNotes(idle_a=2.5, typical_a=6.0, minutes=20 + day), day)
    logged = care_of_machine(book).figures.idle
    assert logged is not None and (logged.mows, logged.real) == (5, False)
    for day in range(8, 13):
        by_hand(book, SpotNotes(idle_a=2.5, typical_a=6.0, minutes=20 + day), day)
    read = care_of_machine(book).figures.idle
    assert read is not None and read.mows == 7


@pytest.mark.parametrize("by_hand_too", [False, True])
def test_a_battery_that_ran_out_holds_what_it_gave(book: Logbook, by_hand_too: bool) -> None:
    """By its label 10 Ah; 5 A for an hour and it stopped the motor."""
    said = Circumstances("apple rows", started=datetime(2025, 5, 3, 9), start_charge=1.0)
    if by_hand_too:
        kept = by_hand(book, SpotNotes(mean_a=5.0, minutes=60), start_charge=1.0)
    else:
        kept = add_mow(book, rows((1.5, 20), (5.0, 3600)), said)
    crate = pack(book, "crate")
    assert fit_of_pack(book, crate).by_its_label
    edit_mow(book, 1, tags=(RAN_OUT,))
    fitted = fit_of_pack(book, crate)
    assert fitted.usable_ah == pytest.approx(kept.ah, rel=0.04)
    assert "until it stops the motor itself" in pack_now(fitted).known_from or by_hand_too
    assert "Have them measured" in " ".join(pack_doubts(fitted))
    assert not features_of_mows(book)[1].whole
    edit_mow(book, 1, tags=(RAN_OUT, LAWN_DONE))
    assert features_of_mows(book)[1].whole and fit_of_pack(book, crate).usable_ah == fitted.usable_ah
    edit_mow(book, 1, tags=())
    assert fit_of_pack(book, crate).by_its_label


def test_a_hand_mow_has_one_energy_wherever_it_is_shown(book: Logbook) -> None:
    """A counted charge with the first mow shows the person's habit, which then corrects the others."""
    by_hand(book, replace(FOUR, put_back_ah=2.6), day=3, start_charge=1.0)
    by_hand(book, FOUR, day=10, start_charge=1.0)
    compared = after_mow(book, 2).predicted
    raw, shown = (found(book, [mow(book, 2)])[2].energy_wh for found in (features_of_mows, figures_shown))
    assert compared is not None and compared.energy_came_wh == shown != raw
    assert mows_listed(book).energy_wh[1] == shown


def test_a_tag_that_answers_act_on_is_known_whatever_its_capitals_and_nothing_near_it_is_taken(
    book: Logbook,
) -> None:
    add_mow(book, rows((1.5, 20), (5.0, 600)), Circumstances("apple rows", tags=("Stopped Short",)))
    assert mow(book, 1).tags == (STOPPED_SHORT,)
    edit_mow(book, 1, tags=("RAN out", "Rear roller off"))
    assert mow(book, 1).tags == (RAN_OUT, "Rear roller off")
    for near, meant in (("run out", "ran out"), ("lawns done", "lawn done"), ("doubtfull", "doubtful")):
        with pytest.raises(InputError, match=f"^tag '{near}' means nothing; write '{meant}', or a word less"):
            edit_mow(book, 1, tags=(near,))
    edit_mow(book, 1, tags=("rain", "sharpened", "short grass"))
    assert mow(book, 1).tags == ("rain", "sharpened", "short grass")


@pytest.mark.parametrize(
    ("known", "said"), [({}, True), ({"rest_before_v": 53.8}, False), ({"gauge_before": 0.9}, False)]
)
def test_minutes_by_hand_say_that_nobody_told_of_the_start(
    book: Logbook, known: dict[str, float], said: bool
) -> None:
    half = replace(FOUR, minutes=12, **known)
    for start_charge in (None, 1.0):
        answer = minutes_of_files(book, MinutesQuestion((spot_file(half),), start_charge=start_charge))
        expected = said and start_charge is None
        assert ("Nobody said how full the pack was: nine in ten begin full." in answer.remarks) is expected


def test_a_mow_set_aside_is_listed_and_the_list_says_how_it_counts(book: Logbook) -> None:
    """Once seen: it vanished from the list without a line."""
    by_hand(book, FOUR)
    assert DOUBTFUL not in mow_list_text(mows_listed(book), 72)
    edit_mow(book, 1, tags=(DOUBTFUL,))
    assert mows(book) == [] and [each.id for each in mows_listed(book).mows] == [1]
    said = " ".join(mow_list_text(mows_listed(book), 72).split())
    assert said.endswith(
        "`mowcharge show 1` says why; without the tag, which `mowcharge edit 1` takes off, it counts."
    )
