"""Highest seconds against mean power: planted laws are found, and draws have their spread."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from estimator.descriptions import Lawn
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.fitting.load.peak_law import EXPONENT, EXPONENT_STD, LOG_STD, PeakLaw, peak_law, under_peak
from estimator.importer.log import Log
from estimator.mow import Mow


@pytest.fixture(scope="module")
def one() -> MowFeatures:
    frame = pd.DataFrame({"time_s": np.arange(600.0), "current_a": 5.0, "voltage_v": 48.0})
    return mow_features(Mow(Log(frame), Lawn("orchard", 300.0)))


def mows_of(one, mean_w, peak_w):
    return [replace(one, mean_w=m, peak_1s_w=p) for m, p in zip(mean_w, peak_w, strict=True)]


@pytest.mark.parametrize("exponent", [0.0, 0.4, 1.0])
def test_a_planted_law_is_found(one, exponent):
    rng = np.random.default_rng(7)
    mean_w = rng.uniform(120, 380, 60)
    peak_w = 620 * (mean_w / 220) ** exponent * rng.lognormal(0, 0.08, 60)
    law = peak_law(mows_of(one, mean_w, np.maximum(peak_w, mean_w)))
    assert law is not None
    assert law.exponent == pytest.approx(exponent, abs=0.1)
    assert law.log_std == pytest.approx(0.08, abs=0.025)
    plain = stats.linregress(np.log(mean_w), np.log(peak_w)).slope
    assert abs(law.exponent - plain) < 0.06  # sixty mows outweigh the prior


def test_one_mow_leaves_the_belief_and_none_leaves_nothing(one):
    law = peak_law(mows_of(one, [240.0], [700.0]))
    assert law is not None
    assert law.exponent == pytest.approx(EXPONENT, rel=0.02)
    assert (law.log_std, law.level_w) == (pytest.approx(LOG_STD), pytest.approx(700))
    unsure = peak_law([replace(one, mean_w=240.0, peak_1s_w=700.0, energy_log_std=0.4)])
    assert unsure is not None
    assert unsure.exponent < 0.3 * EXPONENT  # an uncertain mean shows nothing about peaks
    assert peak_law([]) is None
    assert peak_law([replace(one, mean_w=0.0)]) is None


@pytest.mark.parametrize("mows", [2, 12])
def test_bands_of_a_mow_to_come_hold(one, mows):
    """Ninety of a hundred highest seconds are in the 90 % band of draws, after a dozen mows and after two."""
    rng = np.random.default_rng(3)
    inside = []
    for _ in range(400):
        exponent, spread = rng.uniform(0.1, 0.8), rng.uniform(0.06, 0.2)
        mean_w = rng.uniform(140, 360, mows + 1)
        peak_w = 2.6 * 220 * (mean_w / 220) ** exponent * rng.lognormal(0, spread, mows + 1)
        law = peak_law(mows_of(one, mean_w[:mows], np.maximum(peak_w[:mows], mean_w[:mows])))
        assert law is not None
        low, high = np.quantile(law.draw(np.full(500, mean_w[mows]), rng), [0.05, 0.95])
        inside.append(low <= peak_w[mows] <= high)
    assert 0.85 < np.mean(inside) < 0.96


def test_before_any_mow_motor_and_grass_are_as_likely_to_set_the_peaks(one):
    """Exponent 0 where the motor sets the peaks and 1 where the grass does: both are two deviations away."""
    assert pytest.approx([0.0, 1.0]) == [EXPONENT - 2 * EXPONENT_STD, EXPONENT + 2 * EXPONENT_STD]


def test_what_a_peak_loses_goes_evenly_to_where_there_is_room():
    """Of 700 W 400 stay; the 300 W too much are a third of the room of 3 × 300 W. Idle seconds take none, and
    what finds no room is given up."""
    power = np.array([[100, 100, 100, 700], [0, 390, 1000, 0], [5, 5, 5, 5]], np.float32)
    held = under_peak(power, np.array([400.0, 400.0, 400.0]), np.array([250.0, 250.0, 5.0]))
    assert held == pytest.approx(np.array([[200, 200, 200, 400], [0, 400, 400, 0], [5, 5, 5, 5]]), rel=1e-3)
    high = under_peak(np.array([[100, 700]], np.float32), np.array([300.0]), np.array([400.0]))
    assert high.max() == pytest.approx(1.02 * 400), "never under the mean"


def test_a_mow_to_come_scatters_as_mows_do_and_as_their_mean_is_known():
    """Of four mows by √(1 + 1/4) of their scatter; at twice the mean power the highest is 2^0.4 as high."""
    drawn = np.log(PeakLaw(200.0, 600.0, 0.4, 0.1, 4).draw(np.full(40_000, 400.0), np.random.default_rng(1)))
    assert drawn.std() == pytest.approx(0.1 * np.sqrt(1.25), rel=0.02)
    assert drawn.mean() == pytest.approx(np.log(600 * 2**0.4), abs=0.003)
