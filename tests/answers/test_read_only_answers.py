"""Figures that are not kept are worked out again, and kept only where the logbook can be written."""

from __future__ import annotations

from estimator.answers.figures.finish_odds import GIVEN, GIVEN_VERSION
from estimator.answers.figures.pack_curves import CURVE, CURVE_VERSION, curves_of_pack
from estimator.answers.figures.replay import PREDICTED, PREDICTED_VERSION
from estimator.answers.figures.said_half_way import SAID, SAID_VERSION
from estimator.answers.looking_back.track_record import record_so_far
from estimator.answers.mow import story_of_mow
from estimator.logbook import Logbook, edit_mow, forget_derived, log_of, mows, pack
from estimator.logbook.records.derived import derived_of_mows
from estimator.report.printable import mow_report
from estimator.report.words.mow_text import story_text

CRATE = "green crate"


def test_curves_and_stories_need_no_kept_figures(orchard: Logbook) -> None:
    crate = pack(orchard, CRATE)
    ids = [mow.id for mow in mows(orchard, pack=CRATE) if mow.started is not None]
    curves, story = curves_of_pack(orchard, crate, 9.0), story_of_mow(orchard, ids[0])
    assert len(curves) > 5
    for number in ids:
        forget_derived(orchard, number, CURVE)
    forget_derived(orchard, ids[0])
    fixed = Logbook(orchard.engine, orchard.where, orchard.path, read_only=True)
    for book, kept in ((fixed, 0), (orchard, len(ids))):
        again = curves_of_pack(book, crate, 9.0)
        assert again == curves
        assert story_of_mow(book, ids[0]) == story
        assert len(derived_of_mows(orchard, CURVE, CURVE_VERSION, ids)) == kept


def test_a_mow_without_notes_has_no_word_of_them(orchard: Logbook) -> None:
    noted = edit_mow(orchard, 1, notes="wet under the trees")
    assert "Recognised and corrected" in story_text(story_of_mow(orchard, noted.id), 72)
    edit_mow(orchard, 1, notes="")
    assert "Recognised and corrected" not in story_text(story_of_mow(orchard, 1), 72)


def test_a_report_without_a_charge_leaves_it_out(orchard: Logbook) -> None:
    report = mow_report(story_of_mow(orchard, 1), None, log_of(orchard, 1))
    assert "The log" in report and "charge left at the end" not in report


def test_a_track_record_is_replayed_without_being_kept(orchard: Logbook) -> None:
    """For a logbook that can only be read, each figure is worked out and none is kept."""
    kinds = ((GIVEN, GIVEN_VERSION), (SAID, SAID_VERSION), (PREDICTED, PREDICTED_VERSION))
    ids = [mow.id for mow in mows(orchard)]
    for number in ids:
        for kind, _ in kinds:
            forget_derived(orchard, number, kind)
    fixed = Logbook(orchard.engine, orchard.where, orchard.path, read_only=True)
    once = record_so_far(fixed)
    assert not any(derived_of_mows(orchard, kind, version, ids) for kind, version in kinds)
    assert record_so_far(orchard) == once
    assert all(derived_of_mows(orchard, kind, version, ids) for kind, version in kinds)
    assert record_so_far(orchard) == once, "from what was kept"
