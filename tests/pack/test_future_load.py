"""The load to come: what a log's past says about the mean and the scatter of its future."""

import numpy as np
import pytest

from estimator.predictor.future_load import remember


def memory_of(power_w):
    volts, seconds = np.full(len(power_w), 48.0), np.arange(float(len(power_w)))
    return remember(power_w, volts, 1.0, seconds, power_w, volts)


def test_after_a_change_all_of_the_log_says_how_much_the_load_scatters():
    """The last stretches happen to be alike; the earlier ones show that they need not be."""
    rng = np.random.default_rng(4)
    early = np.repeat(300.0 * rng.lognormal(0.0, 0.2, 24), 90)
    late = np.full(540, 700.0)
    memory = memory_of(np.concatenate([early, late]))
    assert memory.changed > 0.5
    assert np.sqrt(memory.block_variance) / memory.mean_w > 0.04


def test_steps_hold_without_scatter_and_scatter_shows(seed=2):
    flat = memory_of(np.full(3000, 400.0))
    rough = memory_of(np.repeat(400.0 * np.random.default_rng(seed).lognormal(0.0, 0.3, 100), 30))
    assert flat.level_std(1500.0) == pytest.approx(0.0, abs=1e-9)
    assert 0.02 < rough.level_std(1500.0) < 0.2
