"""Fade forecasts: generated fades with recovery and noise, limits, order, and nothing claimed about knees."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from asked_fade import fade_forecast
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.descriptions import Lawn
from estimator.errors import InputError
from estimator.fitting.seasons.fade import FadeDraws, FadeSeries, fade_draws, fade_series
from estimator.predictor.fade_forecast import first_under, no_fade_words
from estimator.predictor.finish_forecast import CapacityNeeded, finish_forecast


@dataclass(frozen=True)
class Fade:
    """A generated fade: what was seen, the threshold, and when it is really crossed."""

    seen: FadeSeries
    threshold_ah: float
    crossing: float


def generated(rng: np.random.Generator, own_std: float) -> Fade:
    """From square-root to faster than linear, with bumps of 0.5 to 3 % after rests, gone in eight mows."""
    seen, length = int(rng.integers(25, 90)), 800
    mow = np.arange(1, length + 1)
    loss, bend = math.exp(rng.normal(math.log(0.001), 0.5)), math.exp(rng.normal(0, 0.2))
    trend = 1 - 100 * loss * (mow / 100) ** bend
    bump, bumps = 0.0, np.zeros(length)
    for k in range(length):
        bump = bump * math.exp(-1 / 8) + (rng.uniform(0.005, 0.03) if rng.random() < 0.04 else 0.0)
        bumps[k] = bump
    capacity = 10 * (trend + bumps)
    threshold = 10 * trend[seen - 1] * (1 - rng.uniform(0.03, 0.12))
    under = np.flatnonzero(capacity < threshold)
    read = capacity[:seen] * (1 + own_std * rng.standard_normal(seen))
    return Fade(
        fade_series(mow[:seen], read, 10 * own_std),
        threshold,
        float(mow[under[0]]) if len(under) else math.inf,
    )


@pytest.mark.parametrize("own_std", [0.003, 0.02])
def test_the_band_of_the_crossing_holds(own_std: float) -> None:
    inside, misses = [], []
    for seed in range(45):
        fade = generated(np.random.default_rng(seed), own_std)
        found = fade_forecast(fade.seen, fade.threshold_ah, horizon=500)
        crossing = fade.crossing if fade.crossing <= found.horizon else math.inf
        inside.append(found.low <= crossing <= found.high)
        if math.isfinite(crossing) and math.isfinite(found.mow):
            last = fade.seen.number[-1]
            misses.append(abs(found.mow - crossing) / (crossing - last + 1))
    assert 0.82 <= np.mean(inside) <= 1.0
    assert np.median(misses) < 0.45


def test_a_straight_fade_is_carried_on_straight() -> None:
    mow = np.arange(1, 81)
    found = fade_forecast(fade_series(mow, 10 - 0.02 * mow), 7.8)
    assert found.mow == pytest.approx(111, abs=6) and found.low < 111 < found.high
    assert found.mows[4] == 100 and found.capacity_ah[4] == pytest.approx(10 - 0.02 * 100, abs=0.1)


def test_the_root_of_use_is_told_from_a_straight_line() -> None:
    """c = 10 − 0.2·√n falls under 7.5 at n = (2.5/0.2)² = 156.25; a straight line through the last half
    says 130 or less.
    """
    mow = np.arange(1, 101)
    found = fade_forecast(fade_series(mow, 10 - 0.2 * np.sqrt(mow)), 7.5)
    assert found.low <= 157 <= found.high
    assert found.mow > 135


def test_a_published_power_law_of_use_is_followed() -> None:
    """Loss as the 0.55th power of the charge moved (Wang et al. 2011, J. Power Sources 196, 3942): 12 % lost
    at mow 100 means 20 % lost at mow 100·(20/12)^(1/0.55) = 253.
    """
    mow = np.arange(1, 101)
    found = fade_forecast(fade_series(mow, 10 * (1 - 0.12 * (mow / 100) ** 0.55)), 8.0)
    assert found.mow == pytest.approx(253, rel=0.08) and found.low <= 253 <= found.high


def test_a_recovery_bump_at_the_end_is_not_taken_for_a_cure() -> None:
    mow = np.arange(1, 61)
    straight = 10 - 0.02 * mow
    bumped = straight + np.where(mow > 56, 0.2 * np.exp(-(mow - 57) / 6.0), 0.0)
    plain, after = (fade_forecast(fade_series(mow, c), 8.3) for c in (straight, bumped))
    assert math.isfinite(after.mow) and after.low <= 86
    assert after.mow - plain.mow < 40


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 1000), gap=st.floats(0.05, 1.0))
def test_a_lower_threshold_never_comes_earlier(seed: int, gap: float) -> None:
    fade = generated(np.random.default_rng(seed), 0.01)
    future = fade_draws(fade.seen, horizon=200)
    high = first_under(fade.seen, future, fade.threshold_ah)
    low = first_under(fade.seen, future, fade.threshold_ah - gap)
    assert low.mow >= high.mow and low.low >= high.low and low.high >= high.high
    assert low.chance_within <= high.chance_within


def test_a_faster_fade_comes_earlier() -> None:
    mow = np.arange(1, 61)
    found = [fade_forecast(fade_series(mow, 10 - a * mow), 8.0).mow for a in (0.012, 0.016, 0.024)]
    assert found[0] > found[1] > found[2]


@settings(max_examples=10, deadline=None)
@given(factor=st.floats(0.05, 50))
def test_units_do_not_matter(factor: float) -> None:
    fade = generated(np.random.default_rng(3), 0.01)
    scaled = fade_series(fade.seen.number, factor * fade.seen.capacity_ah, factor * fade.seen.std_ah)
    one, other = (
        fade_forecast(fade.seen, fade.threshold_ah),
        fade_forecast(scaled, factor * fade.threshold_ah),
    )
    assert (one.mow, one.low, one.high) == (other.mow, other.low, other.high)


def test_the_same_question_gives_the_same_answer() -> None:
    fade = generated(np.random.default_rng(4), 0.01)
    assert fade_forecast(fade.seen, fade.threshold_ah) == fade_forecast(fade.seen, fade.threshold_ah)


def test_more_mows_narrow_the_band() -> None:
    mow = np.arange(1, 121)
    capacity = 10 - 0.015 * mow + 0.03 * np.random.default_rng(5).standard_normal(120)
    widths = [
        (found := fade_forecast(fade_series(mow[:n], capacity[:n], 0.03), 7.9)).high - found.low
        for n in (20, 60, 120)
    ]
    assert widths[0] > widths[1] > widths[2]


def test_no_fade_most_likely_stays_and_says_so() -> None:
    found = fade_forecast(fade_series(np.arange(1, 81), np.full(80, 10.0)), 7.0, horizon=100)
    assert found.mow == math.inf and found.chance_within < 0.05
    assert found.shows_fade is False
    assert no_fade_words(found).startswith("the mows show no fade yet (")


def test_a_slow_fade_most_likely_stays() -> None:
    mow = np.arange(1, 81)
    found = fade_forecast(fade_series(mow, 10 - 0.004 * mow), 7.0, horizon=100)
    assert found.shows_fade is True and found.mow == math.inf


def test_packs_that_do_not_fade_are_given_no_last_mow() -> None:
    """Once seen: 21 of 30 packs that did not age got one. Here are 20 that stay as they are, and 20 that lose
    a tenth in 40 mows."""
    named = {}
    for loss in (0.0, 0.025):
        mow = np.arange(1, 41)
        named[loss] = 0
        for seed in range(20):
            read = 10 - loss * mow + 0.12 * np.random.default_rng(seed).standard_normal(40)
            named[loss] += math.isfinite(fade_forecast(fade_series(mow, read, 0.12), 7.5).mow)
    assert named[0.0] <= 4 and named[0.025] >= 16


def test_the_line_that_is_drawn_crosses_at_the_mow_that_is_said() -> None:
    """Once seen: mow 211 in the sentence, but a line that crosses at about 490."""
    fade = generated(np.random.default_rng(8), 0.02)
    found = fade_forecast(fade.seen, fade.threshold_ah, horizon=100)  # every mow is drawn
    for said, line in ((found.mow, found.capacity_ah), (found.low, found.low_ah)):
        under = [mow for mow, ah in zip(found.mows, line, strict=True) if ah < fade.threshold_ah]
        assert said == (under[0] if under else math.inf)


def test_one_capacity_is_answered_widely() -> None:
    found = fade_forecast(fade_series([1], [10.0], 0.3), 8.0)
    assert found.high == math.inf or found.high - found.low > 200


def test_reached_is_the_first_mow_clearly_under() -> None:
    mow = np.arange(1, 41)
    found = fade_forecast(fade_series(mow, 10 - 0.05 * mow), 8.52)
    assert found.reached == 30 and (found.mow, found.low, found.high) == (30, 30, 30)
    together = fade_forecast(fade_series(mow, 10 - 0.05 * mow, 0.6), 8.52)
    assert together.reached == 40, "no mow by itself shows it, all of them together do"
    unsure = fade_forecast(fade_series(mow, 10 - 0.05 * mow, 0.6), 8.05)
    assert unsure.reached is None and unsure.under_now is None


def test_one_low_reading_is_not_a_pack_that_is_under() -> None:
    """Twenty mows at 10 Ah with one at 6 Ah among them: taken together, the pack is not under 8 Ah."""
    mow, seen = np.arange(1, 22), np.full(21, 10.0)
    seen[5] = 6.0
    found = fade_forecast(fade_series(mow, seen, 0.3), 8.0)
    assert found.under_now is False and found.reached is None
    fallen = np.where(mow < 15, 10.0, 7.0)
    fallen[5] = 6.0
    later = fade_forecast(fade_series(mow, fallen, 0.3), 8.5)
    assert later.under_now is True and later.reached == 15


def test_a_band_that_straddles_the_threshold_cannot_tell() -> None:
    found = fade_forecast(fade_series([8], [9.7], 1.0), 10.2)
    assert found.low_ah[0] < 10.2 < found.high_ah[0] and found.mow == 8
    assert found.under_now is None and found.reached is None


@settings(max_examples=25)
@given(seen_ah=st.lists(st.floats(5.0, 12.0), min_size=1, max_size=6), std_ah=st.floats(0.05, 2.0))
def test_the_sentence_agrees_with_the_odds(seen_ah: list[float], std_ah: float) -> None:
    """It says that the pack holds less only where under half of the days finish, that it lasts or falls later
    where as many finish as wanted, and otherwise today's odds."""
    need = CapacityNeeded(np.linspace(7.0, 9.0, 101), 8.8, 0.90)
    found = finish_forecast(need, [Lawn("meadow", 900)], range(1, len(seen_ah) + 1), seen_ah, std_ah)
    if "the pack holds less" in found.sentence:
        assert found.odds_now < 0.50
    elif "times in 100 now" in found.sentence:
        assert found.odds_now < 0.90
    else:
        assert found.odds_now >= 0.90


def test_band_and_chance_of_futures_counted_by_hand() -> None:
    """Of a hundred futures, number k falls under 8 Ah at mow 100 + k: half by 151, nine tenths between 106
    and 195; where the last sixty never do, the chance is 40 % and the middle stays open."""
    mows = np.arange(100.0, 301.0)
    falls = np.where(mows >= 100 + np.arange(1, 101)[:, None], 7.0, 9.0)
    seen = fade_series([99, 100], [9.0, 9.0], 0.05)
    found = first_under(seen, FadeDraws(mows, falls, np.full(100, 0.1)), 8.0)
    assert (found.low, found.mow, found.high, found.chance_within) == (106.0, 151.0, 195.0, 1.0)
    falls[40:] = 9.0
    open_end = first_under(seen, FadeDraws(mows, falls, np.full(100, 0.1)), 8.0)
    assert (open_end.low, open_end.mow, open_end.high) == (106.0, math.inf, math.inf)
    assert open_end.chance_within == pytest.approx(0.4)


def test_an_error_that_all_share_widens_the_band() -> None:
    mow = np.arange(1, 61)
    bands = [fade_forecast(fade_series(mow, 10 - 0.02 * mow, 0.02, shared), 8.2) for shared in (0.0, 0.03)]
    assert bands[1].high - bands[1].low > 1.3 * (bands[0].high - bands[0].low)


def test_a_thousand_mows_are_thinned_and_still_right() -> None:
    mow = np.arange(1, 1001)
    found = fade_forecast(fade_series(mow, 10 - 0.002 * mow + 0.02 * np.sin(mow), 0.02), 7.6)
    assert found.low <= 1200 <= found.high and found.mow == pytest.approx(1200, rel=0.06)


@pytest.mark.parametrize(
    ("mow", "capacity", "line"),
    [
        ([], [], "no capacity has been seen yet; add mows"),
        ([1, 2], [9.0, -1.0], "capacity is -1.0 Ah; give numbers above zero"),
        ([1, 2], [9.0, math.nan], "capacity is nan Ah; give numbers above zero"),
        ([2, 1], [9.0, 8.0], "mow numbers do not rise with the capacities; give both in order of time"),
        ([1], [9.0, 8.0], "mow numbers do not rise with the capacities; give both in order of time"),
    ],
)
def test_what_cannot_be_forecast_says_so(mow: list[float], capacity: list[float], line: str) -> None:
    with pytest.raises(InputError) as refused:
        fade_series(mow, capacity)
    assert str(refused.value) == line


def test_a_threshold_of_nothing_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        fade_forecast(fade_series([1, 2], [9.0, 8.9]), 0.0)
    assert str(refused.value) == "threshold is 0.0 Ah; give a number above zero"
