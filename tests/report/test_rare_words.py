"""Words and pictures for rare cases: no tags, no end in sight, days since the last cut, holes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.answers.keeping.keep import Circumstances
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.minutes import MinutesQuestion, minutes_of_files
from estimator.answers.mow import MowsListed, story_of_mow
from estimator.cli.asked_by_hand import Said, _take_growth
from estimator.errors import InputError, ShownSheet, ShownTable
from estimator.importer.log import SpotNotes
from estimator.logbook import Change, Logbook, log_of, mows, open_logbook
from estimator.logbook.upkeep.checking import CheckReport
from estimator.page.screens.waiting import _needs
from estimator.report.pictures.answer_pictures import minutes_picture
from estimator.report.pictures.log_picture import MOST_POINTS, _thinned
from estimator.report.pictures.season_pictures import record_picture, seasons_picture
from estimator.report.plot import plot
from estimator.report.printable import mow_report
from estimator.report.words.change_text import changed_words, check_text
from estimator.report.words.described_text import described_text
from estimator.report.words.mow_text import mow_list_text, story_text
from estimator.report.words.refused_text import refused_text
from estimator.report.words.season_text import compared_in_short, track_record_text


@pytest.fixture(scope="module")
def book(orchard_file: Path) -> Any:
    with open_logbook(orchard_file) as opened:
        yield opened


def test_problems_of_a_logbook_are_listed() -> None:
    found = CheckReport(mows=3, files=4, file_bytes=5000, problems=("mow 1 has no file", "mow 2 has no file"))
    assert check_text(found, 72) == (
        "2 problems in 3 mows, 4 files, 5000 bytes:\n  - mow 1 has no file\n  - mow 2 has no file"
    )


def test_days_since_the_last_cut_are_days() -> None:
    change = Change("mow 3", "2025-05-01T09:00:00Z", "edited", {"days_since_cut": 7}, {"days_since_cut": 9.5})
    assert [line.partition(" was ")[2] for line in changed_words(change)] == ["7 days, now 9.5 days"]


def test_a_list_without_tags_has_no_column_for_them(book: Logbook) -> None:
    kept = mows(book)
    tagged = [mow for mow in kept if mow.tags][:2]
    plain = [replace(mow, tags=()) for mow in tagged]
    assert (
        "tags" in mow_list_text(MowsListed(2, tuple(tagged), (24.0, 15.0), (116.0, 80.0)), 72).splitlines()[0]
    )
    assert (
        "tags"
        not in mow_list_text(MowsListed(2, tuple(plain), (24.0, 15.0), (116.0, 80.0)), 72).splitlines()[0]
    )


def test_seasons_without_curves_are_not_drawn() -> None:
    answer: Any = SimpleNamespace(pack="green crate", curves=None)
    with pytest.raises(InputError) as refused:
        seasons_picture(answer)
    assert str(refused.value) == (
        "green crate has no discharge curves to draw; log a mow straight from the charger"
    )


def test_a_record_that_always_held_names_no_miss(book: Logbook) -> None:
    answer = record_so_far(book, last=10)
    held = replace(answer, predicted=tuple(each for each in answer.predicted if each.held))
    labels = [text.get_text() for text in record_picture(held).axes[0].get_legend().get_texts()]
    assert "within its band" in labels and "outside its band" not in labels


def test_minutes_without_an_end_are_drawn_without_a_middle(book: Logbook, samples: Path) -> None:
    path = samples / "2025-09-27a.csv"
    answer = minutes_of_files(book, MinutesQuestion(((path.name, path.read_bytes()[:20000]),), "green crate"))
    endless = replace(answer, minutes=np.inf, high=np.inf, ends_min=(np.inf,) * 100)
    for asked, lines in ((answer, 2), (endless, 0)):
        assert len(minutes_picture(asked).axes[1].lines) == lines


def test_a_long_log_with_a_hole_keeps_the_hole_and_its_extremes() -> None:
    n = 4 * MOST_POINTS
    values = np.sin(np.arange(n) / 50.0)
    values[n // 4 : n // 2] = np.nan
    times, kept = _thinned(np.arange(float(n)), values)
    assert len(times) <= MOST_POINTS
    assert np.nanmax(kept) == np.nanmax(values) and np.nanmin(kept) == np.nanmin(values)
    inside = (times >= n // 4 + 8) & (times < n // 2 - 8)
    assert inside.any() and np.isnan(kept[inside]).all()


def test_a_kept_mow_is_not_told_how_else_it_could_be_read(book: Logbook) -> None:
    two = next(each for each in mows(book) if "Two meters joined" in (each.notes or ""))
    assert any("overrules it" in note for note in log_of(book, two.id).notes)
    story = story_of_mow(book, two.id)
    said = [story_text(story, 72), mow_report(story, None, log_of(book, two.id))]
    for each in said:
        assert "Two meters joined" in " ".join(each.split())
        assert "overrules it" not in each


def test_nothing_that_could_be_compared_is_no_words() -> None:
    """Without a comparison, or with one that shows no change, the half line stays blank."""
    bare, unchanged = SimpleNamespace(comparisons=()), SimpleNamespace(changes=(), measure="pace")
    assert compared_in_short(bare) == ""  # type: ignore[arg-type]
    assert compared_in_short(SimpleNamespace(comparisons=(unchanged,))) == ""  # type: ignore[arg-type]


def test_a_track_record_of_energies_alone_says_nothing_of_finishes_and_half_way(book: Logbook) -> None:
    answer = record_so_far(book)
    bare = track_record_text(replace(answer, finishes=None, half_way=None), 72)
    assert "half-way" not in bare and "finish odds" not in bare
    assert ("half-way" in track_record_text(answer, 72)) == (answer.half_way is not None)


def test_a_logbook_with_a_lawn_alone_lists_it_alone() -> None:
    lawn = SimpleNamespace(name="orchard", area_m2=420.0)
    only = SimpleNamespace(lawns=(lawn,), packs=(), machines=(), meters={})
    assert described_text(only, 72).splitlines() == ["lawn      m²", "orchard  420"]  # type: ignore[arg-type]


def test_what_has_no_picture_is_refused() -> None:
    with pytest.raises(InputError, match="a int has no picture; give a log"):
        plot(3)


def test_a_sheet_without_columns_is_not_shown() -> None:
    shown = ShownTable((ShownSheet("notes", ()),), ())
    assert refused_text(shown, str) == ""


@pytest.mark.parametrize(
    ("said", "needs"),
    [
        ({"trouble": "It is no log.", "doubtful": "x"}, "It is no log."),
        ({"doubtful": "Its volts are odd."}, "Its volts are odd."),
        ({"day": "2026-05-04"}, "Its lawn and pack must be given."),
        ({"lawn": "a", "pack": "b", "started": "9:00"}, ""),
    ],
)
def test_what_an_upload_needs_before_it_is_kept(said: dict[str, str], needs: str) -> None:
    assert _needs(said) == needs


@pytest.mark.parametrize(
    ("text", "mm", "days"),
    [("30", 30.0, None), ("3 cm", 30.0, None), ("9 days", None, 9.0), ("2w", None, 14.0)],
)
def test_growth_is_a_height_or_the_days_since_the_last_cut(
    text: str, mm: float | None, days: float | None
) -> None:
    grass = _take_growth(Said(Circumstances("orchard"), SpotNotes()), text).mow.grass
    assert (grass.growth_mm, grass.days_since_cut) == (mm, days)
