"""What mows that stopped short of a whole lawn show: power, but no energy per area."""

from datetime import datetime

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.grass_effects import ENERGY_PRIOR, PACE_PRIOR, PRIOR_GROWTH_STD
from estimator.fitting.load.mixed_model import MixedPrior, fit_mixed, mixed_data
from estimator.fitting.load.mow_needs import POWER_LOG_STD, draw_needs
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.load.short_mows import log_pace_of, rate_near, telling_short_mows
from estimator.importer.log import Log
from estimator.mow import Mow

LAWN = Lawn("long meadow", 600.0)


def short_mow(watts):
    time_s = np.arange(1500.0)
    frame = pd.DataFrame({"time_s": time_s, "current_a": watts / 48.0, "voltage_v": 48.0})
    return Mow(Log(frame), LAWN, tags=("stopped short",))


def drawn(mows):
    needs = draw_needs(fit_profile(mows), [LAWN], [Grass()], 4000, np.random.default_rng(1))
    return 3600 * needs.energy_wh[:, 0] / needs.motor_s[:, 0], needs.energy_wh[:, 0]


def spread(values):
    return float(np.log(values).std())


@pytest.mark.parametrize("watts", [90.0, 250.0, 1100.0])
def test_the_power_of_a_short_mow_is_taken_and_its_energy_is_not(watts):
    power, energy = drawn([short_mow(watts)])
    before, energy_before = drawn([])
    assert np.median(power) == pytest.approx(watts, rel=0.15)
    assert spread(power) < 0.3 < 0.8 < spread(before)
    assert spread(energy) > 0.3  # how much a whole lawn takes stays open
    assert spread(energy_before) > spread(energy)


def test_more_short_mows_narrow_the_power():
    one, six = (spread(drawn([short_mow(300.0)] * k)[0]) for k in (1, 6))
    assert six < one


def logged(minutes, day, short=False):
    """A mow of a steady 240 W on the meadow."""
    time_s = np.arange(60.0 * minutes + 1)
    frame = pd.DataFrame({"time_s": time_s, "current_a": 5.0, "voltage_v": 48.0})
    mow = Mow(Log(frame), LAWN, tags=("stopped short",) if short else (), started=datetime(2031, 5, day, 10))
    return mow_features(mow)


def test_some_minutes_show_the_power_and_some_mows_the_pace():
    """Three minutes may be one thick patch, eight are enough rows; one whole mow may have been a slow one."""
    whole = [logged(30, day) for day in (1, 8, 15)]
    brief, telling = logged(3, 20, short=True), logged(8, 22, short=True)
    assert telling_short_mows([*whole, brief, telling]) == (telling,)
    assert telling_short_mows([whole[0], telling]) == ()


def test_the_rate_of_a_short_mow_is_that_of_the_mows_around_it():
    """600 m² in 30 or 25 min: the four mows of the latest weeks count, not those in spring that took an hour.
    The logarithms of 20, 20, 24 and 24 scatter by log(1.2)/sqrt(3) = 0.105."""
    spring = [logged(60, day) for day in (1, 2, 3, 4)]
    lately = [logged(minutes, day) for minutes, day in ((30, 20), (25, 21), (25, 25), (30, 26))]
    found = rate_near(logged(10, 23, short=True), [*spring, *lately])
    assert found is not None
    assert found.m2_min == pytest.approx(np.sqrt(20 * 24), rel=0.01)
    assert found.log_std == pytest.approx(0.105, abs=0.003)
    assert rate_near(logged(10, 23, short=True), lately[:1]) is None


def test_no_pace_is_known_better_than_the_way_one_walks():
    """The same person on the same lawn still varies by a twentieth or so (common practice)."""
    alike = rate_near(logged(10, 23, short=True), [logged(30, day) for day in (18, 19, 21, 22)])
    assert alike is not None and 0.03 < alike.log_std < 0.08


def test_mean_power_differs_from_mow_to_mow_as_energy_and_pace_do():
    """Power is energy per area times pace: days and mows add to either, the more so in thicker grass."""
    energy, pace = (float(np.hypot(*prior.spread_median[1:])) for prior in (ENERGY_PRIOR, PACE_PRIOR))
    grown = (ENERGY_PRIOR.mean[3] + PACE_PRIOR.mean[3]) * PRIOR_GROWTH_STD
    both = np.sqrt(energy**2 + pace**2 + 2 * fit_profile([]).correlation * energy * pace + grown**2)
    assert pytest.approx(both, rel=0.3) == POWER_LOG_STD


def test_variances_of_a_pace_add():
    """Before any mow: level 2², lawn 0.5², day 0.3² and remainder 0.4², at a column of 1 and of 2."""
    prior = MixedPrior(np.zeros(1), np.array([2.0]), np.array([0.5, 0.3, 0.4]), np.full(3, 0.01))
    none = np.zeros(0, np.int64)
    nothing = fit_mixed(mixed_data(np.zeros(0), np.zeros((0, 1)), none, 1, np.zeros(0), np.zeros(0)), prior)
    _, variance = log_pace_of(nothing, np.array([[1.0], [2.0]]), np.zeros(2, np.int64))
    assert variance == pytest.approx([4 + 0.25 + 0.09 + 0.16, 16 + 0.25 + 0.09 + 0.16], rel=0.01)
