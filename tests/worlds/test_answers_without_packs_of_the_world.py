"""What is promised about needs and comparisons, in a world that knows none of the estimator's models.

Each test names the figures of many seasons; its own few seasons are held to bounds as loose as chance makes
necessary. Where a target is missed, the test names it and says what holds today.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from judge_changes import PLANTED, cut_factor
from judge_days import chemistry_of
from mowing_alone import MEANS_STD, day_after, season_of_features
from owners import Owner, draw_owner, hurried, seeds
from seasons_of_mows import Change

from estimator.descriptions import Grass, Lawn, Machine
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mow_needs import draw_needs, grasses_for
from estimator.fitting.load.profile import fit_features
from estimator.fitting.seasons.comparisons import GroupChange, compare_groups, mows_to_tell
from estimator.fitting.seasons.measures import ENERGY, observed
from estimator.predictor.sizing.margin import assured
from estimator.predictor.sizing.recommend import DIFFERS

BEFORE, SEASONS = 10, 24
HOURS = 0.5
"""How long [h] a charge lasts in these seasons: small lawns are mown fast."""


def owner_of(seed: int) -> Owner:
    return hurried(draw_owner(seed, chemistry_of(seed)), HOURS)


def test_the_energy_of_a_day_is_enough_as_surely_as_asked():
    """Over 260 open seasons: .07 too small (wanted .05), median 1.20, 95th 1.48, the mean off by .101 where
    .101 is claimed. No prior mends that: with the world's own spreads as priors it is still off by .092."""
    ratio, off, claimed = [], [], []
    for seed in seeds("open", SEASONS):
        owner = owner_of(seed)
        asked = day_after(owner, BEFORE, 11)
        profile = fit_features(season_of_features(owner, BEFORE, 11), Machine(owner.crew.width_m))
        lawns = [Lawn(field.name, field.area_m2) for field in asked.fields]
        grass = grasses_for(lawns, Grass(asked.moisture, asked.growth_mm))
        rng = np.random.default_rng(1)
        needs = draw_needs(profile, lawns, grass, 1000, rng)
        gain = MEANS_STD * rng.standard_normal(1000)
        energy = needs.energy_wh.sum(1) * np.exp(gain)
        limit = assured(energy, np.sum([needs.causes[name] for name in DIFFERS], axis=0), 0.95)
        ratio.append(limit.need / np.quantile(asked.energy_wh, 0.95))
        off.append(np.log(energy).mean() - np.log(asked.energy_wh).mean())
        claimed.append(limit.lasting_std)
    assert np.mean(np.array(ratio) < 1) <= 0.15
    assert 1.1 < np.median(ratio) < 1.3
    assert 0.6 < np.sqrt(np.mean((np.array(off) / claimed) ** 2)) < 1.4


@cache
def compared(seed: int, later: int, planted: bool) -> tuple[GroupChange, int, int]:
    """The change in energy per area, with `later` mows after it, and how many mows on each side show it."""
    mows = observed(ENERGY, long_season(seed, planted)[: BEFORE + later])
    groups = ["after" if one.place >= BEFORE else "before" for one in mows]
    return compare_groups(ENERGY, mows, groups).changes[0], groups.count("before"), groups.count("after")


@cache
def long_season(seed: int, planted: bool) -> tuple[MowFeatures, ...]:
    owner = owner_of(seed)
    change = Change(BEFORE, cut_factor(owner, signed(seed))) if planted else None
    return season_of_features(owner, 40, 41, change)


def signed(seed: int) -> float:
    return PLANTED if seed // 2 % 2 else -PLANTED


def test_nothing_changed_is_seldom_called_a_change_and_a_fifth_is_mostly_found():
    """Over 157 seasons with packs, ten mows a side: false alarms .107 by date and .08 by tag at a nominal .10
    (at most .12 wanted), a change of 20 % found in .78 (wanted .80)."""
    false = [compared(seed, BEFORE, False)[0].more_than_noise for seed in seeds("open", SEASONS)]
    found = [compared(seed, BEFORE, True)[0].more_than_noise for seed in seeds("open", SEASONS)]
    assert np.mean(false) <= 0.25
    assert np.mean(found) >= 0.6


def test_so_many_more_mows_as_are_named_could_tell():
    """Over 188 seasons with ten mows before and five after a change of 20 %: with as many more mows as its
    size and the scatter make necessary, it was found in .78 (four of five are promised)."""
    found = []
    for seed in seeds("open", SEASONS):
        first, before, after = compared(seed, 5, True)
        std = (np.log1p(first.high) - np.log1p(first.low)) / 2 / 1.645
        more = mows_to_tell(np.log1p(signed(seed)), std, before, after)
        if more is not None and more <= 25:
            found.append(compared(seed, 5 + more, True)[0].more_than_noise)
    assert len(found) > 0.6 * SEASONS
    assert 0.6 <= np.mean(found) <= 0.95
