"""Which lawns to mow and in which order: all orders tried by brute force, and small cases on paper."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from estimator.predictor.lawns.day_plan import EXACT_UP_TO, best_order


def brute_force(energy, budget, worth, level):
    """The best order by trying all of them: first the worth that is assured, then the expected worth."""
    best = None
    for order in permutations(range(len(worth))):
        odds = (np.cumsum(energy[:, order], axis=1) <= budget[:, None]).mean(0)
        gains = np.asarray(worth)[list(order)]
        key = (round(float(gains[odds >= level].sum()), 9), round(float(gains @ odds), 9))
        best = key if best is None or key > best else best
    return best


@pytest.mark.parametrize("by_area", [False, True])
@pytest.mark.parametrize("seed", range(8))
def test_best_order_equals_brute_force(seed, by_area):
    rng = np.random.default_rng(seed)
    lawns = 6
    mean = rng.uniform(30, 200, lawns)
    energy = mean * np.exp(rng.normal(0, 0.15, (60, 1)) + rng.normal(0, 0.1, (60, lawns)))
    budget = rng.uniform(0.3, 0.9) * mean.sum() * np.exp(rng.normal(0, 0.1, 60))
    worth = mean * rng.uniform(0.8, 1.2, lawns) if by_area else np.ones(lawns)
    found = best_order(energy, budget, worth, 0.9)
    odds = (np.cumsum(energy[:, found.places], axis=1) <= budget[:, None]).mean(0)
    gains = worth[list(found.places)]
    key = (float(gains[odds >= 0.9].sum()), float(gains @ odds))
    assert key == pytest.approx(brute_force(energy, budget, worth, 0.9), abs=1e-6)


def test_fifteen_lawns_are_weighed_exactly_and_sixteen_by_rule():
    rng = np.random.default_rng(3)
    energy = rng.uniform(20, 100, 16) * np.exp(rng.normal(0, 0.1, (200, 16)))
    budget = np.full(200, 400.0)
    exact = best_order(energy[:, :15], budget, np.ones(15), 0.95)
    assert exact.exact and sorted(exact.places) == list(range(15))
    rule = best_order(energy, budget, np.ones(16), 0.95)
    assert not rule.exact
    assert list(rule.places) == list(np.argsort(energy.mean(0)))


def test_beyond_fifteen_lawns_the_least_energy_for_its_worth_comes_first() -> None:
    """Sixteen lawns of 10 to 25 Wh; the last is worth a hundred of the others. All draws have 25 + 10 + 11
    Wh, three of four have 12 Wh more."""
    energy = np.tile(np.arange(10.0, 26.0), (4, 1))
    worth = np.ones(16)
    worth[15] = 100.0
    budget = np.array([46.0, 58.0, 58.0, 58.0])
    found = best_order(energy, budget, worth, 0.9)
    assert found.places == (15, *range(15)) and not found.exact
    assert best_order(energy[:, :15], budget, worth[:15], 0.75).exact and EXACT_UP_TO == 15


def test_what_is_assured_comes_before_what_is_likely() -> None:
    """Each alone is sure, both together last in half the draws: one is assured, and of two equally worthy it
    is the one that takes less, which leaves more for the other."""
    energy = np.array([[60.0, 50.0], [60.0, 50.0]])
    found = best_order(energy, np.array([100.0, 120.0]), np.ones(2), 0.9)
    assert found.places == (1, 0)
    nothing = best_order(energy, np.array([40.0, 40.0]), np.ones(2), 0.9)
    assert nothing.places == (1, 0)


def test_of_sets_worth_the_same_the_one_of_fewer_lawns_is_assured() -> None:
    """Worth 2 from one lawn of 80 Wh or from two of 40 Wh, which leave as much: one lawn is less walking."""
    energy = np.array([[40.0, 80.0, 40.0]])
    found = best_order(energy, np.array([80.0]), np.array([1.0, 2.0, 1.0]), 0.9)
    assert found.places[0] == 1


def test_what_is_likelier_goes_first_however_much_dearer_it_is() -> None:
    """10 kWh, which 18 of 20 draws have, or 1 kWh in 15 of them and too much in three, but never both: the
    cheaper lawn decides only between orders that are equally good."""
    energy = np.array([[10_000.0, 1_000.0]] * 17 + [[10_000.0, 50_000.0]] * 3)
    budget = np.array([500.0] * 2 + [10_000.0] * 18)
    assert best_order(energy, budget, np.ones(2), 0.99).places == (0, 1)
    energy[:, 0] = 10_001.0
    assert best_order(energy, budget, np.ones(2), 0.99).places == (1, 0)
