"""What logs say about a capacity, by formulas that can be worked out on paper."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from estimator.fitting.pack.capacity_evidence import (
    Believed,
    Shown,
    believed,
    left_behind,
    log_chance_under,
    shape_std,
)

LABEL = Believed(0.0, 0.07)


def weighed(*parts: tuple[float, float]) -> tuple[float, float]:
    """Mean and standard uncertainty of beliefs (mean, weight) that are multiplied."""
    whole = sum(weight for _, weight in parts)
    return sum(mean * weight for mean, weight in parts) / whole, whole**-0.5


def to_the_cut_off(drawn: float, left: float, drawn_std: float = 0.02, left_std: float = 0.02) -> Shown:
    return Shown(0.02, drawn, drawn_std, ended=True, left=left, left_std=left_std)


@pytest.mark.parametrize("x", [4.0, 0.0, -3.0, -29.9, -30.0, -30.1, -200.0])
def test_chance_in_the_tail_is_that_of_scipy(x):
    assert log_chance_under(np.array([x])) == pytest.approx(stats.norm.logcdf([x]), rel=1e-6)


@pytest.mark.parametrize("deepest", [0.1, 0.5, 0.9])
def test_a_shape_says_as_much_as_a_brownian_bridge_lets_it(deepest):
    assert shape_std(deepest) == pytest.approx(0.3 * np.sqrt(deepest / (1 - deepest)))


@pytest.mark.parametrize(("deepest", "bound"), [(0.0, 0.005), (-0.1, 0.005), (1.0, 0.995), (1.02, 0.995)])
def test_no_shape_says_all_or_nothing(deepest, bound):
    assert shape_std(deepest) == pytest.approx(0.3 * np.sqrt(bound / (1 - bound)))


@pytest.mark.parametrize(
    ("rate_c", "warmth", "ohm_ah", "share"),
    [
        (1.0, 1.0, 0.1, 0.032),
        (1.0, 1.0, 0.3, 0.065),
        (4.0, 1.0, 0.1, 0.032 * 4**0.8),
        (2.0, 2.0, 0.1, 0.032 * 4**0.8),
        (-1.0, 1.0, 0.1, 0.0),
    ],
)
def test_what_is_left_grows_with_the_square_of_the_resistance_and_less_than_the_rate(
    rate_c, warmth, ohm_ah, share
):
    """3.2 (ohm Ah)² at the one-hour rate, 6.5 % at most; known to 1 % and a quarter of itself."""
    assert left_behind(rate_c, warmth, ohm_ah) == pytest.approx((share, 0.010 + 0.25 * share))


def test_a_mow_to_the_cut_off_is_weighed_with_label_and_shape():
    """Fit 0.05 ± 0.04, of which the label's share is taken out, and a fact of 0.05 ± 0.028: the two together
    count as much as the surer one."""
    after = believed(LABEL, Believed(0.05, 0.04), [to_the_cut_off(-0.1, 0.15)])
    claimed, sure, label = 0.04**-2 - 0.07**-2, 1 / (2 * 0.02**2), 0.07**-2
    shape = 0.05 * 0.04**-2 / claimed
    share = sure / (claimed + sure)
    assert (after.mean, after.std) == pytest.approx(
        weighed((0.0, label), (shape, share * claimed), (0.05, share * sure)), rel=2e-3
    )


@pytest.mark.parametrize(("left_std", "bound"), [(0.005, 0.03), (0.04, 0.04)])
def test_no_fit_knows_better_than_three_hundredths_what_a_cut_off_left(left_std, bound):
    """A claim of 0.5 % counts as one of 3 %, or as what the rest is uncertain by, and what was drawn."""
    after = believed(LABEL, Believed(0.0, 0.005), [to_the_cut_off(-0.2, 0.2, 0.01, left_std)])
    sure, allowed = 1 / (0.01**2 + left_std**2), 1 / (bound**2 + 0.01**2)
    whole = max(sure, allowed)
    assert after.std == pytest.approx(max((0.07**-2 + whole) ** -0.5, 0.012), rel=2e-3)


@pytest.mark.parametrize("fact", [-0.3, 0.0, 0.05, 0.14, 0.3])
def test_a_label_gives_way_to_a_fact_far_off_as_students_t_does(fact):
    """(4 + 1)/(4 + t²) of its weight, all of it within one sigma; the fit has nothing to add."""
    after = believed(LABEL, LABEL, [to_the_cut_off(fact - 0.2, 0.2)])
    weight = 5 / (4 + max((fact / 0.07) ** 2, 1.0)) / 0.07**2
    assert (after.mean, after.std) == pytest.approx(
        weighed((0.0, weight), (fact, 1250.0)), rel=2e-3, abs=1e-6
    )


def test_the_surest_of_several_ends_counts():
    """By what was drawn and what was left together: 0.010 and 0.030 against 0.02 and 0.02."""
    ends = [to_the_cut_off(-0.3, 0.36, 0.010, 0.030), to_the_cut_off(-0.3, 0.30, 0.02, 0.02)]
    for order in (ends, ends[::-1]):
        after = believed(LABEL, LABEL, order)
        assert (after.mean, after.std) == pytest.approx(weighed((0.0, 0.07**-2), (0.0, 1250.0)), abs=1e-4)


def test_ends_are_alike_to_a_hundredth_however_many_they_are():
    sure = to_the_cut_off(-0.3, 0.3, 0.001, 0.001)
    assert believed(LABEL, LABEL, [sure]).std == pytest.approx(0.012)
    assert believed(Believed(0.0, 0.008), Believed(0.0, 0.008), [sure]).std == pytest.approx(0.008)


@pytest.mark.parametrize("fit_std", [0.07, 0.09])
def test_a_fit_that_knows_no_more_than_before_stays_as_it_is(fit_std):
    fit = Believed(0.3, fit_std)
    assert believed(LABEL, fit, [Shown(0.5, -0.7, 0.01, ended=False)]) is fit
    assert believed(LABEL, fit, []) is fit


@pytest.mark.parametrize(("claimed_std", "counts_as"), [(0.03, 0.04286), (0.06, 0.06)])
def test_a_shape_seen_down_to_2_percent_counts_as_far_as_it_may(claimed_std, counts_as):
    """0.3 √(0.02/0.98) = 0.0429; the deeper of two logs bounds it, and a claim that is wider stays."""
    shown = [Shown(0.02, -0.5, 0.01, ended=False), Shown(0.6, -0.5, 0.01, ended=False)]
    claim = claimed_std**-2 + 0.07**-2
    after = believed(LABEL, Believed(0.06 * claimed_std**-2 / claim, claim**-0.5), shown)
    assert (after.mean, after.std) == pytest.approx(weighed((0.0, 0.07**-2), (0.06, counts_as**-2)), rel=2e-3)


@pytest.mark.parametrize(("ended", "width"), [(False, np.hypot(0.01, 0.02)), (True, 0.01)])
def test_what_was_drawn_cuts_off_all_that_is_less(ended, width):
    """Beliefs times the chance that the pack holds more than was drawn, by numbers of another kind: a fact at
    the wall itself, known to 5 %, is cut in half."""
    one = Shown(0.9, 0.05, 0.01, ended=ended, left=0.0, left_std=0.05)
    after = believed(LABEL, Believed(0.0, 0.0699), [one])
    x = np.linspace(-0.5, 0.5, 20001)
    belief = stats.norm.pdf(x, 0.0, 0.07) * stats.norm.cdf((x - 0.05) / width)
    if ended:
        belief *= stats.norm.pdf(x, 0.05, np.hypot(0.01, 0.05))
    belief /= belief.sum()
    mean = float(belief @ x)
    assert after.mean == pytest.approx(mean, abs=5e-4)
    assert after.std == pytest.approx(float(np.sqrt(belief @ (x - mean) ** 2)), rel=0.01)
