"""A mow as earlier ones predict it, and minutes by hand: the arithmetic, with draws that are known."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from estimator.descriptions import Grass, Lawn, Machine, Pack
from estimator.errors import InputError
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.load.phases import RunTrace
from estimator.fitting.load.profile import LoadProfile, fit_profile
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.predictor import charge_curve, minutes_by_hand, track_record
from estimator.predictor.simulation.load_memory import MOST_ELSEWHERE
from estimator.predictor.track_record import each_predicted, predict

MOW = MowFeatures(
    lawn="green", area_m2=300.0, energy_wh=95.0, motor_s=3000.0, mean_w=114.0, peak_1s_w=200.0, peak_5s_w=180,
    peak_30s_w=150.0, typical_v=50.0, energy_log_std=0.0, pace_log_std=0.02, gain_std=0.01, step_s=1.0,
    gap_s=0.0, trace=RunTrace.of(np.full(5, 90.0)), started="2024-05-09", days_since_care=30.0,
    temperature_c=12.0,
)  # fmt: skip

LAWNS = (Lawn("small", 100.0), Lawn("large", 400.0))


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """A hundred and one days that need 50 to 150 Wh and 30 to 130 min."""
    asked: list[Any] = []

    def draws_of(*given: Any, **more: Any) -> MowNeeds:
        asked.append((*given[:4], more))
        return MowNeeds(np.arange(50.0, 151.0)[:, None], 60 * np.arange(30.0, 131.0)[:, None])

    monkeypatch.setattr(track_record, "draw_needs", draws_of)
    return asked


def test_a_mow_is_predicted_by_the_quantiles_of_its_days(asked: list[Any]) -> None:
    """Half of the days need 75 to 125 Wh. The mow before on this lawn took 0.2 Wh/m², so 60 for 300 m²; all
    three took 0.2, 0.3 and 0.7, so 0.4 on average."""
    earlier = [
        replace(MOW, lawn=lawn, energy_wh=wh, area_m2=m2)
        for lawn, wh, m2 in (("green", 30.0, 100.0), ("green", 40.0, 200.0), ("bank", 70.0, 100.0))
    ]
    profile = fit_profile([])
    found = predict(profile, earlier, MOW, 0.5, 101, np.random.default_rng(1))
    assert (found.energy_low_wh, found.energy_wh, found.energy_high_wh) == pytest.approx((75.0, 100.0, 125.0))
    assert (found.minutes_low, found.minutes, found.minutes_high) == pytest.approx((55.0, 80.0, 105.0))
    assert (found.energy_came_wh, found.minutes_came) == pytest.approx((95.0, 50.0))
    assert (found.lawn, found.started, found.earlier) == ("green", "2024-05-09", 3)
    assert found.last_time_wh == pytest.approx(60.0) and found.mean_wh == pytest.approx(120.0)
    assert found.held and not found.minutes_held
    new = predict(profile, earlier, replace(MOW, lawn="new"), 0.5, 101, np.random.default_rng(1))
    assert new.last_time_wh == pytest.approx(210.0), "never mown before: the last mow of all"
    ((_, (lawn,), (grass,), n, more),) = asked[:1]
    assert (lawn.name, lawn.area_m2, grass, n) == ("green", 300.0, MOW.grass, 101)
    assert more == {"days_since_care": 30.0, "temperature_c": 12.0}


def test_the_error_of_its_own_meter_widens_the_energy_but_not_the_minutes(
    asked: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Days that are all the same, read with an error of 20 %: nine in ten within exp(±1.645·0.2)."""
    same = np.ones((4000, 1))
    monkeypatch.setattr(
        track_record,
        "draw_needs",
        lambda *_, **__: MowNeeds(100.0 * same, 60.0 * same),
    )
    found = predict(
        fit_profile([]), [MOW], replace(MOW, energy_log_std=0.2), 0.9, 4000, np.random.default_rng(1)
    )
    assert found.energy_wh == pytest.approx(100.0, rel=0.02)
    assert math.log(found.energy_high_wh / found.energy_low_wh) == pytest.approx(2 * 1.645 * 0.2, rel=0.06)
    assert found.minutes_low == found.minutes_high == 1.0


@pytest.mark.parametrize(
    ("one", "held"),
    [
        ((10.0, 5.0), (True, True)),
        ((20.0, 9.0), (True, True)),
        ((9.9, 9.1), (False, False)),
        ((20.1, 4.9), (False,) * 2),
    ],
)
def test_a_band_holds_with_both_of_its_ends(one: tuple[float, float], held: tuple[bool, bool]) -> None:
    found = track_record.Predicted("a", None, 1, 15.0, 10.0, 20.0, one[0], 7.0, 5.0, 9.0, one[1], 1.0, 1.0)
    assert (found.held, found.minutes_held) == held


def test_misses_are_shares_of_what_came() -> None:
    """Three mows that took 50 Wh and 20 min; each way of telling is off by its middle one."""
    found = [
        track_record.Predicted("a", None, 1, wh, 40.0, 60.0, 50.0, minutes, 15.0, 25.0, 20.0, last, mean)
        for wh, minutes, last, mean in ((100, 50, 20, 150), (55, 22, 35, 90), (75, 30, 50, 10))
    ]  # fmt: skip
    record = track_record.sum_up(found, 0.9)
    assert record.miss == pytest.approx(0.5) and record.minutes_miss == pytest.approx(0.5)
    assert record.last_time_miss == pytest.approx(0.3) and record.mean_miss == pytest.approx(0.8)
    assert record.against_last_time == pytest.approx(0.5 / 0.3)
    assert record.held == record.minutes_held == 1.0
    # all three of nine in ten: 0.9³ = 0.729; two or fewer 0.271; none or one 0.028
    assert (record.held_low, record.held_high) == (pytest.approx(2 / 3), 1.0)


def test_spreads_are_searched_for_again_as_mows_grow_by_a_quarter(monkeypatch: pytest.MonkeyPatch) -> None:
    """Up to seven mows each time, then at 9 and 12. In between a profile is fitted to all before with the
    spreads found last; where the search was for just these mows, it is the profile."""
    fits: list[tuple[int, object]] = []

    def fit(mows: list[MowFeatures], _machine: Machine, points: int = 0, before: object = None) -> object:
        fits.append((len(mows), before))
        assert points == (0 if before else track_record.POINTS)
        return SimpleNamespace(of=len(mows))

    monkeypatch.setattr(track_record, "fit_features", fit)
    used = []
    monkeypatch.setattr(
        track_record,
        "predict",
        lambda of, earlier, came, *_: used.append((of.of, len(earlier), came)),
    )
    mows = {10 * k: replace(MOW, energy_wh=float(k + 1)) for k in range(12)}
    list(each_predicted(mows, [5, 6, 7, 8, 9, 11], 0.9, Machine()))
    assert [of for of, _, _ in used] == [earlier for _, earlier, _ in used] == [5, 6, 7, 8, 9, 11]
    assert [came.energy_wh for _, _, came in used] == [6.0, 7.0, 8.0, 9.0, 10.0, 12.0]
    assert [(n, getattr(before, "of", None)) for n, before in fits] == [
        (5, None), (6, None), (7, None), (8, 7), (9, None), (11, 9)
    ]  # fmt: skip


def even_pack(charge: float, n: int) -> PackDraws:
    """5 Ah at 50 V until it is empty: 250 Wh."""
    one = draw_pack(Pack("nmc", 10, 5.0, 19.0), n, np.random.default_rng(1))
    tables = np.zeros_like(one.tables)
    tables[:, :, 0], tables[:, :, 1], tables[:, :, 2] = np.where(GRID > -0.001, 50.0, 0.0), 0.01, 1e-6
    return replace(
        one, tables=tables, capacity_ah=np.full(n, 5.0), charge=np.full(n, charge), warmth=None,
        lag_h=np.zeros_like(one.lag_h),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("minutes", "stretches"),
    [(None, 1.0), (1.0, 1.0), (12.0, 4.0)],
)
def test_minutes_by_hand_are_what_is_left_over_the_power_so_far(
    minutes: float | None, stretches: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """25 Wh at 100 W last 15 min, at each draw\'s level as much less as it is higher, with turns and peaks at
    the 50 V so far. Levels are one on
    the whole, and scatter by 5 % and by 15 % of stretches of three minutes, less the more were seen."""
    n = 800
    pack = even_pack(0.1, n)
    ones = np.ones(n)
    now: Any = SimpleNamespace(
        pack=pack, mean_a=2.0 * ones, hours=2.25 * ones, ah=4.5 * ones, wh=225.0 * ones, after=0.1 * ones,
        power_w=100.0 * ones,
    )  # fmt: skip
    notes = SpotNotes(typical_a=2.0, minutes=minutes)
    asked: list[Any] = []
    stand_in_of = minutes_by_hand.stand_in_of
    monkeypatch.setattr(
        minutes_by_hand, "stand_in_of", lambda *given: asked.append(given) or stand_in_of(*given)
    )
    left, level = minutes_by_hand._run_on(now, notes, Pack("nmc", 10, 5.0, 19.0), np.random.default_rng(3))
    assert asked == [(notes, 50.0, 100.0)]
    assert level.mean() == pytest.approx(1.0, abs=0.02)
    spread = math.hypot(MOST_ELSEWHERE, 0.15 / math.sqrt(stretches))
    assert np.log(level).std() == pytest.approx(spread, rel=0.08)
    assert left * level == pytest.approx(np.full(n, 15.0), rel=0.08)


@pytest.mark.parametrize(
    ("load", "lawns", "asked"),
    [(None, (), False), (fit_profile([]), (), False), (None, LAWNS, False), (fit_profile([]), LAWNS, True)],
)
def test_minutes_by_hand_are_told_with_what_was_used_and_which_lawns_fit(
    load: LoadProfile | None, lawns: tuple[Lawn, ...], asked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hundred and one draws: 10 to 30 minutes left, 0 to 1 of the charge, 2 to 4 Ah and 100 to 200 Wh."""
    at = np.linspace(0.0, 1.0, 101)
    pack = even_pack(0.5, 101)
    now = SimpleNamespace(
        pack=pack, mean_a=5 + at, before=np.ones(101), after=at[::-1], ah=2 + 2 * at, wh=100 + 100 * at,
        power_w=200 + at,
    )  # fmt: skip
    fits: list[Any] = []
    causes: list[dict[str, Any]] = []
    for name, stand_in in (
        ("weighed_so_far", lambda *given: now),
        ("_run_on", lambda *_: (10 + 20 * at, 1 + at)),
        ("lawns_that_fit", lambda *given, **more: fits.append((given, more)) or ("fits",)),
        ("doubts_by_cause", lambda left, found, **_: causes.append(found) or ()),
    ):
        monkeypatch.setattr(minutes_by_hand, name, stand_in)
    notes, crate = SpotNotes(typical_a=5.0, minutes=20.0), Pack("nmc", 10, 5.0, 19.0)
    grass = Grass("wet")
    found = minutes_by_hand.minutes_left_by_hand(
        notes, crate, None, 0.5, load=load, lawns=lawns, grass=grass, temperature_c=9.0
    )
    assert (found.low, found.minutes, found.high) == pytest.approx((15.0, 20.0, 25.0))
    assert (found.charge_low, found.charge, found.charge_high) == pytest.approx((0.05, 0.5, 0.95))
    assert (found.used_ah_low, found.used_ah, found.used_ah_high) == pytest.approx((2.1, 3.0, 3.9))
    assert found.used_wh == pytest.approx(150.0)
    assert found.more == (("fits",) if asked else ())
    if asked:
        so_far = minutes_by_hand.SoFar(pack, 200.5)
        assert fits == [((load, so_far, crate, lawns, grass), {"temperature_c": 9.0})]
    (cause,) = causes
    assert cause["open-circuit curve"].tolist() == [50.0] * 101 and cause["resistance"].shape == (101, 2)
    assert (cause["mean current"] is now.mean_a, cause["charge"] is now.before) == (True, True)
    with pytest.raises(InputError, match="load"):
        minutes_by_hand.minutes_left_by_hand(notes, crate, load=crate)  # type: ignore[arg-type]


def test_minutes_by_hand_follow_the_voltage_as_loads_usually_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """Exponents of 0.4 ± 0.5, from -0.2 to 1.3; at the mean current, from the volts now to the cut-off. None
    ends: 24 hours are the most."""
    n = 2000
    ones = np.ones(n)
    asked: list[Any] = []
    monkeypatch.setattr(
        minutes_by_hand,
        "simulate",
        lambda *_, follow, **__: asked.append(follow) or SimpleNamespace(end_s=np.inf * ones),
    )
    now: Any = SimpleNamespace(
        pack=even_pack(0.5, n), mean_a=2 * ones, hours=ones, ah=2 * ones, wh=1e2 * ones, after=0.5 * ones,
        power_w=100.0 * ones,
    )  # fmt: skip
    left, _ = minutes_by_hand._run_on(
        now, SpotNotes(typical_a=2.0, minutes=60.0), Pack("nmc", 10, 5.0, 19.0), np.random.default_rng(3)
    )
    assert set(left) == {1440.0}
    (follow,) = asked
    assert (follow.exponent.min(), follow.exponent.max()) == (-0.2, 1.3)
    drawn = np.clip(0.4 + 0.5 * np.random.default_rng(9).standard_normal(100_000), -0.2, 1.3)
    assert follow.exponent.mean() == pytest.approx(drawn.mean(), abs=0.04)
    assert follow.exponent.std() == pytest.approx(drawn.std(), abs=0.03)
    assert (follow.current_a, follow.least_v) == (2.0, 19.0) and follow.from_v == pytest.approx(
        49.98, abs=0.01
    )


def test_the_charge_by_hand_falls_evenly_while_mowing_and_stands_while_resting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """From between 0.9 and 1.1 to 0.1 less than half of that: the middle draw goes from 1.0 to 0.4; no pack
    shows more than full."""
    before = np.linspace(0.9, 1.1, 101)
    weighed = SimpleNamespace(before=before, after=0.5 * before - 0.1)
    monkeypatch.setattr(charge_curve, "weigh", lambda *_: weighed)
    log = log_from_spot(
        SpotNotes(typical_a=9.0, minutes=30.0, rest_before_v=54.0, rest_after_v=50.0, load_v=48.0)
    )
    found = charge_curve.charge_columns(log, Pack("nmc", 13, 10.0, 39.0), None, None)
    at = log.arrays["time_s"]
    mowing = np.clip((at - at[2]) / (at[-3] - at[2]), 0.0, 1.0)
    assert mowing[[0, 1, 2]].tolist() == [0.0] * 3 and mowing[[-3, -2, -1]].tolist() == [1.0] * 3
    assert found["time_s"].tolist() == at.tolist()
    assert found["charge"] == pytest.approx(1.0 - 0.6 * mowing)
    low, high = 0.91 - (0.455 + 0.1) * mowing, 1.09 - (0.545 + 0.1) * mowing
    assert found["low"] == pytest.approx(low) and found["high"] == pytest.approx(np.minimum(high, 1.0))
