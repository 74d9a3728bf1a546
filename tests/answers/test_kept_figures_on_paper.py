"""What is kept of mows and packs: places in a chain, which fits stay, days of care, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.answers.figures import (
    load_profile,
    mow_figures,
    pack_chain,
    pack_curves,
    pack_fits,
    pack_steps,
)
from estimator.answers.figures.mow_figures import (
    as_noted,
    days_since_care_on,
    latest_day,
    marked,
    plain_used,
    with_care,
)
from estimator.answers.figures.pack_steps import KEEP_LAST, Chain, PackStep, Place, _root_of, next_mark
from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.phases import PowerTrace
from estimator.logbook import MowRecord

BOOK: Any = SimpleNamespace(keeps=True)
FIRST = datetime(2025, 5, 1, 9)
PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, name="crate")
MOW = MowFeatures(
    lawn="green", area_m2=300.0, energy_wh=100.0, motor_s=3e3, mean_w=120.0, peak_1s_w=200.0, peak_5s_w=180,
    peak_30s_w=150.0, typical_v=50.0, energy_log_std=0.06, pace_log_std=0.02, gain_std=0.08, step_s=1.0,
    gap_s=0.0, trace=PowerTrace.of(np.full(5, 90.0)), started="2025-05-09T10:00:00", temperature_c=12.0,
)  # fmt: skip


class Open:
    """A logbook that may be read and written, and does nothing by itself."""

    keeps = True

    def reading(self) -> Open:
        return self

    writing = reading

    def __enter__(self) -> Open:
        return self

    def __exit__(self, *_: object) -> None:
        return None


def records(count: int) -> tuple[MowRecord, ...]:
    return tuple(MowRecord(k + 1, "green", started=FIRST + timedelta(days=k)) for k in range(count))


def chain(count: int) -> Chain:
    places = tuple(
        Place(each.id, each.started.isoformat() if each.started else "", f"m{each.id}")
        for each in records(count)
    )
    return Chain("root", places, 0, count + 3)


@pytest.mark.parametrize("count", [0, 5, KEEP_LAST, KEEP_LAST + 6])
def test_an_end_keeps_its_last_places(count: int) -> None:
    whole = chain(count)
    end = whole.end()
    kept = list(range(max(count - KEEP_LAST, 0) + 1, count + 1))
    assert [place.mow for place in end.places] == kept
    assert (len(end), end.before, end.seen, end.root) == (count, count - len(kept), count + 3, "root")
    assert end.mark(count) == (f"m{count}" if count else "root") and whole.mark(0) == "root"
    if kept:
        assert end.mark(kept[0]) == f"m{kept[0]}"


def test_a_mow_that_follows_has_a_mark_of_its_own_and_of_all_before() -> None:
    """It joins after 68 of 70 mows; the two after it are left out until they follow again."""
    end = chain(KEEP_LAST + 6).end()
    new = MowRecord(99, "green", started=FIRST + timedelta(days=200))
    after = end.followed_by([new], KEEP_LAST + 4)
    assert [place.mow for place in after.places] == [*range(7, KEEP_LAST + 5), 99]
    assert (len(after), after.before, after.seen) == (KEEP_LAST + 5, 6, 99)
    mark = after.mark(len(after))
    assert mark == next_mark(f"m{KEEP_LAST + 4}", new) and after.places[-1].started == "2025-11-17T09:00:00"
    assert next_mark("m68", replace(new, temperature_c=9.0)) != mark
    assert next_mark("m68", replace(new, tags=("ran out",))) != mark
    assert next_mark("m68", replace(new, tags=("other",))) == mark
    assert end.followed_by([], len(end)) == end
    assert _root_of(PACK) == _root_of(replace(PACK, name="other")) != _root_of(replace(PACK, capacity_ah=9.0))


@pytest.mark.parametrize(
    ("day", "number", "steps"),
    [(3, 1, 8), (3, 99, 9), (9, 99, 11), (None, 99, 11), (-1, 99, 6)],
    ids=[
        "same start, lower number",
        "same start, higher number",
        "last",
        "no date",
        "before all that is kept",
    ],
)
def test_steps_before_a_mow_are_those_of_an_earlier_start_or_number(
    day: int | None, number: int, steps: int
) -> None:
    """Five places are kept of eleven: the numbers 1 to 5 on the first five days."""
    end = replace(chain(5), before=6)
    started = "" if day is None else (FIRST + timedelta(days=day - 1)).isoformat()
    assert end.steps_before((day is None, started, number)) == steps


@pytest.mark.parametrize(
    ("day", "places"),
    [(9, [1, 2, 3, 4, 5, 8]), (3, [1, 2, 3, 8, 4, 5]), (-1, None)],
    ids=["last", "in between", "before all that is kept"],
)
def test_mows_that_came_since_join_the_end_at_their_places(
    day: int, places: list[int] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = {each.id: each for each in records(5)}
    came = MowRecord(8, "green", started=FIRST + timedelta(days=day - 1))
    monkeypatch.setattr(pack_steps, "kept_end", lambda *_: replace(chain(5), before=6, seen=7))
    monkeypatch.setattr(pack_steps, "mows", lambda *_, above, **__: [came] if above == 7 else [])
    monkeypatch.setattr(pack_steps, "mow", lambda _, number: known[number])
    found = pack_steps.end_of_chain(Open(), PACK)  # type: ignore[arg-type]
    assert (None if found is None else [place.mow for place in found.places]) == places
    if found is not None:
        assert (len(found), found.before, found.seen) == (12, 6, 8)


def test_kept_steps_are_those_with_the_mark_of_now(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = {"capacity_ah": 9.0, "capacity_std_ah": 0.1, "resistance_ohm": 0.2}
    found = {1: {"mow": 1, "mark": "m1", **plain}, 2: {"mow": 2, "mark": "old", **plain}}
    monkeypatch.setattr(pack_steps, "derived_of_mows", lambda *_: found)
    assert pack_steps.kept_steps(BOOK, chain(3)) == (PackStep(1, "m1", 9.0, 0.1, 0.2), None, None)


@pytest.mark.parametrize(
    ("before", "dropped"), [(63, []), (64, []), (65, [2]), (79, [16]), (80, []), (81, [18]), (96, [])]
)
def test_of_earlier_fits_one_in_sixteen_stays(
    before: int, dropped: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After `before` steps the first of the last 64 is number before - 63; counted from nought it is
    before - 64, and stays where sixteen divides that."""
    gone: list[int] = []
    monkeypatch.setattr(pack_fits, "keep_derived", lambda *_: None)
    monkeypatch.setattr(pack_fits, "forget_derived", lambda _book, mow, _kind: gone.append(mow))
    fitted: Any = SimpleNamespace(as_plain=lambda: {"covariance": [[1.0, 2.0], [2.0, 3.0]]})
    book: Any = Open()
    pack_fits.keep_fit(book, chain(before), before, PackStep(1, "m", 1.0, 1.0, 1.0), fitted)
    assert gone == dropped


def test_a_fit_is_kept_to_nine_digits_and_half_its_covariance() -> None:
    plain = {"covariance": [[1 / 3, 2.0], [2.0, 3.0]], "names": ["a"], "logs": 2}
    folded = pack_fits._folded(plain)
    assert folded["covariance"] == [[1 / 3], [2.0, 3.0]] and pack_fits._unfolded(folded) == plain
    assert pack_fits._short(plain)["covariance"][0][0] == 0.333333333


@pytest.mark.parametrize(("wanted", "reached"), [(5, 3), (3, 3), (2, 0), (0, 0)])
def test_a_pack_goes_on_from_its_last_kept_fit(
    wanted: int, reached: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fits are kept after 3 mows and as the pack is described; each later step is taken and kept."""
    monkeypatch.setattr(pack_chain, "fit_at", lambda _b, _p, _c, at: at if at in (0, 3) else None)
    at = pack_chain._last_fit(BOOK, PACK, chain(5), wanted)
    assert at is not None and (at.steps, at.wanted, at.fitted) == (reached, wanted, reached)
    assert pack_chain._last_fit(BOOK, PACK, replace(chain(5), before=4), 4) is None
    known = {each.id: each for each in records(5)}
    kept: list[tuple[int, int]] = []
    said: list[str] = []
    monkeypatch.setattr(pack_chain, "mow", lambda _, number: known[number])
    monkeypatch.setattr(pack_chain, "log_of", lambda _, number: number)
    monkeypatch.setattr(pack_chain, "one_step", lambda fitted, log, *_: fitted * 10 + log)
    monkeypatch.setattr(
        pack_chain.PackStep, "of", classmethod(lambda _, record, mark, fitted: (record.id, mark))
    )
    monkeypatch.setattr(
        pack_chain, "keep_fit", lambda _b, _c, before, step, _f: kept.append((before, step[0]))
    )
    expected = reached
    for number in range(reached + 1, wanted + 1):
        expected = 10 * expected + number
    assert pack_chain._gone_on(BOOK, PACK, at, said.append) == expected
    assert kept == [(number - 1, number) for number in range(reached + 1, wanted + 1)]
    assert said == [f"fitting crate, mow {n} of {wanted}" for n in range(reached + 1, wanted + 1)]


def test_hand_readings_use_what_was_weighed() -> None:
    assert as_noted(MOW) == pytest.approx({"ah": 2.0, "wh": 100.0, "ah_std": 0.12, "wh_std": 6.0})
    used: Any = SimpleNamespace(ah=1, wh=2, ah_std=3, wh_std=4, measured_s=5, gap_s=6, gaps=())
    assert list(plain_used(used).values()) == [1, 2, 3, 4, 5, 6]


def test_figures_by_hand_are_shown_as_all_mows_together_correct_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """6 % of its own and 8 % that all share are 10 %; one mow alone, or a logged one, stays as it is."""
    hand = replace(MOW, spot=True)
    monkeypatch.setattr(
        "estimator.fitting.by_hand.habit.reweighed",
        lambda all_: [replace(one, energy_wh=90.0) for one in all_],
    )
    shown = mow_figures._with_habits({1: hand, 2: MOW}, {1: hand, 2: MOW, 3: hand})
    assert shown[1].energy_wh == 90.0 and shown[1].energy_log_std == pytest.approx(0.10)
    assert shown[2] == MOW and shown[3] == hand
    assert mow_figures._with_habits({1: hand}, {1: hand}) == {1: hand}


@pytest.fixture
def cared(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Blades cared for on the 1st and 8th by the description, on the 5th for any machine by an event."""
    machine = Machine(name="mower", blade_care=(date(2025, 5, 8), date(2025, 5, 1)))
    event = SimpleNamespace(machine=None, day=date(2025, 5, 5))
    monkeypatch.setattr(mow_figures, "machines", lambda _: [machine])
    monkeypatch.setattr(mow_figures, "events_of", lambda _, kind: [event] if kind == "blade care" else [])
    return machine


@pytest.mark.parametrize(
    ("day", "named", "days"),
    [(9, True, 1.0), (8, True, 0.0), (7, True, 2.0), (9, False, 4.0), (4, False, None), (None, True, None)],
)
def test_days_since_care_are_counted_from_the_last(
    cared: Any, day: int | None, named: bool, days: float | None
) -> None:
    on = None if day is None else date(2025, 5, day)
    assert days_since_care_on(BOOK, cared if named else None, on) == days
    lawn, started = Lawn("green", 200.0), None if day is None else datetime(2025, 5, day, 10)
    record = MowRecord(
        1, "green", grass=Grass("wet", 30.0, 8.0), started=started, machine="mower" if named else None
    )
    found = mow_figures._as_described(replace(MOW, started=None), record, lawn, mow_figures._care_days(BOOK))
    assert found.days_since_care == days and found.area_m2 == 200.0 and found.temperature_c == 12.0
    assert (found.moisture, found.growth_mm, found.days_since_cut) == ("wet", 30.0, 8.0)
    assert mow_figures._as_described(MOW, replace(record, temperature_c=5.0), lawn, {}).temperature_c == 5.0
    assert with_care(cared, BOOK).blade_care == tuple(date(2025, 5, each) for each in (1, 5, 8))


def test_the_latest_day_is_that_of_the_dated_mows() -> None:
    assert latest_day([MowRecord(1, "green"), *records(3), MowRecord(9, "green")]) == date(2025, 5, 3)
    assert latest_day([MowRecord(1, "green")]) is None


def test_a_mark_changes_with_figures_but_not_with_the_trace() -> None:
    other = replace(MOW, trace=PowerTrace.of(np.full(9, 80.0)))
    assert marked([MOW], 1) == marked([other], 1) != marked([replace(MOW, energy_wh=99.0)], 1)
    assert marked([MOW], 1) != marked([MOW], 2) and len(marked([])) == 20


@pytest.mark.parametrize(
    ("asked", "machine", "chosen"),
    [(None, "mower", [1, 2]), ("mower", "mower", [1, 2]), ("other", "other", [2])],
)
def test_a_profile_is_of_the_mows_with_a_machine_and_of_those_that_name_none(
    asked: str | None, machine: str, chosen: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    mows = [MowRecord(1, "green", machine="mower"), MowRecord(2, "green")]
    monkeypatch.setattr(
        load_profile, "features_of_mows", lambda _, these: {each.id: each.id for each in these}
    )
    monkeypatch.setattr(load_profile, "the_machine", lambda _, name: name)
    monkeypatch.setattr(load_profile, "with_care", lambda described, _: described)
    monkeypatch.setattr(load_profile, "machines", lambda _: [])
    monkeypatch.setattr("estimator.fitting.load.profile.fit_features", lambda found, one: (found, one))
    found: Any = load_profile.profile_of(BOOK, asked, mows)
    assert found == (chosen, machine)


def test_curves_are_placed_by_their_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 8 Ah, 0.75 of the charge is 2 Ah below full, known within 0.24; a mow without a day has no curve."""
    plain = {
        "used_ah": [0.0, 1.0], "rest_v": [54.0, 53.0], "load_a": 5.0, "resistance_ohm": 0.1,
        "resistance_std_ohm": 0.01, "quick_ohm": 0.1, "quick_std_ohm": 0.01, "line_std_v": 0.01,
        "temperature_c": 20.0, "temperature_std_c": 1.0, "start_ah": None, "start_std_ah": 0.0,
    }  # fmt: skip
    on = [
        replace(each, start_charge=start)
        for each, start in zip(records(4), (0.75, None, 1.0, 0.5), strict=True)
    ]
    kept = {1: plain, 2: plain, 3: {**plain, "start_ah": 0.0}, 4: {}}
    monkeypatch.setattr(pack_curves, "mows", lambda *_, **__: [*on, MowRecord(9, "green")])
    monkeypatch.setattr(pack_curves, "derived_of_mows", lambda *_: kept)
    found = pack_curves.curves_of_pack(BOOK, PACK, 8.0)
    assert [(one.mow, one.curve.start_ah) for one in found] == [(1, 2.0), (2, None), (3, 0.0)]
    assert [one.curve.start_std_ah for one in found] == pytest.approx([0.24, 0.0, 0.0])
    assert found[2].day == date(2025, 5, 3)


def test_the_usable_share_is_of_a_slow_discharge() -> None:
    from estimator.answers.figures.pack_now import PackNow

    found = PackNow(7.5, 0.2, 10.0, 0.3, "from 3 logs")
    assert found.usable_share == 0.75 and found.parts()[1].value == 10.0


def test_a_step_without_a_resistance_is_kept_without_one() -> None:
    bare: Any = SimpleNamespace(resistance_ohm=None, capacity_ah=1.0, capacity_std_ah=0.1)
    assert math.isnan(PackStep.of(records(1)[0], "m", bare).resistance_ohm)
