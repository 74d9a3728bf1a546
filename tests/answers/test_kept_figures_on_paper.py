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
    pack_ahead,
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
from estimator.answers.figures.pack_ahead import _comes_after_waiting
from estimator.answers.figures.pack_chain import Rejoining, keep_links, rejoining
from estimator.answers.figures.pack_steps import (
    KEEP_LAST,
    Chain,
    ChainEnd,
    PackStep,
    Place,
    next_mark,
    root_of,
)
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
    return Chain("root", records(count), tuple(f"m{k + 1}" for k in range(count)), count + 3, "c", count)


@pytest.mark.parametrize("count", [0, 5, KEEP_LAST, KEEP_LAST + 6])
def test_an_end_keeps_its_last_places(count: int) -> None:
    whole = chain(KEEP_LAST + 6)
    end = whole.end(count)
    kept = list(range(max(count - KEEP_LAST, 0) + 1, count + 1))
    assert [place.mow for place in end.last] == kept
    assert [place.mark for place in end.last] == [f"m{k}" for k in kept]
    assert (end.steps, end.seen, end.root) == (count, KEEP_LAST + 9, "root")
    assert (end.mow, end.mark) == ((count, f"m{count}") if count else (0, "root"))


def test_one_more_mow_pushes_the_first_place_out() -> None:
    end = chain(KEEP_LAST + 6).end(KEEP_LAST)
    new = MowRecord(99, "green", started=FIRST + timedelta(days=200))
    after = end.after(new, 100)
    assert [place.mow for place in after.last] == [*range(2, KEEP_LAST + 1), 99]
    assert (after.steps, after.seen, after.mow) == (KEEP_LAST + 1, 100, 99)
    assert after.mark == next_mark(end.mark, new) and after.last[-1].started == "2025-11-17T09:00:00"
    assert next_mark(end.mark, replace(new, temperature_c=9.0)) != after.mark
    assert next_mark(end.mark, replace(new, tags=("ran out",))) != after.mark
    assert next_mark(end.mark, replace(new, tags=("other",))) == after.mark
    assert root_of(PACK) == root_of(replace(PACK, name="other")) != root_of(replace(PACK, capacity_ah=9.0))


@pytest.mark.parametrize(
    ("day", "steps", "stays"),
    [(3, 5, 3), (5, 5, 5), (None, 5, 5), (-1, 5, 0), (-1, 6, None), (0, 6, 1)],
    ids=["third day", "last day", "no date", "before all", "before all that is kept", "the first day"],
)
def test_the_end_before_a_mow_is_that_of_the_places_before_it(
    day: int | None, steps: int, stays: int | None
) -> None:
    """Five places are kept. Before them all, the chain begins anew if it has no more than these."""
    end = replace(chain(5).end(5), steps=steps)
    started = None if day is None else FIRST + timedelta(days=day - 1 if day > 0 else day)
    found = end.before(started)
    if stays is None:
        assert found is None
    else:
        assert found is not None and len(found.last) == stays and found.steps == steps - (5 - stays)


@pytest.mark.parametrize(("count", "alike", "holds"), [(3, 3, True), (3, 2, False), (0, 0, True)])
def test_steps_hold_while_their_marks_do(
    count: int, alike: int, holds: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = chain(5)
    monkeypatch.setattr(pack_steps, "latest_change", lambda _: "later")
    now = replace(seen, marks=(*seen.marks[:alike], *("x" for _ in range(5 - alike))))
    monkeypatch.setattr(pack_steps, "chain_of", lambda *_: now)
    found = pack_steps.still(BOOK, PACK, seen, count)
    assert (found is not None) is holds
    if found is not None:
        assert (found.change, found.agreed) == ("later", alike)
    monkeypatch.setattr(pack_steps, "latest_change", lambda _: "c")
    assert pack_steps.still(BOOK, PACK, replace(seen, agreed=2), count) is not None or count > 2


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
    """With `before` steps the first of the last 64 is number before - 63; counted from nought it is
    before - 64, and stays where sixteen divides that."""
    gone: list[int] = []
    monkeypatch.setattr(pack_fits, "keep_derived", lambda *_: None)
    monkeypatch.setattr(pack_fits, "forget_derived", lambda _book, mow, _kind: gone.append(mow))
    fitted: Any = SimpleNamespace(as_plain=lambda: {"covariance": [[1.0, 2.0], [2.0, 3.0]]})
    pack_fits.keep_fit(BOOK, PackStep(1, "m", 1.0, 1.0, 1.0), fitted, chain(before).end(before))
    assert gone == dropped


def test_a_fit_is_kept_to_nine_digits_and_half_its_covariance() -> None:
    plain = {"covariance": [[1 / 3, 2.0], [2.0, 3.0]], "names": ["a"], "logs": 2}
    folded = pack_fits._folded(plain)
    assert folded["covariance"] == [[1 / 3], [2.0, 3.0]] and pack_fits._unfolded(folded) == plain
    assert pack_fits._short(plain)["covariance"][0][0] == 0.333333333


def test_a_mow_joins_where_its_place_is(monkeypatch: pytest.MonkeyPatch) -> None:
    end = replace(chain(5).end(5), waiting=(7,))
    book: Any = Open()
    monkeypatch.setattr(pack_chain, "mow", lambda _book, number: number)
    monkeypatch.setattr(
        pack_chain, "fit_at", lambda _book, _pack, at: None if at.steps == 1 else f"fit {at.steps}"
    )
    joined: Any = rejoining(book, PACK, end, FIRST + timedelta(days=2))
    assert (joined.fitted, joined.again, joined.stays.waiting) == ("fit 3", (4, 5, 7), ())
    assert joined.end is end and rejoining(book, PACK, end, FIRST) is None, "that fit is not kept"
    assert rejoining(book, PACK, replace(end, steps=9), FIRST - timedelta(days=9)) is None


@pytest.mark.parametrize(
    ("hour", "after"),
    [(8, False), (9, True), (10, True), (None, True)],
    ids=["before", "same", "later", "undated"],
)
def test_a_mow_after_one_that_waits_must_wait_too(hour: int | None, after: bool) -> None:
    """The waiting mow began at nine; one that is taken again but does not wait is no reason."""
    waits, again = (
        MowRecord(7, "green", started=FIRST),
        MowRecord(8, "green", started=FIRST - timedelta(days=9)),
    )
    end = ChainEnd("", (), 0, 9, waiting=(7,))
    joined: Any = SimpleNamespace(end=end, again=(waits, again))
    mow: Any = SimpleNamespace(started=None if hour is None else FIRST.replace(hour=hour))
    assert _comes_after_waiting(joined, mow) is after


@pytest.mark.parametrize(
    ("newer", "kept"), [((6,), True), ((6, 7), True), ((), False), ((5, 6), False)], ids=str
)
def test_links_are_kept_while_the_chain_is_as_it_was(
    newer: tuple[int, ...], kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mow 6 joins a chain that had seen mows up to 4; mow 7 came later and is left for the next answer."""
    end = replace(chain(4).end(4), seen=4)
    joined: Any = Rejoining(end, end, None, ())  # type: ignore[arg-type]
    fits: list[tuple[int, int]] = []
    ends: list[ChainEnd] = []
    monkeypatch.setattr(pack_chain, "mows", lambda *_, **__: [MowRecord(k, "green") for k in newer])
    monkeypatch.setattr(pack_chain, "kept_end", lambda *_: end)
    monkeypatch.setattr(
        pack_chain, "keep_fit", lambda _b, step, _f, before: fits.append((step.mow, before.steps))
    )
    monkeypatch.setattr(pack_chain, "keep_end", lambda _b, _p, new: ends.append(new))
    fitted: Any = SimpleNamespace(resistance_ohm=0.1, capacity_ah=9.0, capacity_std_ah=0.1)
    new, waits = MowRecord(6, "green", started=FIRST + timedelta(days=40)), MowRecord(3, "green")
    book: Any = Open()
    found = keep_links(book, PACK, joined, [new], [fitted], 6, [waits])
    assert (found is not None) is kept
    if found is not None:
        assert fits == [(6, 4)] and ends == [found]
        assert (found.mow, found.steps, found.seen, found.waiting) == (6, 5, 6, (3,))


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
    monkeypatch.setattr(load_profile, "_fitted", lambda _, subject, found, one: (subject, found, one))
    found: Any = load_profile.profile_of(BOOK, asked, mows)
    assert found == (f"load profile {asked}", chosen, machine)


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


def test_a_fit_ahead_waits_for_what_comes_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """The chain is worked out first where another mow came meanwhile or mows before it wait; else not."""
    end = chain(5).end(5)
    monkeypatch.setattr(pack_ahead, "one_step", lambda fitted, *_: f"after {fitted}")
    monkeypatch.setattr(pack_ahead, "kept_end", lambda *_: end)
    worked: list[int] = []
    known = SimpleNamespace(end=end)
    monkeypatch.setattr(pack_ahead, "known_pack", lambda *_: worked.append(1) or known)
    joined = SimpleNamespace(fitted="pack", again=(), end=end)
    monkeypatch.setattr(pack_ahead, "rejoining", lambda *_: joined)
    mow: Any = SimpleNamespace(started=FIRST, log=None, start_charge=None, temperature_c=None)
    book: Any = Open()
    for newer, times in (((), 0), ((6,), 1)):
        monkeypatch.setattr(pack_ahead, "mows", lambda *_, newer=newer, **__: list(newer))
        found: Any = pack_ahead.fitted_ahead(book, PACK, mow, print)
        assert found.fitted == "after pack" and len(worked) == times
    assert math.isnan(
        PackStep.of(
            records(1)[0], "m", SimpleNamespace(resistance_ohm=None, capacity_ah=1.0, capacity_std_ah=0.1)
        ).resistance_ohm
    )  # type: ignore[arg-type]
    assert Place(1, None, "").comes_before(None) and not Place(1, None, "").comes_before(FIRST)
