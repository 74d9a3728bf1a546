"""Minutes said half-way are kept with each mow, and how far they missed scales later bands."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from estimator.answers.figures import finish_odds
from estimator.answers.figures import said_half_way as half_way_said
from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.figures.pack_steps import Chain, chain_of
from estimator.answers.figures.said_half_way import keep_stretch, said_half_way, with_record
from estimator.answers.looking_back.track_record import record_so_far
from estimator.descriptions import Pack
from estimator.logbook import Logbook, MowRecord, mows, open_logbook
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


@pytest.mark.parametrize(
    ("kept", "place", "known"),
    [({2, 9}, 10, 9), ({2, 10}, 10, 10), ({0}, 3, 0), (set(), 3, None), ({16}, 80, 16), ({15}, 80, None)],
)
def test_a_pack_is_known_by_the_latest_kept_fit_of_the_mows_before(
    monkeypatch: pytest.MonkeyPatch, kept: set[int], place: int, known: int | None
) -> None:
    """Of the last 64 mows each fit is kept, if none was lost; one from longer ago is another pack."""
    nothing: Any = None
    monkeypatch.setattr(
        finish_odds, "fit_at", lambda book, pack, chain, steps: steps if steps in kept else None
    )
    assert finish_odds.known_then(nothing, nothing, nothing, place) == known


@pytest.mark.parametrize(
    ("one", "other"),
    [((9, 1), (1, 2)), ((1, 3), (2, 3)), ((5, None), (6, 3)), ((5, 3), (6, None))],
    ids=["day", "number on a day", "first without a day", "second without a day"],
)
def test_a_mow_comes_before_another_by_its_day_or_else_its_number(
    one: tuple[int, int | None], other: tuple[int, int | None]
) -> None:
    earlier, later = (
        MowRecord(number, "orchard", started=None if day is None else datetime(2025, 5, day))
        for number, day in (one, other)
    )
    assert finish_odds._precedes(earlier, later)
    assert not finish_odds._precedes(later, earlier) and not finish_odds._precedes(earlier, earlier)
