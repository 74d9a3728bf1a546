"""Mows that show hardly any load, and grass that was judged only on some mows."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_days import draw_mows
from planted_mows import plant, plant_mows

from estimator.conversion.load_trace import trace_from_features
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.mow_needs import draw_needs, grasses_for
from estimator.fitting.load.phases import RunTrace
from estimator.fitting.load.profile import fit_profile
from estimator.fitting.pack import prior as pack_prior
from estimator.fitting.pack.fitted_pack import as_fitted, assemble
from estimator.importer.log import SpotNotes
from estimator.predictor.sizing.new_pack import RISE
from estimator.predictor.sizing.recommend import recommend_capacity

NOTHING = RunTrace.of(np.zeros(0))


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(8)
    truth = plant(rng, 3)
    return truth, [mow_features(one.mow) for one in plant_mows(truth, 20, rng, step_s=2.0)]


def test_each_lawn_may_have_its_own_grass():
    lawns = [Lawn("orchard", 420), Lawn("green", 260)]
    assert grasses_for(lawns, [Grass("wet"), Grass("dry")]) == (Grass("wet"), Grass("dry"))


def test_a_mow_without_load_has_no_trace(season):
    with pytest.raises(InputError) as refused:
        trace_from_features(replace(season[1][0], lawn="orchard", trace=NOTHING))
    assert str(refused.value) == "a mow of orchard has no load; leave it out"


def test_shapes_come_from_the_mows_that_show_one(season):
    """With traces of no or one second among them, energy still comes out exactly."""
    truth, features = season
    second = RunTrace.of(np.array([300.0]))
    short = [replace(features[0], trace=NOTHING), replace(features[1], trace=second)]
    profile = fit_profile([*short, *features[2:4]])
    day = draw_mows(profile, truth.lawns[:1], [Grass()], 20, np.random.default_rng(1), step_s=2.0)
    assert day.power_w.sum(1, dtype=float) * 2.0 / 3600 == pytest.approx(day.energy_wh[:, 0], rel=1e-6)


def test_growth_counted_in_days_is_surer_than_none_judged(season):
    """Half of the mows are judged by height: if the others counted days, the band is narrower than if they
    say nothing."""
    truth, features = season
    judged = features[::2]
    unsaid = [replace(one, growth_mm=None, days_since_cut=None) for one in features[1::2]]
    counted = [replace(one, growth_mm=None, days_since_cut=one.growth_mm / 4.0) for one in features[1::2]]
    widths = []
    for others in (counted, unsaid):
        profile = fit_profile([*judged, *others])
        drawn = draw_needs(profile, truth.lawns[:1], [Grass("dry", 25)], 2000, np.random.default_rng(2))
        low, high = np.quantile(drawn.energy_wh, [0.05, 0.95])
        widths.append(np.log(high / low))
    assert 0 < widths[0] < 1.05 * widths[1]


def test_volts_after_the_mow_serve_as_well_as_volts_before():
    """Either rest voltage, with the charge between them, gives the sag and nearly the same resistance."""
    crate = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    notes = SpotNotes(typical_a=10.0, minutes=1.0, rest_before_v=53.0, load_v=51.0)
    after = replace(notes, rest_before_v=None, rest_after_v=52.9)
    ohms = [learn_by_hand(crate, each).resistance_ohm for each in (notes, after)]
    assert ohms[1] == pytest.approx(ohms[0], rel=0.05)


def test_too_few_draws_are_refused(season):
    truth, features = season
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    with pytest.raises(InputError) as refused:
        recommend_capacity(fit_profile(features), pack, truth.lawns[:1], Grass("dry", 25), draws=5)
    assert str(refused.value) == "only 5 draws are asked for; take at least 20"


def test_a_new_pack_is_not_taken_to_be_as_worn_as_the_one_in_use(season):
    """A pack worn to 80 % of its label, with the usual rise of resistance, says nothing about what a new one
    holds: its label less 3 %.
    """
    truth, features = season
    fresh = as_fitted(Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0))
    asked = []
    for share in (1.0, 0.8):
        mean = fresh.mean.copy()
        mean[pack_prior.CAPACITY] += np.log(share)
        for risen in (pack_prior.OHMIC, pack_prior.QUICK, pack_prior.LAG):
            mean[risen] -= RISE * np.log(share)
        used = assemble(fresh.rated, mean, fresh.covariance, usable=fresh.usable, logs=3)
        found = recommend_capacity(fit_profile(features), used, truth.lawns[:1], Grass("dry", 25), draws=100)
        asked.append(found)
    new = "a new pack holds its label within 5 %, whatever the pack in use seems to hold"
    assert all(new in each.assumptions for each in asked)
    assert asked[1].capacity_ah == pytest.approx(asked[0].capacity_ah, rel=0.15)
