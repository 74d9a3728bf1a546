"""What is taken for a new pack: its label, the resistance before ageing, and the coldest day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from planted_packs import holding

from estimator.descriptions import Lawn, Pack
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.profile import LoadProfile, fit_profile
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.fitting.pack.pack_draws import draw_pack
from estimator.importer.log import Log
from estimator.mow import Mow
from estimator.predictor.sizing.new_pack import coldest_of, new_pack

LABEL_AH = 10.0
USED = replace(as_fitted(Pack("nmc", 13, LABEL_AH, 39.0)), logs=5)


def faded_to(share: float) -> FittedPack:
    return holding(USED, share * LABEL_AH)


def resistance_when_new(pack: FittedPack) -> float:
    """Resistance when new over the present one, at half charge."""
    new = new_pack(pack, LABEL_AH, 50, np.random.default_rng(1)).tables
    now = draw_pack(pack, 50, np.random.default_rng(1)).tables
    half = new.shape[1] // 2
    return float(np.median(new[:, half, 1:].sum(1) / now[:, half, 1:].sum(1)))


def test_a_new_pack_holds_its_label_within_what_makers_state() -> None:
    """The least and typical capacity in data sheets are 2 to 5 % apart (common practice)."""
    held = new_pack(USED, LABEL_AH, 4000, np.random.default_rng(1)).capacity_ah / LABEL_AH
    low, middle, high = np.quantile(held, [0.05, 0.5, 0.95])
    assert middle == pytest.approx(1.0, abs=0.005)
    assert 0.93 < low < 0.97 and 1.03 < high < 1.07


def test_resistance_goes_back_as_far_as_the_capacity_has_faded() -> None:
    """A pack with 80 % of its capacity left has 1.3 to 2 times the resistance of a new one: of the two usual
    ends of life, 80 % of the capacity and twice the resistance, the second is not reached (common practice).
    """
    aged = resistance_when_new(faded_to(0.8))
    assert 1.3 < 1 / aged < 2.0
    assert aged < resistance_when_new(faded_to(0.9)) < 1.0
    assert resistance_when_new(faded_to(1.0)) == pytest.approx(1.0)


def test_a_capacity_beyond_its_end_of_life_is_no_measure_of_resistance() -> None:
    """A short mow may look like a pack with half its label: the resistance is not explained away by that."""
    assert resistance_when_new(faded_to(0.5)) == pytest.approx(resistance_when_new(faded_to(0.8)))
    assert resistance_when_new(faded_to(1.2)) == pytest.approx(1.0), "nor is more than the label"


def mows_at(temperatures_c: list[float]) -> LoadProfile:
    frame = pd.DataFrame({"time_s": np.arange(60.0), "current_a": 5.0, "voltage_v": 48.0})
    one = mow_features(Mow(Log(frame), Lawn("orchard", 300.0)))
    return replace(fit_profile([]), loads=tuple(replace(one, temperature_c=each) for each in temperatures_c))


def test_the_coldest_day_before_a_season_was_seen() -> None:
    """Grass grows from 6 °C; mowing days in spring are somewhat warmer."""
    assert 6.0 < coldest_of(mows_at([])) < 15.0
    assert coldest_of(mows_at([24.0] * 6)) == coldest_of(mows_at([]))
    assert coldest_of(mows_at([24.0] * 5 + [3.0])) == 3.0


def test_a_season_of_mows_says_itself_how_cold_it_gets() -> None:
    assert coldest_of(mows_at([16.0, 21.0, 24.0, 28.0] * 3)) == 16.0
    assert coldest_of(mows_at([16.0] * 10)) == 16.0 and coldest_of(mows_at([16.0] * 9)) == 10.0
