"""Minutes said half-way are kept with each mow, and what they make of later bands is used afterwards."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.answers.figures import finish_odds
from estimator.answers.figures import said_half_way as half_way_said
from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_steps import Chain, chain_of
from estimator.answers.figures.said_half_way import keep_stretch, said_half_way, with_record
from estimator.answers.looking_back.track_record import record_so_far
from estimator.descriptions import Pack
from estimator.logbook import Logbook, mows, open_logbook
from estimator.predictor import half_way
from estimator.predictor.half_way import HalfWayScore
from estimator.predictor.minutes import MinutesLeft

LEFT = MinutesLeft(20.0, 10.0, 40.0, 0.9, 0.5, 300.0)


def test_rows_of_mows_down_to_the_cut_off_are_kept(orchard: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    known = mows(orchard)
    features = features_of_mows(orchard, known)
    first = said_half_way(orchard, known, features)
    assert len(first) == sum(one.ended_at_cut_off for one in features.values()) > 0
    assert sum(one.low <= one.came <= one.high for one in first) >= len(first) - 1
    monkeypatch.setattr(half_way, "say_half_way", None)  # nothing is worked out again
    assert said_half_way(orchard, known, features) == first


def test_a_track_record_lists_the_mows_of_a_pack_once_for_odds_and_once_for_minutes(
    orchard: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed: list[str] = []

    def counted(book: Logbook, pack: Pack) -> Chain:
        listed.append(pack.name)
        return chain_of(book, pack)

    for module in (finish_odds, half_way_said):
        monkeypatch.setattr(module, "chain_of", counted)
    record_so_far(orchard)
    used = {mow.pack for mow in mows(orchard)}
    assert used and all(listed.count(pack or "") <= 2 for pack in used) and len(listed) >= len(used)


def test_a_band_is_as_wide_as_the_record_makes_it(orchard: Logbook) -> None:
    keep_stretch(orchard, None)
    assert with_record(orchard, LEFT) == LEFT
    keep_stretch(orchard, HalfWayScore(mows=6, held=3, miss=0.2, stretch=2.0))
    assert (with_record(orchard, LEFT).low, with_record(orchard, LEFT).high) == (5.0, 80.0)


def test_a_logbook_without_a_record_leaves_bands_as_they_are(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "empty.sqlite") as empty:
        assert with_record(empty, LEFT) == LEFT
