"""Steps of a pack, figures as shown and what a record scores, each fit and forecast stood in for."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.answers.figures import (
    finish_odds,
    mow_figures,
    mow_log,
    pack_chain,
    pack_curves,
    said_half_way,
)
from estimator.answers.figures.kept_sizing import _from_plain
from estimator.answers.figures.pack_chain import Reached, _fits, steps_of_pack
from estimator.answers.figures.pack_steps import Chain, PackStep, Place
from estimator.descriptions import Lawn, Machine, Pack
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.phases import RunTrace
from estimator.fitting.pack.prior import LABEL_STD
from estimator.logbook import MowRecord
from estimator.predictor import half_way
from estimator.predictor.half_way import SaidHalfWay
from estimator.predictor.narrowing import Doubt
from estimator.predictor.sizing.margin import MarginPart, Saving
from estimator.predictor.sizing.pack_sizes import SizeOdds
from estimator.predictor.sizing.recommend import RecommendedCapacity

FIRST = datetime(2025, 5, 1, 9)
PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="crate")
MOW = MowFeatures(
    lawn="green", area_m2=300.0, energy_wh=100.0, motor_s=3e3, mean_w=120.0, peak_1s_w=200.0, peak_5s_w=180,
    peak_30s_w=150.0, typical_v=50.0, energy_log_std=0.06, pace_log_std=0.02, gain_std=0.08, step_s=1.0,
    gap_s=0.0, trace=RunTrace.of(np.full(5, 90.0)), started="2025-05-09T10:00:00", temperature_c=12.0,
)  # fmt: skip


class Open:
    """A logbook that may be read and written, and does nothing by itself."""

    keeps = True

    def reading(self) -> Open:
        return self

    def __enter__(self) -> Open:
        return self

    def __exit__(self, *_: object) -> None:
        return None


BOOK: Any = Open()


def chain(count: int, before: int = 0) -> Chain:
    """Mows 1, 2, 3, ... a day apart, with marks m1, m2, m3, ...; an end without the first ones."""
    places = [Place(k, (FIRST + timedelta(days=k)).isoformat(), f"m{k}") for k in range(1, count + 1)]
    return Chain("root", tuple(places[before:]), before, count)


def record(number: int, **more: Any) -> MowRecord:
    return MowRecord(number, "green", started=FIRST + timedelta(days=number), **more)


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, str]]:
    """A fit that counts the mows it holds: each step adds a tenth of an ampere-hour. What is kept."""
    kept: list[tuple[int, str]] = []
    monkeypatch.setattr(pack_chain, "mow", lambda _book, number: record(number))
    monkeypatch.setattr(pack_chain, "log_of", lambda _book, number: number)
    monkeypatch.setattr(
        pack_chain,
        "one_step",
        lambda fitted, log, *_: SimpleNamespace(capacity_ah=fitted.capacity_ah + log, capacity_std_ah=0.1),
    )
    monkeypatch.setattr(
        pack_chain, "keep_fit", lambda _b, _c, before, step, _f: kept.append((before, step.mow))
    )
    return kept


@pytest.mark.parametrize("before", [0, 2])
def test_fits_go_on_from_the_mow_after_the_last_kept_one(before: int, kept: list[tuple[int, str]]) -> None:
    """From the fit of three mows of 100 Ah to that of five: mows 4 and 5 are learned, wherever the list of
    mows begins."""
    begins: Any = SimpleNamespace(capacity_ah=100.0)
    fits = _fits(BOOK, PACK, Reached(chain(5, before), 3, 5, begins), lambda _: None)
    assert [fit.capacity_ah for fit in fits] == [100.0, 104.0, 109.0]
    assert kept == [(3, 4), (4, 5)]


@pytest.mark.parametrize(
    ("steps", "fit", "again"), [(3, 3, []), (2, 2, [3]), (2, 1, [2, 3]), (0, 0, [1, 2, 3])]
)
def test_steps_that_are_kept_are_not_taken_again(
    steps: int, fit: int, again: list[int], kept: list[tuple[int, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kept capacities are 10 Ah and one for each mow; those after the last kept fit are worked out from it,
    and one that is kept beyond a gap counts for nothing."""
    known = [PackStep(k, f"m{k}", 10.0 + k, 0.1) for k in (1, 2, 3)]
    monkeypatch.setattr(pack_chain, "chain_of", lambda *_: chain(3))
    monkeypatch.setattr(
        pack_chain,
        "kept_steps",
        lambda *_: tuple(one if one.mow <= steps or (one.mow == 3 and steps == 0) else None for one in known),
    )
    monkeypatch.setattr(
        pack_chain,
        "fit_at",
        lambda _b, _p, _c, at: SimpleNamespace(capacity_ah=20.0) if at in (fit, 0) else None,
    )
    found = steps_of_pack(BOOK, PACK)
    assert [(one.mow, one.mark) for one in found] == [(k, f"m{k}") for k in (1, 2, 3)]
    worked_out = (20.0 + np.cumsum(again)).tolist()
    assert [one.capacity_ah for one in found] == [10.0 + k for k in range(1, fit + 1)] + worked_out
    assert [number for _, number in kept] == again


@pytest.mark.parametrize(("by_hand", "corrected"), [((), False), ((2,), True), ((1, 2), True), ((3,), False)])
def test_figures_are_corrected_by_all_mows_where_one_that_is_shown_was_noted_by_hand(
    by_hand: tuple[int, ...], corrected: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of three mows two are shown."""
    every = {k: replace(MOW, spot=k in by_hand, energy_wh=100.0 * k) for k in (1, 2, 3)}
    asked: list[list[int]] = []

    def features(_book: object, records: list[MowRecord]) -> dict[int, MowFeatures]:
        return {each.id: every[each.id] for each in records}

    def with_habits(known: dict[int, Any], found: dict[int, Any]) -> dict[int, Any]:
        asked.append(list(known))
        return dict.fromkeys(found, "corrected")

    monkeypatch.setattr(mow_figures, "features_of_mows", features)
    monkeypatch.setattr(mow_figures, "mows", lambda _: [record(k) for k in (1, 2, 3)])
    monkeypatch.setattr(mow_figures, "_with_habits", with_habits)
    shown = mow_figures.figures_shown(BOOK, [record(2), record(1)])
    assert shown == (dict.fromkeys((2, 1), "corrected") if corrected else {2: every[2], 1: every[1]})
    assert asked == [[1, 2, 3]] * corrected


def sized(**more: Any) -> RecommendedCapacity:
    size = SizeOdds(10.0, 0.99, 0.97, 0.95, 4)
    known = {
        "capacity_ah": 9.7, "sure": 0.95, "parts": (MarginPart("mean need", 9.7, "of all days"),),
        "pack": PACK, "sizes": (size, replace(size, capacity_ah=12.5, strings=None)), "choice": size,
        "coldest_c": 5.0, "energy_wh": 300.0, "peak_w": 900.0, "doubts": (Doubt("peaks", 0.4, "read MAX"),),
        "saving": Saving("read MAX", 0.8), "in_use": size, "cut_off": Saving("lower it", 0.3),
        "assumptions": ("grass as usual",),
    }  # fmt: skip
    return RecommendedCapacity(**{**known, **more})


@pytest.mark.parametrize("more", [{}, {"saving": None}, {"cut_off": None}, {"choice": None}])
def test_a_kept_size_is_the_one_that_was_worked_out(more: dict[str, Any]) -> None:
    found = sized(**more)
    assert _from_plain(asdict(found)) == found


@pytest.fixture
def replayed(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Mows of one pack whose marks are those of the chain; what is worked out and kept."""
    done: list[Any] = []
    for module in (finish_odds, said_half_way):
        monkeypatch.setattr(module, "packs", lambda _: [PACK])
        monkeypatch.setattr(module, "chain_of", lambda *_: chain(40))
        monkeypatch.setattr(module, "marked", lambda features, *more: (len(features), *map(str, more)))
        monkeypatch.setattr(
            module, "keep_derived", lambda _b, number, _w, _v, what: done.append((number, what["mark"]))
        )
        monkeypatch.setattr(
            module, "known_then", lambda _b, _p, _c, place: None if place == 4 else f"fit of {place}"
        )
    return done


def test_odds_are_scored_of_the_latest_mows_whose_start_charge_was_told(
    replayed: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mow 1 was not told, 2 is of another pack, 3 took nothing, 5 has no fit before it; 6 is kept as it is,
    7 with a mark of other mows."""
    told = [record(k, start_charge=1.0, pack="crate") for k in range(1, 9)]
    told[0], told[1] = replace(told[0], start_charge=None), replace(told[1], pack="other")
    features = {k: replace(MOW, energy_wh=0.0 if k == 3 else 10.0 * k) for k in range(1, 9)}
    features[8] = replace(features[8], tags=("stopped short",))
    asked: list[Any] = []

    def odds(before: object, fitted: str, mow: MowFeatures, one: MowRecord) -> float:
        asked.append((before, fitted, mow.energy_wh))
        return one.id / 10

    monkeypatch.setattr(finish_odds, "_odds", odds)
    monkeypatch.setattr(
        "estimator.fitting.load.profile.fit_features",
        lambda mows, _machine, before, points: (len(mows), before),
    )
    mark = (0, *(str((1,)) for _ in range(6)), "m5", "1.0")
    monkeypatch.setattr(
        finish_odds,
        "derived_of_mows",
        lambda _b, _w, _v, numbers: {6: {"mark": mark, "odds": 0.66}, 7: {"mark": "old", "odds": 0.0}},
    )
    found = finish_odds.scored_finishes(BOOK, told, features, Machine())
    assert [one.odds for one in found] == [0.4, 0.66, 0.7, 0.8]
    assert [one.done for one in found] == [True, True, True, False]
    assert asked == [
        ((3, None), "fit of 3", 40.0),
        ((6, (3, None)), "fit of 6", 70.0),
        ((7, (6, (3, None))), "fit of 7", 80.0),
    ]
    assert [number for number, _ in replayed] == [4, 7, 8]
    many = [record(k, start_charge=1.0, pack="crate") for k in range(1, 41)]
    every = dict.fromkeys(range(1, 41), MOW)
    scored = finish_odds.scored_finishes(BOOK, many, every, Machine())
    assert [one.odds for one in scored][-1] == 4.0 and len(scored) == 20


def test_minutes_are_said_half_way_of_the_latest_mows_that_ended_at_the_cut_off(
    replayed: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mow 2 is of another pack and 3 did not end at it; 4 is kept, 5 has no fit before it, so the label
    counts, and 6 was too short to say anything."""
    ended = [record(k, pack="other" if k == 2 else "crate") for k in range(1, 8)]
    features = {k: replace(MOW, ended_at_cut_off=k != 3) for k in range(1, 8)}
    asked: list[Any] = []

    def say(log: int, fitted: object, *_: object) -> SaidHalfWay | None:
        asked.append((log, fitted))
        return None if log == 6 else SaidHalfWay("green", None, float(log), 1.0, 2.0, 3.0)

    monkeypatch.setattr(half_way, "say_half_way", say)
    monkeypatch.setattr(said_half_way, "log_of", lambda _book, number: number)
    row = ["green", None, 44.0, 1.0, 2.0, 3.0]
    monkeypatch.setattr(
        said_half_way, "derived_of_mows", lambda *_: {4: {"mark": (1, "m3", "None"), "row": row}}
    )
    found = said_half_way.said_half_way(BOOK, ended, features)
    assert [one.minutes for one in found] == [1.0, 44.0, 5.0, 7.0]
    assert asked == [(1, "fit of 0"), (5, PACK), (6, "fit of 5"), (7, "fit of 6")]
    assert [number for number, _ in replayed] == [1, 5, 7]
    many = [record(k, pack="crate") for k in range(8, 41)]
    every = {k: replace(MOW, ended_at_cut_off=True) for k in range(8, 41)}
    latest = said_half_way.said_half_way(BOOK, many, every)
    assert [one.minutes for one in latest] == [float(k) for k in range(33, 41)]


def test_odds_are_asked_as_the_mow_began(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(
        "estimator.predictor.lawns.lawns_per_charge.lawns_per_charge",
        lambda *given, **more: asked.append((given, more)) or SimpleNamespace(odds=(0.7, 0.2)),
    )
    one = replace(MOW, moisture="wet", growth_mm=30.0, days_since_care=4.0)
    profile, fitted = object(), object()
    began = record(1, start_charge=0.8, temperature_c=11.0)
    assert finish_odds._odds(profile, fitted, one, began) == 0.7  # type: ignore[arg-type]
    told = {"start_charge": 0.8, "temperature_c": 11.0, "days_since_care": 4.0, "draws": finish_odds.DRAWS}
    assert asked == [((profile, fitted, [Lawn("green", 300.0)], one.grass), told)]


@pytest.mark.parametrize("listed", [True, False])
def test_a_pack_s_history_is_of_its_dated_mows_up_to_what_it_holds_now(
    listed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mow 2 has no day, 4 is no step of the pack, 3 no curve; 8 Ah within 0.4 are 5 %."""
    dated = [record(1), MowRecord(2, "green"), record(3), record(4)]
    curves = [SimpleNamespace(mow=1, curve="curve of 1"), SimpleNamespace(mow=2, curve="curve of 2")]
    asked: list[Any] = []

    def history(*given: Any) -> Any:
        asked.append(given)
        return SimpleNamespace(anchored=lambda *now: now)

    for name, stand_in in (
        ("steps_of_pack", lambda *_: [PackStep(k, f"m{k}", 10.0 - k, 0.1 * k) for k in (1, 2, 3)]),
        ("mows", lambda _book, pack: dated if pack == "crate" else []),
        ("features_of_mows", lambda _book, of: {k.id: replace(MOW, ended_at_cut_off=k.id == 3) for k in of}),
        ("fit_of_pack", lambda *_: SimpleNamespace(capacity_ah=8.0, capacity_std_ah=0.4)),
        ("curves_of_pack", lambda _book, _pack, capacity_ah: curves if capacity_ah == 8.0 else []),
    ):
        monkeypatch.setattr(pack_curves, name, stand_in)
    monkeypatch.setattr("estimator.fitting.seasons.capacity_history.capacity_history", history)
    of: Any = curves if listed else None
    found: Any = pack_curves.capacity_seen(BOOK, PACK, of)
    assert found == (8.0, pytest.approx(0.05))
    days = [(FIRST + timedelta(days=k)).date() for k in (1, 3)]
    spread = pytest.approx([0.1, 0.3])
    assert asked == [(days, [9.0, 7.0], spread, ["curve of 1", None], 13, 10.0, [False, True], LABEL_STD)]


@pytest.mark.parametrize(
    ("by_hand", "packed", "judged", "said"),
    [
        (True, True, True, ("spot", "habit", "idle", "peaks", "end")),
        (True, False, True, ("habit", "idle", "end")),
        (False, True, True, ("habit", "idle", "peaks", "end")),
        (True, True, False, ("spot",)),
        (False, True, False, ()),
    ],
)
def test_readings_by_hand_are_judged_with_a_pack_and_figures_against_other_mows(
    by_hand: bool, packed: bool, judged: bool, said: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Any] = []
    for place, what in (
        ("by_hand.spot_doubts.spot_doubts", "spot"), ("by_hand.spot_doubts.habit_doubts", "habit"),
        ("load.log_doubts.idle_doubts", "idle"), ("load.log_doubts.end_doubts", "end"),
        ("load.log_doubts.peak_doubts", "peaks"),
    ):  # fmt: skip
        monkeypatch.setattr(
            f"estimator.fitting.{place}", lambda *given, what=what: seen.append(given) or (what,)
        )
    log: Any = SimpleNamespace(spot="notes" if by_hand else None)
    others = iter([MOW, MOW])
    assert mow_log.doubts(log, PACK if packed else None, MOW if judged else None, others) == said
    compared = [given for given in seen if given[0] is MOW]
    assert compared == [(MOW, (MOW, MOW))] * (2 * judged)


@pytest.mark.parametrize(
    ("by_hand", "started", "others"),
    [(True, "2025-05-03", [1, 2, 4]), (False, "2025-05-03", "2025-05-03"), (False, None, "9")],
)
def test_a_log_is_compared_with_those_before_it_and_readings_by_hand_with_all_others(
    by_hand: bool, started: str | None, others: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mow_log, "mows", lambda _: [record(k) for k in (1, 2, 3, 4)])
    monkeypatch.setattr(mow_log, "mows_before", lambda _book, before, most: (before, most))
    monkeypatch.setattr(mow_log, "features_of_mows", lambda _book, of: of)
    found: Any = mow_log.others_of(BOOK, replace(MOW, spot=by_hand, started=started), 3)
    if by_hand:
        assert [each.id for each in found] == others
    else:
        assert found == (others, 20)
