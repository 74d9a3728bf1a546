"""Days of lawns on paper: a pack that gives its volts whatever the load, and lawns of known need."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.importer.log import Log
from estimator.predictor.lawns import day, lawns_per_charge, one_more
from estimator.predictor.lawns.day import ChargingPause, choose_step, run_day
from estimator.predictor.lawns.one_more import (
    LONGER,
    SoFar,
    lawn_under_way,
    lawns_that_fit,
    running,
)

PACK = Pack("nmc", 10, 5.0, 19.0)
LAWNS = (Lawn("small", 100.0), Lawn("large", 400.0))


def even_pack(capacity_ah: float | np.ndarray, charge: float = 1.0, n: int = 1) -> PackDraws:
    """50 V until it is empty and a hundredth of an ohm: 50 Wh an ampere-hour."""
    one = draw_pack(PACK, n, np.random.default_rng(1))
    tables = np.zeros_like(one.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2] = np.where(GRID > -0.001, 50.0, 0.0), 0.01, 1e-6
    return replace(
        one, tables=tables, capacity_ah=np.full(n, capacity_ah), charge=np.full(n, charge),
        lag_h=np.zeros_like(one.lag_h), warmth=None,
    )  # fmt: skip


def even_load(n: int = 1) -> MowDraws:
    """Three lawns of an hour each at 100 W."""
    ends = np.tile([3600.0, 7200.0, 10800.0], (n, 1))
    return MowDraws(np.full((n, 2700), 100.0), ends, np.full((n, 3), 100.0), 4.0)


@pytest.mark.parametrize(
    "after",
    [
        1,  # charged from 0.6 to 0.7
        2,  # from 0.2 to 0.3
        0,  # when the pack stops
        3,  # after the last lawn, which is never reached: when the pack stops
        4,
    ],
)
def test_a_pause_adds_its_charge_and_the_day_goes_on(after: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """250 Wh, and a pause that adds a tenth of the charge, 25 Wh, wherever it comes."""
    monkeypatch.setattr(day, "charged_to", lambda _pack, _draws, charge, _pause: charge + 0.1)
    run = run_day(even_pack(5.0), PACK, even_load(), pause=ChargingPause(after, 1.0, 1.0))
    assert run.delivered_wh[0] == pytest.approx(275.0, abs=1.0)
    assert run.finished.tolist() == [[True, True, False]]


def test_a_charger_puts_back_what_it_gives_in_the_time_of_the_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(
        "estimator.conversion.charging_habits.charge_after",
        lambda *given: asked.append(given) or np.array([0.5]),
    )
    draws, before = even_pack(5.0), np.array([0.3])
    assert day.charged_to(PACK, draws, before, ChargingPause(1, 40.0, 120.0)).tolist() == [0.5]
    pack, charger, minutes, charge, capacity_ah, _ = asked[0]
    assert (pack, charger.watts, minutes) == (PACK, 120.0, 40.0)
    assert charge is before and capacity_ah is draws.capacity_ah


def test_a_spare_takes_over_only_where_the_first_pack_stops() -> None:
    """Of 300 Wh the first pack gives all and keeps a quarter, the second day's 150 Wh: the spare of 200 Wh
    gives the other 150 and keeps a quarter too; on the third day even both do not last."""
    first = even_pack(np.array([8.0, 3.0, 1.0]), n=3)
    spare = even_pack(4.0, n=3)
    run = run_day(first, PACK, even_load(3), spare=(spare, PACK))
    assert run.finished.tolist() == [[True] * 3, [True] * 3, [True, True, False]]
    assert run.delivered_wh == pytest.approx([300.0, 300.0, 250.0], abs=1.0)
    assert run.charge_end == pytest.approx([0.25, 0.25, 0.0], abs=0.02)
    assert run.why.tolist() == ["", "", "cut-off"]
    alone = run_day(first, PACK, even_load(3), reserve_charge=0.2)
    assert alone.why.tolist() == ["", "reserve", "reserve"]
    assert alone.delivered_wh == pytest.approx([300.0, 120.0, 40.0], abs=1.0)


@pytest.mark.parametrize(
    ("after", "minutes", "watts", "fine"),
    [(0, 0.0, 1.0, True), (-1, 1.0, 1.0, False), (1, -0.1, 1.0, False), (1, 1.0, 0.0, False)],
)
def test_which_pauses_can_be(after: int, minutes: float, watts: float, fine: bool) -> None:
    if fine:
        ChargingPause(after, minutes, watts)
    else:
        with pytest.raises(InputError, match="charging pause after"):
            ChargingPause(after, minutes, watts)


@pytest.mark.parametrize(
    ("seconds", "step_s"),
    [((3999.0, 4000.0), 1.0), ((4000.0, 4000.0), 2.0), ((19999.0,), 2.0), ((20000.0,), 4.0)],
)
def test_long_days_are_run_in_longer_steps(seconds: tuple[float, ...], step_s: float) -> None:
    """By the median of the days, each the sum of its lawns."""
    days = np.array([np.ones(len(seconds)), seconds, np.full(len(seconds), 1e6)])
    assert choose_step(MowNeeds(days, days)) == step_s


@pytest.fixture
def known_needs(monkeypatch: pytest.MonkeyPatch) -> np.ndarray:
    """Ten days: 100 Wh for the small lawn, 105 to 195 Wh for the large one, each in an hour or more."""
    energy = np.stack([np.full(10, 100.0), 105.0 + 10.0 * np.arange(10)], axis=1)
    minutes = 60.0 + np.stack([np.zeros(10), np.arange(10)], axis=1)

    def draws_of(_profile: object, lawns: list[Lawn], *_: object, **__: object) -> MowNeeds:
        places = [[lawn.name for lawn in LAWNS].index(lawn.name) for lawn in lawns]
        return MowNeeds(energy[:, places], 60 * minutes[:, places])

    monkeypatch.setattr(lawns_per_charge, "draw_needs", draws_of)
    monkeypatch.setattr(one_more, "draw_needs", draws_of)
    return energy


def test_a_plan_counts_the_days_on_which_the_charge_lasts(known_needs: np.ndarray) -> None:
    """250 Wh: the small lawn always, the large one after it on the five days that need 145 Wh at most."""
    so_far = SoFar(even_pack(5.0, n=10), 0.0)
    asked: dict[str, Any] = {"sure": 0.5, "draws": 10, "so_far": so_far}
    plan = lawns_per_charge.lawns_per_charge(fit_profile([]), PACK, LAWNS, **asked)
    assert plan.odds == (1.0, 0.5) and plan.count == 2 and plan.expected == 1.5
    assert [(one.why, one.chance) for one in plan.stops] == [("cut-off", 0.5)]
    assert plan.minutes == pytest.approx(124.5), "an hour, and the median of 60 to 69 minutes"
    large = plan.lawns[1]
    assert (large.lawn, large.area_m2, large.odds, large.mows_known) == ("large", 400.0, 0.5, 0)
    assert (large.energy_low_wh, large.energy_wh, large.energy_high_wh) == pytest.approx(
        (127.5, 150.0, 172.5)
    )
    assert (large.minutes_low, large.minutes, large.minutes_high) == pytest.approx((62.25, 64.5, 66.75))
    assert plan.odds_std == pytest.approx(0.5 / math.sqrt(10))
    sure = lawns_per_charge.lawns_per_charge(fit_profile([]), PACK, LAWNS, **{**asked, "sure": 0.6})
    assert sure.count == 1 and sure.minutes == 60.0
    kept = lawns_per_charge.lawns_per_charge(fit_profile([]), PACK, LAWNS, **asked, reserve=0.122)
    assert kept.odds == (1.0, 0.2), "219.5 Wh for both: 205 and 215 are enough"
    small = lawns_per_charge.lawns_per_charge(
        fit_profile([]), PACK, LAWNS, **{**asked, "so_far": SoFar(even_pack(1.9, n=10), 0.0)}
    )
    assert small.odds == (0.0, 0.0) and small.minutes == 0.0
    spared = lawns_per_charge.lawns_per_charge(
        fit_profile([]), PACK, LAWNS, **asked, spare=replace(PACK, capacity_ah=20.0)
    )
    assert spared.odds == (1.0, 1.0)


def test_a_lawn_is_told_with_the_days_on_which_it_is_mown_in_that_grass() -> None:
    """Of three places in the day two are alike: together 0 to 100 Wh and minutes, of which nine in ten lie
    between 5 and 95."""
    all_days = np.linspace(0.0, 100.0, 102).reshape(51, 2)
    needs = MowNeeds(np.insert(all_days, 1, 900.0, axis=1), 60 * np.insert(all_days, 1, 900.0, axis=1))
    found = lawns_per_charge._lawn_odds(fit_profile([]), LAWNS[0], needs, [True, False, True], 0.8, 0.9)
    assert (found.energy_low_wh, found.energy_wh, found.energy_high_wh) == pytest.approx((5.0, 50.0, 95.0))
    assert (found.minutes_low, found.minutes, found.minutes_high) == pytest.approx((5.0, 50.0, 95.0))
    assert (found.lawn, found.area_m2, found.odds, found.mows_known) == ("small", 100.0, 0.8, 0)


@pytest.mark.parametrize(("aim", "first"), [("lawns", "small"), ("area", "large")])
def test_the_best_order_counts_lawns_or_their_area(known_needs: np.ndarray, aim: str, first: str) -> None:
    """150 Wh are enough for one of the two: the small one is surer, the large one four times its area."""
    so_far = SoFar(even_pack(3.1, n=10), 0.0)
    plan = lawns_per_charge.lawns_per_charge(
        fit_profile([]), PACK, LAWNS, sure=0.5, draws=10, so_far=so_far, order="best", aim=aim
    )
    assert plan.lawns[0].lawn == first and plan.exact_order
    assert plan.lawns[0].energy_wh == pytest.approx({"small": 100.0, "large": 150.0}[first])


def test_one_more_lawn_is_the_share_of_days_that_the_charge_lasts_for_it(known_needs: np.ndarray) -> None:
    found = lawns_that_fit(fit_profile([]), SoFar(even_pack(3.02, n=10), 0.0), PACK, LAWNS[::-1])
    assert [(one.lawn, one.odds) for one in found] == [("small", 1.0), ("large", 0.5)]
    assert [one.minutes for one in found] == pytest.approx([60.0, 64.5])
    assert [one.energy_wh for one in found] == pytest.approx([100.0, 150.0])
    kept = lawns_that_fit(fit_profile([]), SoFar(even_pack(3.02, n=10), 0.0), PACK, LAWNS[::-1], reserve=0.32)
    assert [(one.lawn, one.odds) for one in kept] == [("small", 1.0), ("large", 0.0)]
    both = lawns_that_fit(fit_profile([]), SoFar(even_pack(30.0, n=10), 0.0), PACK, LAWNS[::-1])
    assert [one.area_m2 for one in both] == [100.0, 400.0], "as likely: the smaller one first"


@pytest.mark.parametrize(("held", "drawn"), [(7, 7), (300, 200)])
def test_one_more_lawn_is_asked_of_two_hundred_draws_at_most(
    held: int, drawn: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(_profile: object, _lawns: object, _grasses: object, n: int, _rng: object, **_: object) -> None:
        raise InterruptedError(n)

    monkeypatch.setattr(one_more, "draw_needs", stop)
    with pytest.raises(InterruptedError) as asked:
        lawns_that_fit(fit_profile([]), SoFar(even_pack(3.0, n=held), 0.0), PACK, LAWNS)
    assert asked.value.args == (drawn,)


def test_each_draw_goes_on_at_its_own_time_of_the_day() -> None:
    """An hour at 100 W and one at 200 W from 250 Wh: from the start on that is 50 Wh too many, so it stops a
    quarter of an hour early; from the second hour on a fifth is left. A limit ends it there."""
    power = np.tile(np.repeat([100.0, 200.0], 900), (2, 1))
    load = MowDraws(power, np.full((2, 1), 7200.0), np.full((2, 1), 300.0), 4.0)
    reached = day._stretch(even_pack(5.0, n=2), PACK, load, np.array([0.0, 3600.0]), None, 0.0)
    assert reached.time_s == pytest.approx([6300.0, 7200.0], abs=15.0)
    assert reached.why.tolist() == ["cut-off", ""]
    assert reached.charge == pytest.approx([0.0, 0.2], abs=0.04) and reached.charge[1] > 0.195
    limit = np.array([1800.0, 5400.0])
    paused = day._stretch(even_pack(5.0, n=2), PACK, load, np.array([0.0, 3600.0]), limit, 0.0)
    assert paused.time_s.tolist() == limit.tolist() and paused.why.tolist() == ["", ""]
    assert paused.charge == pytest.approx([0.8, 0.6], abs=0.005)
    over = day._stretch(even_pack(5.0, n=2), PACK, load, np.full(2, 7200.0), None, 0.0)
    assert over.time_s.tolist() == [7200.0] * 2 and over.charge.tolist() == [1.0, 1.0]


def test_a_gap_is_no_time_of_running() -> None:
    """Ten seconds at 200 W, a gap of a minute, five at 400 W: all but a broken second at the gap."""
    time_s = np.array([0.0, 5.0, 10.0, 70.0, 75.0])
    log = Log(
        pd.DataFrame({"time_s": time_s, "current_a": [4.0, 4.0, 4.0, 8.0, 8.0], "voltage_v": 50.0}),
        longest_step_s=10.0,
    )
    found = running(log)
    assert found.seconds == 15.0 and found.mean_w == pytest.approx((10 * 200 + 5 * 400) / 15, rel=0.03)


@pytest.mark.parametrize(("over", "enough"), [(19, False), (20, True)])
def test_the_rest_of_a_lawn_comes_from_days_on_which_it_would_not_be_done_yet(
    over: int, enough: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hundred minutes are mown. On `over` days the lawn takes 110 min, on the others 90: ten minutes are
    left, or where hardly any day says so a tenth of the time so far, as a half normal."""
    motor_min = np.where(np.arange(100) < over, 110.0, 90.0)[:, None]
    monkeypatch.setattr(one_more, "draw_needs", lambda *_, **__: MowNeeds(motor_min, 60 * motor_min))
    log = Log(
        pd.DataFrame({"time_s": [0.0, 6000.0], "current_a": 5.0, "voltage_v": 50.0}), longest_step_s=1e4
    )
    lasts_min = [4.0, 8.0, 12.0, 16.0]
    found = lawn_under_way(fit_profile([]), log, LAWNS[0], lasts_min)
    if enough:
        assert found.minutes == pytest.approx(10.0) and found.odds == 0.5
    else:
        assert found.minutes == pytest.approx(0.6745 * LONGER * 100, rel=0.15)
        normal = np.array([0.3108, 0.5763, 0.7699, 0.8904])  # chance that a half normal of 10 is below each
        assert found.odds == pytest.approx(normal.mean(), abs=0.05)
