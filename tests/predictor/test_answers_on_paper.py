"""Minutes half-way, loads to come and capacities needed, with everything around them known."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Lawn, Pack
from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.fitting.seasons.fade import FadeDraws
from estimator.importer.log import Log
from estimator.predictor import finish_forecast, half_way, minutes
from estimator.predictor.fade_forecast import FadeForecast
from estimator.predictor.half_way import SaidHalfWay, say_half_way, score_half_way
from estimator.predictor.simulation import load_ahead
from estimator.predictor.simulation.load_ahead import _lasts_s, load_of_lawns
from estimator.predictor.simulation.load_memory import (
    ELSEWHERE,
    MOST_ELSEWHERE,
    LoadMemory,
    _change,
    _follow,
    _means,
)
from estimator.predictor.sizing import recommend
from estimator.predictor.sizing.margin import part_names

PACK = Pack("nmc", 10, 5.0, 19.0)


def test_half_way_lies_between_first_and_last_load(monkeypatch: pytest.MonkeyPatch) -> None:
    """Load from minute 2 to minute 22, a quarter of the usual current at least: half-way is minute 12, and
    ten more came."""
    asked: list[Any] = []

    def said(log: Log, *given: Any, **more: Any) -> SimpleNamespace:
        asked.append((log, given, more))
        return SimpleNamespace(minutes=9.0, low=7.0, high=12.0)

    monkeypatch.setattr(half_way, "minutes_left", said)
    time_s = 60.0 * np.arange(31)
    amps = np.where((time_s >= 120) & (time_s <= 1320), 8.0, 1.9)
    log = Log(pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": 50.0}))
    found = say_half_way(log, PACK, 0.9, 14.0, "green", "2025-05-01")
    assert found == SaidHalfWay("green", "2025-05-01", 9.0, 7.0, 12.0, 10.0)
    so_far, given, more = asked[0]
    assert so_far.readings["time_s"].tolist() == (60.0 * np.arange(13)).tolist()
    assert given == (PACK, 0.9) and more == {"level": 0.9, "draws": 400, "temperature_c": 14.0}
    two = Log(pd.DataFrame({"time_s": [0.0, 60.0, 120.0, 180.0], "current_a": 8.0, "voltage_v": 50.0}))
    assert say_half_way(two, PACK, None, None, "green", None) is None, "two readings by then"


@pytest.mark.parametrize(("came", "held"), [(16.0, 1), (25.0, 1), (15.9, 0), (25.1, 0)])
def test_a_band_half_way_holds_with_its_ends(came: float, held: int) -> None:
    """20 min within 16 to 25 claim a deviation of log(25/16)/(2·1.645) = 0.1357 on the logarithm. The belief
    weighs as eight mows."""
    score = score_half_way([SaidHalfWay("a", None, 20.0, 16.0, 25.0, came)])
    assert score is not None and (score.mows, score.held) == (1, held)
    assert score.miss == pytest.approx(abs(came - 20) / came)
    off = math.log(came / 20.0) / (math.log(25 / 16) / (2 * 1.645))
    assert score.stretch == pytest.approx(max(math.sqrt((8 + off**2) / 9), 0.7))


@pytest.mark.parametrize(
    ("one", "miss", "off"),
    [
        (SaidHalfWay("a", None, 20.0, 16.0, 25.0, 0.0), 200.0, math.log(200) / (math.log(25 / 16) / 3.29)),
        (SaidHalfWay("a", None, 0.0, 0.0, 0.0, 10.0), 1.0, math.log(100) / (math.log(2) / 3.29)),
        (SaidHalfWay("a", None, 10.0, 0.1, 0.1, 20.0), 0.5, math.log(2) / (math.log(2) / 3.29)),
    ],
)
def test_no_minutes_count_as_six_seconds_and_the_end_of_a_band_as_twelve_at_least(
    one: SaidHalfWay, miss: float, off: float
) -> None:
    score = score_half_way([one])
    assert score is not None and score.miss == pytest.approx(miss)
    assert score.stretch == pytest.approx(math.sqrt((8 + off**2) / 9), rel=1e-3)


@pytest.mark.parametrize(
    ("left_wh", "mean_w", "seconds"),
    [(250.0, 500.0, 1800.0), (250.0, 0.5, 86400.0), (0.0, 500.0, 0.0), (10.0, 0.5, 36e3)],
)
def test_a_charge_lasts_as_its_energy_a_day_at_most(left_wh: float, mean_w: float, seconds: float) -> None:
    assert _lasts_s(left_wh, mean_w) == seconds


def test_lawns_to_come_are_noted_as_they_are_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    chunks = [np.full((2, 3), watts, np.float32) for watts in (400.0, 200.0)]
    asked: list[Any] = []
    monkeypatch.setattr(
        "estimator.fitting.load.load_draws.coming_power", lambda *given: asked.append(given) or iter(chunks)
    )
    rng, profile, lawn = np.random.default_rng(1), fit_profile([]), Lawn("a", 100)
    ahead = load_of_lawns(profile, 100.0, 2, rng, lawn, None, 350.0)
    assert ahead.ahead_s == 900.0 and ahead.means_w == [] and not ahead.read
    assert [float(chunk[0, 0]) for chunk in ahead.chunks] == [400.0, 200.0] and ahead.means_w == [
        400.0,
        200.0,
    ]
    assert asked == [(profile, 2, 86400.0, rng, lawn, None, 1.0, 350.0)]


def memory(**more: Any) -> LoadMemory:
    known = {
        "power_w": np.full(1200, 400.0), "weight": np.full(1200, 1 / 1200), "follow": 0.0, "follow_std": 0.1,
        "mean_w": 400.0, "changed": 0.0, "block": 60, "step_s": 2.0, "block_variance": 100.0, "lasting": 9e3,
    }  # fmt: skip
    return LoadMemory(**{**known, **more})


@pytest.mark.parametrize("horizon_s", [600.0, 2400.0, 4800.0])
def test_the_next_mean_differs_by_past_and_future_and_by_grass_elsewhere(horizon_s: float) -> None:
    """1200 steps so far: the mean is known within 9000/1200 W², that of the future scatters by 9000 over its
    steps, less what resampled blocks show of it, 6000 over them, where it is shorter; and grass elsewhere
    differs by 0.8 of the 10 W that blocks do, 5 % of 400 W at most."""
    steps = horizon_s / 2.0
    variance = 9000 / 1200 + 9000 / steps - 6000 * max(1 / steps - 1 / 1200, 0.0)
    assert memory().level_std(horizon_s) == pytest.approx(
        math.hypot(math.sqrt(variance), ELSEWHERE * 10) / 400
    )
    rough = memory(block_variance=900.0)
    variance = 9000 / 1200 + 9000 / steps - 9000 * max(1 / steps - 1 / 1200, 0.0)  # no more than it scatters
    assert rough.level_std(horizon_s) == pytest.approx(
        math.hypot(math.sqrt(variance), MOST_ELSEWHERE * 400) / 400
    )
    assert memory().freedom == pytest.approx(19.0) and memory(block=600).freedom == 3.0


def test_stretches_are_counted_from_the_end() -> None:
    assert _means(np.arange(10.0), 3).tolist() == [2.0, 5.0, 8.0] and _means(np.arange(2.0), 3).tolist() == [
        0.0
    ]


@pytest.mark.parametrize("step_w", [0.0, 20.0, 200.0])
def test_a_change_is_as_sure_as_its_t(step_w: float) -> None:
    """Twelve stretches of 300 W that go up and down by 10 W, the last five higher by a step: t² of that
    split, whose neighbours are no more alike than chance; under 12 it shows nothing."""
    wave = np.array([10.0, 10, -10, -10, 10, -10, 0, 10, -10, 10, -10, 0])
    means = 300.0 + wave + np.where(np.arange(12) >= 7, step_w, 0.0)
    changed, since = _change(means, 2, 100)

    def t2(split: int) -> float:
        early, late = means[:split], means[split:]
        rest = np.concatenate([early - early.mean(), late - late.mean()])
        alike = float(np.clip(rest[1:] @ rest[:-1] / (rest @ rest), 0.0, 0.9))
        noise = rest @ rest / 10 * (1 + alike) / (1 - alike) + (1e-3 * means.mean()) ** 2
        return float((early.mean() - late.mean()) ** 2 / (noise * (1 / split + 1 / (12 - split))))

    best = max(range(3, 10), key=t2)
    assert changed == pytest.approx(max(0.0, 1 - 12 / t2(best))) and since == 2 + 100 * best
    assert (best == 7 and changed > 0.9) == (step_w == 200.0)
    assert _change(np.full(5, 300.0), 0, 100) == (0.0, 0), "too few for three on either side"


def test_the_exponent_of_a_load_is_a_regression_over_stretches_with_common_practice() -> None:
    """Stretches of 20 s whose power goes exactly as the root of the voltage, and one of common practice: an
    exponent of 0.4 ± 0.5. Only readings above the mean of their stretch count."""
    volts = np.repeat(np.linspace(52.0, 44.0, 40), 20)
    power = 300.0 * np.sqrt(volts / 50.0)
    power[::4] *= 0.5  # turns
    follow, std = _follow(np.arange(800.0), power, volts)
    assert follow == pytest.approx(0.5, abs=0.01) and std < 0.05
    constant, _ = _follow(np.arange(800.0), np.where(np.arange(800) % 4, 300.0, 150.0), volts)
    assert constant == pytest.approx(0.0, abs=0.01)


def test_the_capacity_needed_is_that_whose_energy_the_lawns_take(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pack of 50 V whatever its age: 100 to 300 Wh need 2 to 6 Ah; nine days in ten need 5.6 at most."""
    n = finish_forecast.DRAWS
    energy = np.linspace(100.0, 300.0, n)[:, None]
    monkeypatch.setattr(
        finish_forecast, "draw_needs", lambda *_, **__: MowNeeds(energy, np.full((n, 1), 3600.0))
    )
    one = draw_pack(PACK, n, np.random.default_rng(1))
    tables = np.zeros_like(one.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2] = np.where(GRID > -0.001, 50.0, 0.0), 0.01, 1e-6
    even = replace(one, tables=tables, lag_h=np.zeros_like(one.lag_h), warmth=None)
    monkeypatch.setattr(finish_forecast, "draw_pack", lambda *_: even)
    need = finish_forecast.capacity_needed(fit_profile([]), PACK, [Lawn("a", 100)], sure=0.9)
    assert need.needed_ah == pytest.approx(energy[:, 0] / 50.0, rel=0.01)
    assert need.at_sure_ah == pytest.approx(5.6, rel=0.02) and need.sure == 0.9


def test_parts_are_named_with_their_shares() -> None:
    notes = dict(part_names(0.95, 0.1, 0.8, 5.0))
    assert "95 % sure" in notes["doubt"] and "95 % of them" in notes["day-to-day variation"]
    assert (
        notes["reserve"].startswith("10 %") and notes["ageing"].startswith("80 %") and "5 °C" in notes["cold"]
    )


@pytest.mark.parametrize("zero_a", [0.0, 1.0])
def test_minutes_left_are_what_is_left_over_the_load_without_the_clamps_error(
    zero_a: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of 5 Ah at 50 V is 125 Wh, which 150 W take in 50 minutes; a clamp that reads 1 A too high reads
    50 W too many, so it is 75. A stop is known within 3 s."""
    n = 400
    one = draw_pack(PACK, n, np.random.default_rng(1))
    tables = np.zeros_like(one.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2] = np.where(GRID > -0.001, 50.0, 0.0), 0.01, 1e-6
    even = replace(
        one, tables=tables, lag_h=np.zeros_like(one.lag_h), warmth=None, capacity_ah=np.full(n, 5.0),
        charge=np.full(n, 0.5), clamp_zero_a=np.full(n, zero_a),
    )  # fmt: skip
    trace = SimpleNamespace(voltage_v=np.array([50.0]))
    known = SimpleNamespace(found=SimpleNamespace(trace=trace, emf_v=np.array([50.0])), after=None)
    monkeypatch.setattr(minutes, "fit_of_log", lambda *_: known)
    monkeypatch.setattr(minutes, "draw_now", lambda *_: even)
    asked: list[float] = []
    load_of_log = minutes.load_of_log
    monkeypatch.setattr(
        minutes, "load_of_log", lambda load, left: asked.append(left) or load_of_log(load, left)
    )
    log = Log(pd.DataFrame({"time_s": np.arange(0.0, 700, 10), "current_a": 3.0, "voltage_v": 50.0}))
    found = minutes.minutes_left(log, PACK, 1.0, log, draws=n)
    assert asked == [pytest.approx(125.0)]
    assert found.minutes == pytest.approx(75.0 if zero_a else 50.0, rel=0.01)
    assert (found.charge, found.mean_power_w, found.level) == (0.5, pytest.approx(150.0), 0.9)
    assert 60 * (found.high - found.low) == pytest.approx(2 * 1.645 * 3.0, rel=0.15)
    assert len(found.ends_min) == 100 and found.ends_min[49] == pytest.approx(found.minutes, abs=0.02)


@pytest.mark.parametrize(("lawn", "seen_w"), [(None, 0.0), (Lawn("green", 300.0), 150.0)])
def test_lawns_to_come_agree_with_the_power_so_far_where_one_is_named(
    lawn: Lawn | None, seen_w: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of 5 Ah at 50 V is left, and 3 A were drawn so far; any lawn may come where none is named."""
    pack = replace(
        draw_pack(PACK, 100, np.random.default_rng(1)),
        charge=np.full(100, 0.5),
        capacity_ah=np.full(100, 5.0),
    )
    known = SimpleNamespace(found=SimpleNamespace(trace=None, emf_v=np.array([54.0, 50.0])), after=None)

    def stop(*given: Any) -> None:
        raise InterruptedError([given[1], given[4], given[6]])

    for name, stand_in in (
        ("fit_of_log", lambda *_: known), ("draw_now", lambda *_: pack), ("load_of_lawns", stop),
    ):  # fmt: skip
        monkeypatch.setattr(minutes, name, stand_in)
    log = Log(pd.DataFrame({"time_s": np.arange(0.0, 700, 10), "current_a": 3.0, "voltage_v": 50.0}))
    with pytest.raises(InterruptedError) as asked:
        minutes.minutes_left(log, PACK, 1.0, fit_profile([]), lawn=lawn, draws=100)
    assert asked.value.args == ([pytest.approx(125.0), lawn, pytest.approx(seen_w)],)


@pytest.mark.parametrize(
    ("sure", "draws", "drawn"),
    [(0.95, 1000, 1000), (0.995, 1000, 2000), (0.999, 1000, 4000), (0.999, 60, 60)],
)
def test_ten_drawn_days_are_harder_than_the_share_that_is_asked_for(
    sure: float, draws: int, drawn: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As many days as it takes, 4000 at most; a number that was chosen stays."""

    def stop(_profile: object, _lawns: object, _grasses: object, n: int, _rng: object) -> None:
        raise InterruptedError(n)

    monkeypatch.setattr(recommend, "draw_needs", stop)
    with pytest.raises(InterruptedError) as asked:
        recommend.recommend_capacity(fit_profile([]), PACK, [Lawn("a", 100)], sure=sure, draws=draws)
    assert asked.value.args == (drawn,)


def test_more_of_a_log_goes_on_at_the_usual_current_above_its_mean(monkeypatch: pytest.MonkeyPatch) -> None:
    """Readings that stand for 9.5 s at 2 A, then for 10 s at 10 A, 15 s at 14 A and 30 s at 10 A: 9.75 A on
    average, so all but the first count: 11.09 A. Exponents as remembered, from -0.2 to 1.3, refer to the
    volts at the end."""
    time_s = np.array([0.0, 1, 2, 3, 4, 14, 24, 34, 54])
    stands_s = np.array([1.0, 1, 1, 1, 5.5, 10, 10, 15, 20])
    amps = np.array([2.0, 2, 2, 2, 2, 10, 10, 14, 10])
    under_v = np.linspace(48.0, 40.0, 9)
    trace = SimpleNamespace(
        time_s=time_s,
        current_a=amps,
        voltage_v=np.full(9, 50.0),
        temperature_c=np.full(9, 25.0),
        weight=np.full(9, 1 / 9),
    )
    asked: dict[str, Any] = {}

    def under(mean: object, after: object, surface: object, warmth: object, usual_a: float) -> np.ndarray:
        asked["usual"] = usual_a
        return under_v

    def recall(*given: Any) -> LoadMemory:
        asked["remember"] = given
        return memory(follow=0.4, follow_std=0.5)

    for name, stand_in in (
        ("voltage_under", under), ("remember", recall), ("resampled", lambda *given: given),
    ):  # fmt: skip
        monkeypatch.setattr(load_ahead, name, stand_in)
    found: Any = SimpleNamespace(trace=trace, mean=None, surface=None)
    after: Any = SimpleNamespace(cut_off_v=39.0)
    log = Log(pd.DataFrame({"time_s": time_s, "current_a": amps, "voltage_v": 50.0}))
    n = 20_000
    ahead = load_ahead.more_of_log(log, found, after, 100.0, n, np.random.default_rng(1))
    late = slice(5, None)
    usual_a = float(amps[late] @ stands_s[late] / stands_s[late].sum())
    assert asked["usual"] == pytest.approx(usual_a) and usual_a == pytest.approx(11.09, abs=0.01)
    each_w, each_v, step_s, at_s, read_w, loaded_v = asked["remember"]
    assert each_w.mean() == pytest.approx(50.0 * amps @ stands_s / stands_s.sum(), rel=0.05)
    assert (each_v[0], each_v[-1], step_s) == (
        *(pytest.approx(volts, abs=0.6) for volts in (48.0, 40.0)),
        1.0,
    )
    assert (at_s.tolist(), read_w.tolist(), loaded_v.tolist()) == (
        time_s.tolist(),
        (50.0 * amps).tolist(),
        under_v.tolist(),
    )
    assert ahead.ahead_s == 100.0 / 400.0 * 3600 and ahead.means_w == [400.0] and ahead.read
    follow = ahead.follow
    assert follow is not None
    assert (follow.current_a, follow.from_v, follow.least_v) == (pytest.approx(usual_a), 40.0, 39.0)
    assert (follow.exponent.min(), follow.exponent.max()) == (-0.2, 1.3)
    drawn = np.clip(0.4 + 0.5 * np.random.default_rng(9).standard_normal(n), -0.2, 1.3)
    assert np.quantile(follow.exponent, [0.25, 0.5, 0.75]) == pytest.approx(
        np.quantile(drawn, [0.25, 0.5, 0.75]), abs=0.02
    )
    assert ahead.varied is not None
    assert ahead.varied[:, 1].tolist() == follow.exponent.tolist()
    levels = ahead.varied[:, 0]
    assert levels.mean() == pytest.approx(1.0, abs=0.01)
    assert levels.std() == pytest.approx(memory().level_std(900.0), rel=0.15)


def needed(sure: float = 0.9) -> finish_forecast.CapacityNeeded:
    return finish_forecast.CapacityNeeded(np.linspace(5.0, 7.0, 201), 6.8, sure)


def fade(**more: Any) -> FadeForecast:
    """10 Ah now, 9.6 to 10.4; under the need at mow 80 (60 to 120) of 540, from mow 41 on."""
    known = {
        "threshold_ah": 6.8, "level": 0.9, "mow": 80.0, "low": 60.0, "high": 120.0, "chance_within": 0.9,
        "horizon": 540, "shows_fade": True, "faded": 0.05, "faded_low": 0.01, "faded_high": 0.1,
        "under_now": False, "reached": None, "mows": (40.0, 41.0), "capacity_ah": (10.0, 10.0),
        "low_ah": (9.6, 9.6), "high_ah": (10.4, 10.4),
    }  # fmt: skip
    return FadeForecast(**{**known, **more})


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, "will likely fall under that at about mow 80 (60 to 120)."),
        ({"high": math.inf}, "will likely fall under that at about mow 80 (60 to beyond 540)."),
        ({"low": 90.0}, "will likely fall under that at about mow 80 (80 to 120)."),
        ({"mow": math.inf}, "most likely keeps that up to mow 540."),
        ({"under_now": True, "reached": 26.0}, "holds less, and has done since mow 26."),
        ({"under_now": True}, "finishes 64 times in 100 now: it holds 4.8 to 5.2 Ah."),
        ({"under_now": None}, "finishes 64 times in 100 now: it holds 4.8 to 5.2 Ah."),
    ],
)
@pytest.mark.parametrize(
    ("lawns", "need"), [(("rows",), "rows needs"), (("rows", "strip"), "rows, strip need")]
)
def test_the_sentence_of_a_day_that_a_fading_pack_finishes(
    lawns: tuple[str, ...], need: str, change: dict[str, Any], says: str
) -> None:
    """Capacities of a slow discharge, of which half is usable when mowing."""
    said = finish_forecast._sentence(lawns, needed(), fade(**change), 0.64, 0.5)
    assert said == f"{need} 3.4 Ah to finish 90 times in 100; the pack {says}"


@pytest.mark.parametrize(
    ("odds", "change", "under_now", "reached", "mow"),
    [
        (0.9, {"under_now": True, "reached": 9.0}, False, None, 80.0),
        (0.9, {"mow": 40.0}, False, None, 41.0),  # it finishes the day today: the next mow at the soonest
        (0.89, {"under_now": True, "reached": 9.0}, None, None, 80.0),
        (0.5, {"shows_fade": False}, None, None, math.inf),
        (0.49, {"reached": 9.0}, True, 9.0, 80.0),
    ],
)
def test_the_odds_of_the_day_decide_whether_a_pack_holds_too_little(
    odds: float, change: dict[str, Any], under_now: bool | None, reached: float | None, mow: float
) -> None:
    found = finish_forecast._by_odds(fade(**change), odds, 0.9)
    assert (found.under_now, found.reached, found.mow) == (under_now, reached, mow)


def test_a_day_is_finished_as_often_as_its_need_lies_under_the_capacity() -> None:
    """Needs from 5 to 7 Ah: a pack that has stayed at 6 Ah finishes half of the days, and so on ahead."""
    found = finish_forecast.finish_forecast(
        needed(), [Lawn("rows", 420)], np.arange(1, 41), np.full(40, 6.0), 0.01
    )
    assert found.odds_now == found.odds[0] == pytest.approx(0.5, abs=0.02)
    assert found.mows[0] == 40.0 and found.needed_ah == 6.8 and found.lawns == ("rows",)
    exact = finish_forecast.CapacityNeeded(np.array([5.0, 6.0, 7.0, 8.0]), 7.7, 0.9)
    future = FadeDraws(np.array([40.0, 41.0]), np.array([[6.0, 5.9], [8.0, 4.9]]), np.zeros(2))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(finish_forecast, "fade_draws", lambda _: future)
        found = finish_forecast.finish_forecast(exact, [Lawn("rows", 420)], [38, 39, 40], [7.0, 7.0, 7.0])
    assert found.odds == pytest.approx(((2 + 4) / 8, (1 + 0) / 8)), "just enough is enough"


@pytest.mark.parametrize(("times", "capacity_ah"), [(1.24, 6.2), (1.2401, 6.3)])
def test_a_capacity_is_rounded_up_to_the_next_tenth(
    times: float, capacity_ah: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A label of 5 Ah, of which each day needs so many times as much."""
    monkeypatch.setattr(recommend, "enough_for", lambda *_: times)
    found = recommend.recommend_capacity(fit_profile([]), PACK, [Lawn("a", 60)], draws=30)
    assert found.capacity_ah == pytest.approx(capacity_ah)
    assert sum(part.ah for part in found.parts) == pytest.approx(capacity_ah)
    assert found.choice is not None and found.choice.capacity_ah >= 5.0 * times
