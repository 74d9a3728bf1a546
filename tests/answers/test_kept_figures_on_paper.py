"""What is kept of mows and packs: places in a chain, which fits stay, days of care, worked out by hand."""

from __future__ import annotations

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
from estimator.answers.figures.pack_steps import (
    KEEP_LAST,
    Chain,
    PackStep,
    Place,
    next_mark,
    root_of,
)
from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.phases import RunTrace
from estimator.logbook import MowRecord
from estimator.logbook.records.mow_values import order_of

BOOK: Any = SimpleNamespace(keeps=True)
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

    writing = reading

    def __enter__(self) -> Open:
        return self

    def __exit__(self, *_: object) -> None:
        return None


def records(count: int) -> tuple[MowRecord, ...]:
    return tuple(MowRecord(k + 1, "green", started=FIRST + timedelta(days=k)) for k in range(count))


def chain(count: int) -> Chain:
    """A whole chain of mows 1, 2, 3, ... a day apart, with marks m1, m2, m3, ..."""
    dates = [(FIRST + timedelta(days=k)).isoformat() for k in range(count)]
    return Chain("root", tuple(Place(k, at, f"m{k}") for k, at in enumerate(dates, start=1)), 0, count)


@pytest.mark.parametrize("count", [0, 5, KEEP_LAST, KEEP_LAST + 6])
def test_an_end_keeps_its_last_places(count: int) -> None:
    end = chain(count).end()
    kept = list(range(max(count - KEEP_LAST, 0) + 1, count + 1))
    assert [place.mow for place in end.places] == kept
    assert [place.mark for place in end.places] == [f"m{k}" for k in kept]
    assert (len(end), end.seen, end.root) == (count, count, "root")
    assert end.mark(count) == (f"m{count}" if count else "root")


def test_one_more_mow_pushes_the_first_place_out() -> None:
    before = chain(KEEP_LAST)
    new = MowRecord(99, "green", started=FIRST + timedelta(days=200))
    after = before.followed_by([new], KEEP_LAST).end()
    assert [place.mow for place in after.places] == [*range(2, KEEP_LAST + 1), 99]
    assert (len(after), after.seen, after.before) == (KEEP_LAST + 1, 99, 1)
    mark = before.mark(KEEP_LAST)
    assert after.mark(KEEP_LAST + 1) == next_mark(mark, new)
    assert after.places[-1].started == "2025-11-17T09:00:00"
    assert next_mark(mark, replace(new, temperature_c=9.0)) != next_mark(mark, new)
    assert next_mark(mark, replace(new, tags=("ran out",))) != next_mark(mark, new)
    assert next_mark(mark, replace(new, tags=("other",))) == next_mark(mark, new)
    assert root_of(PACK) == root_of(replace(PACK, name="other")) != root_of(replace(PACK, capacity_ah=9.0))


@pytest.mark.parametrize(
    ("day", "steps"),
    [(2, 3), (4, 5), (None, 5), (-1, 0), (0, 1)],
    ids=["third day", "last day", "no date", "before all", "the first day"],
)
def test_a_newer_mow_comes_after_those_that_began_no_later(day: int | None, steps: int) -> None:
    """The same start puts the higher number last; a mow without a date comes after all dated ones."""
    started = None if day is None else FIRST + timedelta(days=day)
    order = order_of(MowRecord(9, "green", started=started))
    assert chain(5).steps_before(order) == steps
    assert replace(chain(5), before=8).steps_before(order) == 8 + steps


@pytest.mark.parametrize("before", [0, 8], ids=["whole", "its end"])
@pytest.mark.parametrize("day", [-1, 2, 9], ids=["first", "amid", "last"])
def test_a_mow_that_came_since_changes_the_marks_after_it(
    day: int, before: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a chain's end only: a mow before all of its places is not for it to place."""
    kept = replace(chain(5), before=before)
    new = MowRecord(6, "green", started=FIRST + timedelta(days=day))
    book: Any = Open()
    monkeypatch.setattr(pack_steps, "kept_end", lambda *_: kept)
    monkeypatch.setattr(pack_steps, "mow", lambda _book, number: records(5)[number - 1])
    monkeypatch.setattr(pack_steps, "mows", lambda *_, above, **__: [new] if above == 5 else refuse())
    found = pack_steps.end_of_chain(book, PACK)
    if before and day < 0:
        assert found is None
        return
    assert found is not None
    place = {-1: 0, 2: 3, 9: 5}[day]
    order = [*range(1, place + 1), 6, *range(place + 1, 6)]
    assert [each.mow for each in found.places] == order and found.seen == 6
    assert found.places[:place] == kept.places[:place]
    mark = kept.mark(before + place) if before + place else "root"
    for each in found.places[place:]:
        mark = next_mark(mark, new if each.mow == 6 else records(5)[each.mow - 1])
        assert each.mark == mark


def refuse() -> Any:
    raise AssertionError("mows that the chain has seen were listed")


def test_kept_steps_are_those_with_the_mark_of_now(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = {"capacity_ah": 9.0, "capacity_std_ah": 0.1}
    found = {1: {"mow": 1, "mark": "m1", **plain}, 2: {"mow": 2, "mark": "old", **plain}}
    monkeypatch.setattr(pack_steps, "derived_of_mows", lambda *_: found)
    assert pack_steps.kept_steps(BOOK, chain(3)) == (PackStep(1, "m1", 9.0, 0.1), None, None)


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize(
    ("before", "dropped"), [(63, []), (64, []), (65, [2]), (79, [16]), (80, []), (81, [18]), (96, [])]
)
def test_of_earlier_fits_one_in_sixteen_stays(
    before: int, dropped: list[int], whole: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With `before` steps the first of the last 64 is number before - 63; counted from nought it is
    before - 64, and stays where sixteen divides that."""
    gone: list[int] = []
    monkeypatch.setattr(pack_fits, "keep_derived", lambda *_: None)
    monkeypatch.setattr(pack_fits, "forget_derived", lambda _book, mow, _kind: gone.append(mow))
    fitted: Any = SimpleNamespace(as_plain=lambda: {"covariance": [[1.0, 2.0], [2.0, 3.0]]})
    book: Any = Open()
    joined = chain(before) if whole else chain(before).end()
    pack_fits.keep_fit(book, joined, before, PackStep(1, "m", 1.0, 1.0), fitted)
    assert gone == dropped


@pytest.mark.parametrize(("before", "gone"), [(16, []), (17, [18]), (31, [32]), (32, [])])
def test_a_place_that_leaves_the_end_leaves_its_fit_but_for_one_in_sixteen(
    before: int, gone: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The end of a chain has 65 places once a mow has come between: the first one leaves."""
    long = chain(before + KEEP_LAST + 1)
    end = replace(long, places=long.places[before:], before=before)
    kept: list[Any] = []
    forgotten: list[int] = []
    monkeypatch.setattr(pack_fits, "keep_derived", lambda *given: kept.append(given[-1]))
    monkeypatch.setattr(pack_fits, "forget_derived", lambda _book, mow, _kind: forgotten.append(mow))
    pack_fits.keep_end(BOOK, PACK, end)
    assert forgotten == gone
    (plain,) = kept
    assert plain["before"] == before + 1 and len(plain["places"]) == KEEP_LAST


def test_a_fit_is_kept_to_nine_digits_and_half_its_covariance() -> None:
    plain = {"covariance": [[1 / 3, 2.0], [2.0, 3.0]], "names": ["a"], "logs": 2}
    folded = pack_fits._folded(plain)
    assert folded["covariance"] == [[1 / 3], [2.0, 3.0]] and pack_fits._unfolded(folded) == plain
    assert pack_fits._short(plain)["covariance"][0][0] == 0.333333333


@pytest.mark.parametrize(
    ("day", "kept", "found"),
    [(2, {3, 1}, (3, 3)), (2, {1}, (1, 3)), (9, {5}, (5, 5)), (0, set(), (0, 1)), (-1, {3}, (0, 0))],
)
def test_a_fit_goes_on_from_the_last_kept_before_its_place(
    day: int, kept: set[int], found: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole chain begins with the pack as it is described; its end alone goes no further back than it has
    places, and then the whole is listed and kept."""
    book: Any = Open()
    order = order_of(MowRecord(9, "green", started=FIRST + timedelta(days=day)))
    ends: list[Chain] = []
    monkeypatch.setattr(pack_chain, "latest_change", lambda _: "c")
    monkeypatch.setattr(pack_chain, "chain_of", lambda *_: chain(5))
    monkeypatch.setattr(pack_chain, "keep_end", lambda _book, _pack, chain: ends.append(chain))
    monkeypatch.setattr(
        pack_chain, "fit_at", lambda _b, _p, at, steps: f"{steps}" if steps in kept or steps == 0 else None
    )
    for end in (chain(5), None, replace(chain(5), places=chain(5).places[2:], before=2)):
        monkeypatch.setattr(pack_chain, "end_of_chain", lambda *_, end=end: end)
        ends.clear()
        at = pack_chain._reached(book, PACK, order)
        assert (at.steps, at.wanted) == found and at.fitted == f"{found[0]}"
        assert len(ends) == (end is None or (end.before > found[0]))


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
    other = replace(MOW, trace=RunTrace.of(np.full(9, 80.0)))
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


def test_a_fit_ahead_is_one_step_from_the_mows_before_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Missing steps of the mows before it are taken first and kept; those of the mows after it are left."""
    book: Any = Open()
    step = lambda fitted, log, *_: SimpleNamespace(  # noqa: E731
        said=f"{fitted.said} {log}", capacity_ah=1.0, capacity_std_ah=0.1
    )
    kept: list[tuple[int, int, str]] = []
    begins: Any = SimpleNamespace(said="pack")
    monkeypatch.setattr(pack_chain, "one_step", step)
    monkeypatch.setattr(pack_chain, "mow", lambda _book, number: records(5)[number - 1])
    monkeypatch.setattr(pack_chain, "log_of", lambda _book, number: number)
    monkeypatch.setattr(
        pack_chain,
        "keep_fit",
        lambda _b, _c, before, step, fitted: kept.append((before, step.mow, fitted.said)),
    )
    monkeypatch.setattr(pack_chain, "_reached", lambda *_: pack_chain.Reached(chain(5), 1, 3, begins))
    mow: Any = SimpleNamespace(
        started=FIRST + timedelta(days=2, hours=1), log="new", start_charge=None, temperature_c=None
    )
    said: list[str] = []
    ahead: Any = pack_chain.fitted_ahead(book, PACK, mow, said.append)
    assert (ahead.before, ahead.later, ahead.fitted.said) == (3, 2, "pack 2 3 new")
    assert kept == [(1, 2, "pack 2"), (2, 3, "pack 2 3")]
    assert said == ["fitting crate, mow 2 of 3", "fitting crate, mow 3 of 3"]
    ends: list[Chain] = []
    monkeypatch.setattr(pack_chain, "end_of_chain", lambda *_: chain(6))
    monkeypatch.setattr(pack_chain, "keep_end", lambda _b, _p, end: ends.append(end))
    pack_chain.keep_ahead(book, PACK, ahead, MowRecord(6, "green"))
    assert kept[-1] == (3, 6, "pack 2 3 new") and ends == [chain(6)]


@pytest.mark.parametrize(
    ("kind", "mown_mm", "asked_mm", "says"),
    [
        (None, [], [25.0], "what mowers usually take"),
        ("flail", [], [500.0], "what flail mowers usually take"),
        (None, [20.0], [100.0], ""),
        (None, [20.0], [101.0], "101 mm off is more than in any mow so far (20 mm)"),
        (None, [20.0, 60.0], [120.0], ""),  # not twice as much as once before
        (None, [20.0, 60.0, None], [30.0, 121.0, None], "121 mm off is more than in any mow so far (60 mm)"),
        (None, [None], [101.0], "101 mm off is more than a lawn usually loses at once"),
        ("flail", [20.0], [500.0], ""),  # made for it
    ],
)
def test_an_answer_says_that_it_rests_on_no_mow_or_on_none_of_such_grass(
    kind: str | None, mown_mm: list[float | None], asked_mm: list[float | None], says: str
) -> None:
    loads = tuple(replace(MOW, growth_mm=mm) for mm in mown_mm)
    profile: Any = SimpleNamespace(machine=Machine(kind=kind), loads=loads)
    for asked in (
        [Grass(growth_mm=mm) for mm in asked_mm],
        *([Grass(growth_mm=asked_mm[0])] * (len(asked_mm) == 1)),
    ):
        said = load_profile.rests_on(profile, asked)
        assert len(said) == bool(says) and says in "".join(said)
