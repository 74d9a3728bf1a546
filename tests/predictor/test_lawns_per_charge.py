"""Lawns per charge: limiting cases, orders by brute force, pauses, spares, and messages."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planted_mows import plant, plant_mows

from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.predictor.lawns.day import ChargingPause, charged_to, run_day
from estimator.predictor.lawns.day_plan import best_order
from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, resistance_ohm=0.15)
DAMP = Grass("damp", 25)


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(41)
    truth = plant(rng, 6)
    lawns = tuple(replace(lawn, area_m2=260.0 + 40 * i) for i, lawn in enumerate(truth.lawns))
    truth = replace(truth, lawns=lawns, level=0.3)
    planted = plant_mows(truth, 40, rng, step_s=2.0)
    return truth, fit_profile([mow_features(one.mow) for one in planted])


def ask(season, capacity_ah, count=3, **more):
    truth, profile = season
    pack = replace(PACK, capacity_ah=capacity_ah, resistance_ohm=1.5 / capacity_ah)
    return lawns_per_charge(profile, pack, truth.lawns[:count], DAMP, **({"draws": 200} | more))


def test_a_huge_pack_finishes_all_and_a_tiny_one_nothing(season):
    assert ask(season, 200.0).odds == (1.0, 1.0, 1.0)
    assert ask(season, 200.0).count == 3
    assert ask(season, 0.5).odds == (0.0, 0.0, 0.0)
    assert ask(season, 0.5).minutes == 0.0


def test_a_current_limit_that_mows_went_on_after_stops_nothing(season):
    truth, profile = season
    roomy = as_fitted(replace(PACK, capacity_ah=30.0, resistance_ohm=0.05, current_limit_a=9.0))
    ran_on = replace(roomy, pace=replace(roomy.pace, passed_a=60.0))
    by_label, by_logs = (
        lawns_per_charge(profile, pack, truth.lawns, DAMP, draws=200) for pack in (roomy, ran_on)
    )
    assert by_label.odds[0] < 0.5 and by_label.stops[-1].why == "current limit"
    assert by_logs.odds[0] == 1.0 and not by_logs.stops


def test_odds_fall_from_lawn_to_lawn_and_rise_with_the_pack(season):
    found = [ask(season, size).odds for size in (4.0, 6.0, 8.0, 12.0)]
    for odds in found:
        assert list(odds) == sorted(odds, reverse=True)
    last = [odds[-1] for odds in found]
    assert last == sorted(last)
    assert last[0] < 0.2 and last[-1] > 0.8


def test_count_minutes_and_details(season):
    truth, _ = season
    found = ask(season, 9.0, sure=0.90)
    assert found.count == sum(value >= 0.90 for value in found.odds)
    assert found.expected == pytest.approx(sum(found.odds))
    assert found.odds_std == pytest.approx(np.sqrt(0.5 * 0.5 / 200))  # a share of a half in 200 draws
    assert found.minutes == pytest.approx(sum(one.minutes for one in found.lawns[: found.count]), rel=0.1)
    assert [one.lawn for one in found.lawns] == [lawn.name for lawn in truth.lawns[:3]]
    assert found.lawns[0].energy_low_wh < found.lawns[0].energy_wh < found.lawns[0].energy_high_wh
    assert found.lawns[0].mows_known > 0
    assert sum(one.chance for one in found.stops) == pytest.approx(1 - found.odds[-1])


def test_half_a_charge_a_reserve_and_cold_all_take_away(season):
    full = ask(season, 9.0).expected
    assert ask(season, 9.0, start_charge=0.5).expected < full
    assert ask(season, 9.0, reserve=0.3).expected < full
    assert ask(season, 9.0, temperature_c=-10.0).expected < full


def test_a_pause_on_the_charger_and_a_spare_pack_give_back(season):
    plain = ask(season, 6.0, count=4)
    paused = ask(season, 6.0, count=4, pause=ChargingPause(after=2, minutes=30, charger_w=150))
    longer = ask(season, 6.0, count=4, pause=ChargingPause(after=2, minutes=90, charger_w=150))
    spared = ask(season, 6.0, count=4, spare=replace(PACK, capacity_ah=6.0))
    assert plain.expected < paused.expected < longer.expected
    assert plain.expected < spared.expected
    assert ask(season, 6.0, count=4, pause=ChargingPause(0, 0.0, 150)).expected >= plain.expected


def test_a_spare_is_worth_about_a_pack_twice_the_size(season):
    twice = ask(season, 12.0, count=5, draws=400)
    spared = ask(season, 6.0, count=5, draws=400, spare=replace(PACK, capacity_ah=6.0, resistance_ohm=0.25))
    # one after another, each pack carries the whole current, so it gives somewhat less than side by side
    assert 0.8 * twice.expected < spared.expected <= twice.expected


def test_day_on_paper():
    """Constant power from a pack with next to no resistance: 100 W for an hour each, 250 Wh in the pack."""
    pack = Pack(chemistry="nmc", series=10, capacity_ah=5.0, cut_off_v=19.0, resistance_ohm=1e-4)
    one = draw_pack(pack, 1, np.random.default_rng(1))
    volts = 50.0
    flat_tables = one.tables.copy()
    flat_tables[:, :, 0] = volts
    flat_tables[:, :, 1] = 0.01
    flat_tables[:, :, 2:] = 1e-6
    still = {
        "tables": flat_tables, "lag_h": np.zeros_like(one.lag_h), "charge": np.ones(1), "warmth": None
    }  # fmt: skip
    flat = replace(one, capacity_ah=np.array([5.0]), **still)
    hours = 3
    load = MowDraws(
        np.full((1, hours * 900), 100.0), np.array([[3600.0, 7200.0, 10800.0]]), np.full((1, 3), 100.0), 4.0
    )
    # five thousandths of charge are kept, so that the end is where the charge runs out
    run = run_day(flat, pack, load, reserve_charge=0.005)
    assert run.finished.tolist() == [[True, True, False]]
    assert run.delivered_wh[0] == pytest.approx(250, rel=0.01)
    paused = run_day(flat, pack, load, reserve_charge=0.005, pause=ChargingPause(2, 60, 100.0))
    assert paused.finished.all()
    spare = run_day(flat, pack, load, reserve_charge=0.005, spare=(flat, pack))
    assert spare.finished.all()
    half = run_day(flat.starting_at(0.5), pack, load, reserve_charge=0.005)
    assert half.finished.tolist() == [[True, False, False]]


@given(st.floats(0, 1), st.floats(0, 600), st.floats(10, 500))
@settings(max_examples=40, deadline=None)
def test_charging_never_exceeds_full_nor_the_energy_given(start, minutes, charger_w):
    pack = draw_pack(PACK, 3, np.random.default_rng(1))
    after = charged_to(PACK, pack, np.full(3, start), ChargingPause(1, minutes, charger_w))
    assert (after <= 1).all() and (after >= start - 1e-12).all()
    gained = (after - start) * pack.capacity_ah * pack.tables[:, :, 0].mean(1)
    assert (gained <= charger_w * minutes / 60 + 1e-9).all()


def test_best_order_assures_at_least_as_many(season):
    for size in (5.0, 8.0):
        asked = {"count": 6, "sure": 0.9, "draws": 300}
        given_, best = ask(season, size, **asked), ask(season, size, order="best", **asked)
        assert best.count >= given_.count
        assert best.expected >= given_.expected - 0.1
        assert sorted(one.lawn for one in best.lawns) == sorted(one.lawn for one in given_.lawns)


def test_what_was_not_told_is_said(season):
    _, profile = season
    found = lawns_per_charge(profile, PACK, [Lawn("new", 100)], draws=50)
    said = " / ".join(found.assumptions)
    for words in ("moisture not given", "growth not given", "never mown", "the pack starts full", "25 °C"):
        assert words in said


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({"lawns": []}, "no lawns to mow; name at least one"),
        ({"sure": 0.2}, "certainty is 0.2; give a share from 0.5 to 0.999"),
        ({"order": "any"}, "order is 'any'; choose given or best"),
        ({"aim": "fun"}, "aim is 'fun'; choose lawns or area"),
        ({"start_charge": 1.4}, "start charge is 1.4; give a share from 0 to 1"),
        ({"reserve": 1.0}, "reserve is 1; give a share from 0 to 0.9"),
    ],
)
def test_messages(more, line):
    with pytest.raises(InputError) as told:
        lawns_per_charge(fit_profile([]), PACK, more.pop("lawns", [Lawn("a", 100)]), **more)
    assert str(told.value) == line


def test_message_of_a_pause():
    with pytest.raises(
        InputError, match="charging pause after 1 lawns, 30 min, -5 W; give lawns and minutes"
    ):
        ChargingPause(1, 30, -5.0)


def test_the_best_order_is_sought_within_what_a_charge_gave_where_it_ended_a_day(season, monkeypatch):
    """A day that was finished shows no end of the charge: in as many draws as the last lawn was done."""
    asked = []
    monkeypatch.setattr(
        "estimator.predictor.lawns.lawns_per_charge.best_order",
        lambda *given: asked.append(given) or best_order(*given),
    )
    ask(season, 7.0, order="best", draws=60)
    ((energy_wh, budget_wh, _, _),) = asked
    ended = np.isfinite(budget_wh)
    assert (~ended).mean() == ask(season, 7.0, draws=60).odds[-1]
    assert 0.2 < ended.mean() < 0.8
    assert (budget_wh[ended] < energy_wh[ended].sum(axis=1)).all()


def test_the_same_lawn_in_the_same_grass_shows_the_same_minutes_and_energy(season):
    truth, profile = season
    a, b = truth.lawns[:2]
    first, other, again = lawns_per_charge(profile, PACK, [a, b, a], DAMP, draws=200).lawns
    shown = [(one.minutes, one.minutes_low, one.energy_wh) for one in (first, other, again)]
    assert shown[0] == shown[2] != shown[1] and again.odds <= first.odds
