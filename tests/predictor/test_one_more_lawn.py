"""One more lawn now: the charge left against lawns of known need, and what the log so far shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from planted_mows import plant, plant_mows

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.load_draws import coming_power
from estimator.fitting.load.mow_needs import MowNeeds, at_seen_power, draw_needs
from estimator.fitting.load.profile import fit_profile
from estimator.importer.log import Log, SpotNotes
from estimator.mow import Mow
from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
from estimator.predictor.lawns.one_more import (
    SoFar,
    lawn_under_way,
    lawns_that_fit,
    running,
    so_far_of_log,
    weighed_so_far,
)

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, resistance_ohm=0.15)
DRY = Grass("dry", 25)


@pytest.fixture(scope="module")
def profile():
    rng = np.random.default_rng(41)
    truth = plant(rng, 3)
    areas = (150.0, 400.0, 1500.0)
    lawns = tuple(replace(lawn, area_m2=area) for lawn, area in zip(truth.lawns, areas, strict=True))
    truth = replace(truth, lawns=lawns, level=0.3)
    return truth, fit_profile([mow_features(one.mow) for one in plant_mows(truth, 24, rng, step_s=2.0)])


def so_far(used_ah: float, power_w: float = 250.0) -> Log:
    """A log from full that has drawn `used_ah` at a steady power, on a curve like that of NMC."""
    volts = 50.0
    time = np.arange(0.0, 3600 * used_ah * volts / power_w, 2.0)
    drawn = power_w / volts * time / 3600
    rest = 54.0 - 10.0 * drawn / 10.0
    columns = {"time_s": time, "current_a": power_w / volts, "voltage_v": rest - 0.15 * power_w / volts}
    return Log(pd.DataFrame(columns))


def one_more_lawn(known, log: Log, lawns):
    return lawns_that_fit(known, so_far_of_log(log, PACK, 1.0, None), PACK, lawns, DRY)


def test_small_lawns_are_likelier_and_less_is_left_after_more(profile):
    truth, known = profile
    told = [one_more_lawn(known, so_far(ah), truth.lawns) for ah in (3.0, 9.0)]
    early, late = ({one.lawn: one.odds for one in each} for each in told)
    small, middle, large = (lawn.name for lawn in truth.lawns)
    assert early[small] > 0.95 and early[large] < 0.5
    assert early[small] >= early[middle] >= early[large]
    assert all(late[name] <= early[name] for name in early)
    assert late[middle] < 0.5


def test_a_day_that_has_begun_goes_on_with_what_is_left(profile):
    """With hardly anything drawn the pack is full and the power so far shows nothing; the first lawn alone is
    one more lawn now; the more was drawn, the less is finished."""
    truth, known = profile
    small, middle, large = truth.lawns

    def odds(*lawns, used_ah):
        began = so_far_of_log(so_far(used_ah), PACK, 1.0, None)
        return lawns_per_charge(known, PACK, lawns, DRY, so_far=began, draws=200).odds

    untold = replace(so_far_of_log(so_far(0.05), PACK, 1.0, None), seen_w=0.0)
    full = lawns_per_charge(known, PACK, (middle, large), DRY, draws=200).odds
    begun = lawns_per_charge(known, PACK, (middle, large), DRY, so_far=untold, draws=200).odds
    assert np.allclose(begun, full, atol=0.12)
    alone = {one.lawn: one.odds for one in one_more_lawn(known, so_far(6.0), truth.lawns)}
    for lawn in truth.lawns:
        assert odds(lawn, used_ah=6.0)[0] == pytest.approx(alone[lawn.name], abs=0.12)
    falling = [odds(small, middle, used_ah=used)[1] for used in (1.0, 5.0, 8.5)]
    assert falling == sorted(falling, reverse=True) and falling[0] - falling[-1] > 0.5


def test_hand_readings_leave_as_much_as_the_log_of_the_same_mow(profile):
    """5 A for an hour from a full pack of 10 Ah: half of it."""
    _, known = profile
    weighed = weighed_so_far(SpotNotes(typical_a=5.0, minutes=60.0), PACK, known, 1.0, None)
    by_hand = SoFar(weighed.pack, float(np.median(weighed.power_w)))
    by_log = so_far_of_log(so_far(5.0), PACK, 1.0, None)
    assert np.median(by_hand.pack.charge) == pytest.approx(np.median(by_log.pack.charge), abs=0.06)
    assert by_hand.seen_w == pytest.approx(by_log.seen_w, rel=0.1)


def test_likeliest_first(profile):
    truth, known = profile
    found = one_more_lawn(known, so_far(4.0), truth.lawns)
    assert [one.odds for one in found] == sorted((one.odds for one in found), reverse=True)


def test_a_log_in_which_nothing_was_mown_tells_of_the_pack_alone(profile):
    truth, known = profile
    still = pd.DataFrame({"time_s": np.arange(0.0, 200.0, 2.0), "current_a": 0.0, "voltage_v": 53.9})
    began = so_far_of_log(Log(still), PACK, 1.0, None)
    assert began.seen_w == 0.0
    alone = lawns_that_fit(known, began, PACK, truth.lawns[:1], DRY)
    full = lawns_per_charge(known, PACK, truth.lawns[:1], DRY, draws=200).odds[0]
    assert alone[0].odds == pytest.approx(full, abs=0.12)


def test_the_power_so_far_narrows_what_is_to_come(profile):
    """Once seen: going on as on one lawn widened minutes left from 36-52 to 15-92 min."""
    truth, known = profile
    lawn, rng = truth.lawns[1], np.random.default_rng(2)

    def means(seen_w):
        chunk = next(coming_power(known, 400, 600.0, rng, lawn, None, 1.0, seen_w))
        return np.log(chunk.mean(axis=1))

    free = means(0.0)
    seen = float(np.exp(np.median(free) + free.std()))
    assert means(seen).std() <= 1.02 * free.std()
    assert np.median(means(seen)) > np.median(free)


def test_power_that_agrees_is_kept():
    drawn = MowNeeds(np.array([[100.0], [300.0]]), np.full((2, 1), 3600.0), {"day": np.array([0.0, 1.0])})
    kept = at_seen_power(drawn, [300.0], np.random.default_rng(1), 40)
    assert kept.energy_wh.shape == (40, 1) and float(kept.energy_wh.mean()) > 290
    assert kept.causes["day"].mean() > 0.95


def test_standing_still_is_not_running():
    amps = np.r_[np.zeros(50), np.full(50, 6.0), np.zeros(50)]
    frame = pd.DataFrame({"time_s": np.arange(150.0), "current_a": amps, "voltage_v": 50.0})
    assert running(Log(frame)).mean_w == pytest.approx(300.0)
    assert running(Log(frame.assign(current_a=0.0))).mean_w == 0.0


def test_turning_free_counts_as_running_and_waiting_does_not():
    """Blades without grass take a seventh to a third of the usual power, a waiting controller a thirtieth:
    300 s at 6 A and 100 s at 1.8 A are 4.95 A on average. What runs is what runs in a mow that is over."""
    amps = np.r_[np.full(300, 6.0), np.full(100, 1.8), np.full(100, 0.2)]
    frame = pd.DataFrame({"time_s": np.arange(500.0), "current_a": amps, "voltage_v": 50.0})
    assert running(Log(frame)).mean_w == pytest.approx(4.95 * 50, rel=0.005)
    turns = np.tile(np.r_[np.full(40, 6.0), np.full(8, 0.9)], 10)
    log = Log(pd.DataFrame({"time_s": np.arange(480.0), "current_a": turns, "voltage_v": 50.0}))
    over = mow_features(Mow(log, Lawn("a", 400)))
    assert running(log).seconds == pytest.approx(over.motor_s, rel=0.01)
    assert running(log).mean_w == pytest.approx(over.mean_w, rel=0.01)


def test_what_a_lawn_still_takes_is_its_time_less_that_mown_so_far():
    """Five minutes of it are mown: the rest of the time that the profile draws for such power, in minutes; a
    charge that lasts for the middle of it does in half of the days."""
    nothing, lawn = fit_profile([]), Lawn("green", 600)
    frame = pd.DataFrame({"time_s": np.arange(0.0, 301), "current_a": 6.0, "voltage_v": 50.0})
    needs = draw_needs(nothing, [lawn], [Grass()], 4000, np.random.default_rng(7), seen_w=300.0)
    expected = float(np.median(needs.motor_s)) / 60 - 5.0
    found = lawn_under_way(nothing, Log(frame), lawn, [expected] * 9)
    assert found.minutes == pytest.approx(expected, rel=0.08)
    assert found.odds == pytest.approx(0.5, abs=0.05)
