"""Drawn loads: exact energy, the lawns in a row, and peaks that survive."""

import numpy as np
import pytest
from planted_mows import plant, plant_mows

from estimator.descriptions import Grass
from estimator.fitting.features import mow_features
from estimator.fitting.load_draws import draw_mows, draw_power
from estimator.fitting.profile import fit_profile


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
    total = np.concatenate([np.zeros((50, 1)), np.cumsum(day.power_w, axis=1) * 2.0 / 3600], axis=1)
    at_end = np.take_along_axis(total, np.rint(day.end_s / 2.0).astype(int), axis=1)
    assert np.diff(at_end, axis=1, prepend=0.0) == pytest.approx(day.energy_wh, rel=1e-9)
    assert total[:, -1] == pytest.approx(day.energy_wh.sum(1))
    assert (day.power_w >= 0).all()


def test_peaks_survive(season):
    """The highest 1, 5 and 30 s of a drawn mow lie where those of measured mows do."""
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
