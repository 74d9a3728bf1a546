"""Coarse steps where nothing can stop the pack: the same days as at fine steps throughout."""

from dataclasses import replace

import numpy as np
import pytest
from planted_mows import plant, plant_mows

from estimator.descriptions import Grass, Pack
from estimator.fitting.features import mow_features
from estimator.fitting.load_draws import MowDraws, draw_mows
from estimator.fitting.pack_draws import draw_pack
from estimator.fitting.profile import fit_profile
from estimator.predictor import day
from estimator.predictor.calm_part import calm_charge, calm_part
from estimator.predictor.day import run_day

CRATE = Pack(chemistry="nmc", series=13, capacity_ah=12.0, cut_off_v=39.0)
N = 200


@pytest.fixture(scope="module")
def load():
    rng = np.random.default_rng(1)
    truth = plant(rng, 4)
    profile = fit_profile([mow_features(one.mow) for one in plant_mows(truth, 8, rng)])
    return draw_mows(profile, truth.lawns[:3], [Grass("damp", 30)] * 3, N, np.random.default_rng(2))


def in_fine_steps(monkeypatch, *args, **more):
    with monkeypatch.context() as patch:
        patch.setattr(day, "WORTH_IT", 2.0)
        return run_day(*args, **more)


@pytest.mark.parametrize("temperature_c", [25.0, 0.0])
@pytest.mark.parametrize("share", [0.9, 1.4])
def test_odds_are_those_of_fine_steps(load, monkeypatch, share, temperature_c):
    need_ah = float(np.median(load.energy_wh.sum(1))) / 48
    pack = replace(CRATE, capacity_ah=share * need_ah)
    draws = draw_pack(pack, N, np.random.default_rng(3), None, temperature_c)
    coarse, fine = run_day(draws, pack, load), in_fine_steps(monkeypatch, draws, pack, load)
    # three draws of two hundred that just clear a peak; over 800 draws it is 0.004
    assert np.abs(coarse.finished.mean(0) - fine.finished.mean(0)).max() <= 0.0151
    assert coarse.delivered_wh.mean() == pytest.approx(fine.delivered_wh.mean(), rel=0.003)
    # a draw that just clears one peak stops at a later one: seldom
    assert np.quantile(np.abs(coarse.charge_end - fine.charge_end), 0.9) < 0.01


def test_most_of_an_ample_day_is_calm(load):
    need_ah = float(np.median(load.energy_wh.sum(1))) / 48
    pack = replace(CRATE, capacity_ah=2 * need_ah)
    draws = draw_pack(pack, N, np.random.default_rng(3))
    calm = calm_part(draws, pack, load.power_w, load.step_s, 0.0)
    assert (calm.left == 0).mean() > 0.9
    assert (calm.steps % calm.ratio == 0).all()


def test_a_peak_in_the_first_minute_stops_as_it_does_in_fine_steps(monkeypatch):
    """A second at 3,500 W pulls a full pack of 0.13 ohm under its cut-off; a mean over twelve seconds would
    not."""
    power = np.full((N, 1800), 200.0)
    power[:, 30] = 3500.0
    load = MowDraws(power, np.full((N, 1), 1800.0), power.sum(1, keepdims=True) / 3600, 1.0)
    pack = replace(CRATE, capacity_ah=10.0, cut_off_v=46.0)
    draws = draw_pack(pack, N, np.random.default_rng(3))
    found, fine = run_day(draws, pack, load), in_fine_steps(monkeypatch, draws, pack, load)
    assert 0.2 < fine.finished.mean() < 0.8
    assert (found.finished == fine.finished).all()


def test_a_current_limit_is_met_by_single_peaks(monkeypatch):
    power = np.full((N, 3600), 200.0)
    power[:, 1000] = 1500.0
    load = MowDraws(power, np.full((N, 1), 3600.0), power.sum(1, keepdims=True) / 3600, 1.0)
    pack = replace(CRATE, capacity_ah=30.0, current_limit_a=20.0)
    found = run_day(draw_pack(pack, N, np.random.default_rng(3)), pack, load)
    assert (found.why == "current limit").all()
    assert not found.finished.any()


def test_no_charge_is_calm_where_the_peak_stops_a_full_pack():
    draws = draw_pack(CRATE, 5, np.random.default_rng(3))
    assert np.isinf(calm_charge(draws, CRATE, np.full(5, 200.0), np.full(5, 30000.0), 0.0)).all()


def test_the_reserve_is_never_calm():
    draws = draw_pack(CRATE, 5, np.random.default_rng(3))
    assert (calm_charge(draws, CRATE, np.full(5, 50.0), np.full(5, 60.0), 0.4) > 0.4).all()
