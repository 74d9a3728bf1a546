"""What mows that stopped short of a whole lawn tell: power, but no energy per area."""

import numpy as np
import pandas as pd
import pytest

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import fit_profile
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
