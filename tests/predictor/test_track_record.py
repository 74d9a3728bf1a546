"""The replay: only earlier mows predict later ones, and the totals are right."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from planted_mows import plant, plant_mows
from scipy.stats import binom

from estimator.descriptions import Machine
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.predictor.finish_score import ScoredFinish, score_finishes
from estimator.predictor.track_record import TrackRecord, each_predicted, sum_up


def replayed(features: Sequence[MowFeatures], last: int | None = None) -> TrackRecord:
    """The mows of whole lawns in order of time, the newest of them predicted from those before each."""
    whole = sorted((one for one in features if one.whole), key=lambda one: one.started or "")
    places = range(max(1, len(whole) - (last or len(whole))), len(whole))
    return sum_up(list(each_predicted(dict(enumerate(whole)), places, 0.90, Machine(), 300)), 0.90)


@pytest.fixture(scope="module")
def features():
    rng = np.random.default_rng(61)
    return [mow_features(one.mow) for one in plant_mows(plant(rng), 40, rng, step_s=4.0)]


@pytest.fixture(scope="module")
def record(features):
    return replayed(features)


def test_bands_hold_and_it_beats_the_simple_ways(record):
    assert len(record.predicted) == 39
    assert record.held_low <= record.held
    assert record.minutes_held > 0.75
    assert record.against_last_time < 0.9


def test_each_is_predicted_from_earlier_ones_only(features, record):
    """Later mows change nothing in what was predicted before."""
    spoiled = [*features[:20], *(replace(one, energy_wh=9 * one.energy_wh) for one in features[20:])]
    again = replayed(spoiled)
    assert again.predicted[:19] == record.predicted[:19]
    assert [one.earlier for one in record.predicted] == list(range(1, 40))


def test_order_in_the_list_does_not_matter(features, record):
    shuffled = [features[i] for i in np.random.default_rng(1).permutation(40)]
    again = replayed(shuffled)
    assert again.held == pytest.approx(record.held, abs=0.06)
    assert [one.energy_came_wh for one in again.predicted[:5]] == [
        one.energy_came_wh for one in record.predicted[:5]
    ]


def test_sums_on_paper(record):
    assert record.held == pytest.approx(np.mean([one.held for one in record.predicted]))
    misses = [abs(one.energy_wh / one.energy_came_wh - 1) for one in record.predicted]
    assert record.miss == pytest.approx(np.median(misses))
    last = [abs(one.last_time_wh / one.energy_came_wh - 1) for one in record.predicted]
    assert record.last_time_miss == pytest.approx(np.median(last))
    assert record.against_last_time == pytest.approx(record.miss / record.last_time_miss)


def test_same_as_last_time_is_the_last_mow_of_that_lawn(features, record):
    for i, one in enumerate(record.predicted, start=1):
        same = [each for each in features[:i] if each.lawn == one.lawn]
        if same:
            assert one.last_time_wh == pytest.approx(same[-1].energy_wh)


def test_only_the_newest(features, record):
    newest = replayed(features, last=5)
    assert [one.energy_came_wh for one in newest.predicted] == [
        one.energy_came_wh for one in record.predicted[-5:]
    ]
    assert newest.predicted[0].earlier == 35


def test_limits_of_chance_are_binomial_quantiles(record):
    low, high = binom.ppf([0.05, 0.95], 39, 0.90) / 39
    assert (record.held_low, record.held_high) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_mows_claim_nothing(features, count):
    assert [*each_predicted(dict(enumerate(features[:count])), range(1, count), 0.90, Machine())] == []


@pytest.mark.parametrize(("miss", "last_time", "ratio"), [(0.1, 0.2, 0.5), (0.0, 0.2, 0.0), (0.1, 0.0, None)])
def test_a_last_time_that_missed_nothing_is_compared_with_nothing(miss, last_time, ratio):
    record = TrackRecord(0.9, 0, 0.9, 0.0, 1.0, 0.9, miss, 0.1, last_time, 0.1, ())
    assert record.against_last_time == ratio


def test_finish_odds_are_scored_against_mows_done_and_stopped_short() -> None:
    """Four mows with odds of 0.9, one of which stopped short: 3.6 expected; Brier (3·0.01 + 0.81)/4 = 0.21.
    Two or fewer finish with a chance of 1 - 0.9^4 - 4·0.1·0.9^3 = 0.0523: two is within 9 cases of 10."""
    scored = [ScoredFinish("a", None, 0.9, done) for done in (True, True, True, False)]
    found = score_finishes(scored)
    assert found is not None
    assert (found.mows, found.done, found.low, found.high) == (4, 3, 2, 4)
    assert found.expected == pytest.approx(3.6)
    assert found.brier == pytest.approx(0.21)
    assert found.when_stopped == pytest.approx(0.9) and found.when_done == pytest.approx(0.9)
    assert score_finishes([]) is None


@pytest.mark.parametrize(("mows", "odds"), [(30, 0.5), (24, 0.8), (9, 0.97)])
def test_how_many_should_be_done_is_the_binomial_law(mows: int, odds: float) -> None:
    found = score_finishes([ScoredFinish("a", None, odds, True)] * mows)
    assert found is not None
    assert [found.low, found.high] == binom.ppf([0.05, 0.95], mows, odds).tolist()
