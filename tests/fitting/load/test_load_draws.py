"""Drawn loads: exact energy, lawns in a row, and peaks that survive."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_days import draw_mows, draw_power
from planted_mows import plant, plant_mows

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load import load_draws
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.phases import RunTrace
from estimator.fitting.load.profile import fit_profile
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.importer.log import SpotNotes
from estimator.mow import Mow


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(31)
    truth = plant(rng)
    planted = plant_mows(truth, 30, rng)
    return truth, planted, fit_profile([mow_features(one.mow) for one in planted])


def test_energy_and_order_of_the_day(season):
    truth, _, profile = season
    lawns, grasses = truth.lawns[:3], [Grass("dry", 25)] * 3
    day = draw_mows(profile, lawns, grasses, 50, np.random.default_rng(1), step_s=2.0)
    assert (np.diff(day.end_s, axis=1) > 0).all()
    total = np.concatenate(
        [np.zeros((50, 1)), np.cumsum(day.power_w, axis=1, dtype=float) * 2.0 / 3600], axis=1
    )
    at_end = np.take_along_axis(total, np.rint(day.end_s / 2.0).astype(int), axis=1)
    assert np.diff(at_end, axis=1, prepend=0.0) == pytest.approx(day.energy_wh, rel=1e-6)
    assert total[:, -1] == pytest.approx(day.energy_wh.sum(1))
    assert (day.power_w >= 0).all()


def test_peaks_survive(season):
    """The highest 1, 5 and 30 s of drawn mows are like those of measured mows."""
    truth, planted, profile = season
    lawn, grass = truth.lawns[0], Grass("dry", 25)
    day = draw_mows(profile, [lawn], [grass], 200, np.random.default_rng(2))
    for seconds in (1, 5, 30):
        moving = np.apply_along_axis(np.convolve, 1, day.power_w, np.ones(seconds) / seconds, "valid")
        drawn = np.median(moving.max(1) * 3600 * 1.0 / 3600 / (day.energy_wh[:, 0] * 3600 / day.end_s[:, 0]))
        features = [mow_features(one.mow) for one in planted]
        measured = np.median([getattr(one, f"peak_{seconds}s_w") / one.mean_w for one in features])
        assert drawn == pytest.approx(measured, rel=0.15)


def test_endless_power_has_the_profile_mean(season):
    truth, _, profile = season
    lawn, grass = truth.lawns[1], Grass("damp", 30)
    power = draw_power(profile, 300, 1800, np.random.default_rng(3), lawn, grass)
    assert power.shape == (300, 1800)
    pace = truth.pace_m2_min * truth.lawn_pace[lawn.name]
    expected = truth.mean_wh(lawn, grass) / (lawn.area_m2 / pace / 60)
    assert np.median(power.mean(1)) == pytest.approx(expected, rel=0.15)
    assert np.quantile(power, 0.01) == pytest.approx(truth.idle_w, rel=0.2)


@pytest.mark.parametrize("step_s", [0.5, 1.0, 4.0])
def test_any_step_and_any_lawn(season, step_s):
    _, _, profile = season
    power = draw_power(profile, 20, 600, np.random.default_rng(4), step_s=step_s)
    assert power.shape == (20, round(600 / step_s))
    assert np.isfinite(power).all()
    assert draw_power(fit_profile([]), 5, 60, np.random.default_rng(5)).min() >= 0


def test_same_seed_same_draws(season):
    truth, _, profile = season
    one, two = (
        draw_mows(profile, truth.lawns[:2], [Grass()] * 2, 5, np.random.default_rng(9), step_s=4.0)
        for _ in range(2)
    )
    assert np.array_equal(one.power_w, two.power_w)


def test_how_unsure_hand_readings_are_of_the_mean_does_not_lift_their_peaks() -> None:
    notes = SpotNotes(idle_a=1.4, typical_a=4.2, highest_a=13.0, minutes=24.0, rest_before_v=54.0)
    mow = Mow(log_from_spot(notes), lawn=Lawn("apple rows", 420))
    features = mow_features(mow)
    max_hold_w = features.trace.highest
    assert features.peak_1s_w == pytest.approx(max_hold_w, rel=0.02)
    assert features.trace.values().mean() == pytest.approx(features.mean_w, rel=0.03)
    assert features.idle_w == pytest.approx(1.4 * max_hold_w / 13.0, rel=0.01)

    profile = fit_profile([features])
    day = draw_mows(profile, [mow.lawn], [Grass()], 400, np.random.default_rng(3))
    highest = day.power_w.max(axis=1)
    # the MAX hold itself, times what differs from mow to mow (a standard deviation of 20 %)
    assert 0.85 * max_hold_w < np.median(highest) < 1.15 * max_hold_w
    assert np.quantile(highest, 0.95) < 1.6 * max_hold_w
    assert np.allclose(day.power_w.sum(axis=1) / 3600, day.energy_wh[:, 0], rtol=0.02)
    endless = draw_power(profile, 400, 300.0, np.random.default_rng(3), mow.lawn)
    assert np.quantile(endless.max(axis=1), 0.95) < 1.6 * max_hold_w


def test_peaks_of_the_mows_drawn_from_are_kept(season, monkeypatch):
    """Where peaks follow the mean, as planted, the law takes off little: a highest second drawn independently
    of the mow's own would cut off the higher of two chances, 5 to 8 % of it."""

    def mean_log_peak():
        day = draw_mows(season[2], season[0].lawns[:1], [Grass("dry", 25)], 600, np.random.default_rng(1))
        return float(np.log(day.power_w.max(1)).mean())

    held = mean_log_peak()
    monkeypatch.setattr(load_draws, "_highest", lambda law, shapes, pair, mean_w, rng: np.full(600, np.inf))
    assert held == pytest.approx(mean_log_peak(), abs=0.025)


@pytest.mark.parametrize(("noted_w", "idle_w"), [(80.0, 80.0), (None, 50.0), (190.0, 140.0)])
def test_power_over_idle_is_what_grass_scales(season, noted_w, idle_w):
    """Of 100 and 300 W: over the idle power of that mow, else of all, and never over 0.7 of its mean."""
    _, _, profile = season
    power = np.tile([100.0, 300.0], 50)
    mow = replace(profile.mows[0], trace=RunTrace.of(power), phases=None, noted_idle_w=noted_w)
    found = load_draws._relative(mow, 50.0)
    assert found == pytest.approx((power - idle_w) / (200.0 - idle_w), abs=0.02)
    assert load_draws._relative(replace(mow, trace=RunTrace.of(np.ones(1))), 50.0) == pytest.approx([1.0])


@pytest.mark.parametrize(
    ("step_s", "expected"),
    [
        (1.0, [1, 3, 5, 7]),
        (2.0, [2, 6]),
        (0.5, [1, 1, 3, 3, 5, 5, 7, 7]),
        (1.5, [5 / 3, 13 / 3]),
        (3.0, [4, 4]),
    ],
)
def test_longer_steps_are_means_and_shorter_ones_repeats(step_s, expected):
    """Of 1, 3, 5, 7 a second and a half is (1 + 3/2)/1.5, then (3/2 + 5)/1.5; what is left over goes."""
    assert load_draws._coarser(np.array([1.0, 3.0, 5.0, 7.0]), step_s) == pytest.approx(expected)


def test_the_same_lawn_counts_three_times_and_the_same_moisture_twice(season):
    """And 25 mm against 75 mm, where (1 + growth/25) is 2 and 4, a half; a hand reading a twentieth."""
    _, _, profile = season
    lawn = profile.mows[0].lawn
    mow = replace(profile.mows[0], moisture="wet", growth_mm=25.0)

    def like(name, grass, one=mow):
        return load_draws._likeness(one, Lawn(name, 100.0), grass, profile)

    assert like(lawn, Grass()) == 3.0 and like("other", Grass()) == 1.0
    assert like("other", Grass("wet")) == 2.0 and like("other", Grass("dry")) == 1.0
    assert like("other", Grass(growth_mm=75.0)) == pytest.approx(0.5)
    assert like(lawn, Grass("wet", 75.0), replace(mow, spot=True)) == pytest.approx(3 * 2 * 0.5 * 0.05)
