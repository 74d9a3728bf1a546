"""The mixed model against certified regressions, a dense formula, a reference library and its own prior."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from planted_mows import coefficient_std
from scipy.stats import multivariate_normal

from estimator.fitting.load.mixed_model import (
    MixedPrior,
    _highest,
    choose_points,
    condition,
    draw_coefficients,
    fit_mixed,
    mixed_data,
)

# NIST StRD, Norris (lower difficulty): https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9,
    338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0,
    11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8,
    339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9,
    10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
NORRIS = (-0.262323073774029, 1.00211681802045)
NORRIS_STD = (0.232818234301152, 0.429796848199937e-03)
NORRIS_RESIDUAL = 0.884796396144373
# NIST StRD, Longley (higher difficulty): https://www.itl.nist.gov/div898/strd/lls/data/Longley.shtml
LONGLEY = (
    15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359, -0.511041056535807e-01,
    1829.15146461355,
)  # fmt: skip
LONGLEY_STD = (
    84.9149257747669,
    0.334910077722432e-01,
    0.488399681651699,
    0.214274163161675,
    0.226073200069370,
)


def flat(p: int) -> MixedPrior:
    return MixedPrior(np.zeros(p), np.full(p, 1e9), np.full(3, 0.1), np.full(3, 0.5))


def plain(y, x):
    """Data without lawns and with a day of its own for each observation."""
    n = len(y)
    nothing = np.zeros(n, np.int64)
    return mixed_data(np.asarray(y, float), np.asarray(x, float), nothing, 1, np.arange(n), np.zeros(n))


def test_norris_certified_coefficients_and_deviations():
    x = np.column_stack([np.ones(36), NORRIS_X])
    found = condition(plain(NORRIS_Y, x), flat(2), np.array([1e-6, 1e-9, NORRIS_RESIDUAL]))
    assert found.mean[:2] == pytest.approx(NORRIS, rel=1e-9)
    std = np.sqrt((found.root**2).sum(0))[:2]
    assert std == pytest.approx(NORRIS_STD, rel=1e-9)


def test_longley_certified_slopes_and_deviations():
    data = sm.datasets.longley.load_pandas()
    exog = data.exog.to_numpy(float)
    centred, scale = exog - exog.mean(0), exog.std(0)
    y = data.endog.to_numpy(float)
    found = condition(plain(y - y.mean(), centred / scale), flat(6), np.array([1e-6, 1e-9, 304.854073561965]))
    assert found.mean[:6] / scale == pytest.approx(LONGLEY, rel=1e-8)
    std = np.sqrt((found.root**2).sum(0))[:6] / scale
    assert std[:5] == pytest.approx(LONGLEY_STD, rel=1e-8)


def grouped(seed: int, lawns: int, days: int, each: int):
    rng = np.random.default_rng(seed)
    day = np.repeat(np.arange(days), each)
    lawn = rng.integers(0, lawns, day.size)
    x = np.column_stack([np.ones(day.size), rng.normal(size=day.size)])
    y = x @ [-1.0, 0.5] + rng.normal(0, 0.3, lawns)[lawn] + rng.normal(0, 0.2, days)[day]
    return y + rng.normal(0, 0.25, day.size), x, lawn, day


def dense_covariance(lawn, day, noise, spread):
    same_lawn, same_day = lawn[:, None] == lawn, day[:, None] == day
    return spread[0] ** 2 * same_lawn + spread[1] ** 2 * same_day + np.diag(spread[2] ** 2 + noise)


def test_conditioning_equals_the_dense_formula():
    y, x, lawn, day = grouped(1, 4, 9, 3)
    noise = np.linspace(0, 0.05, y.size)
    prior = MixedPrior(np.array([-0.5, 0.1]), np.array([0.7, 0.4]), np.full(3, 0.2), np.full(3, 0.5))
    order = np.random.default_rng(2).permutation(y.size)
    data = mixed_data(y[order], x[order], lawn[order], 4, day[order], noise[order])
    spreads = [np.array([0.3, 0.2, 0.25]), np.array([0.1, 0.5, 0.4])]
    found = [condition(data, prior, one) for one in spreads]
    densities = []
    for one, got in zip(spreads, found, strict=True):
        marginal = dense_covariance(lawn, day, noise, one) + x @ np.diag(prior.std**2) @ x.T
        gain = np.diag(prior.std**2) @ x.T @ np.linalg.inv(marginal)
        assert got.mean[:2] == pytest.approx(prior.mean + gain @ (y - x @ prior.mean), rel=1e-9)
        covariance = np.diag(prior.std**2) - gain @ x @ np.diag(prior.std**2)
        assert (got.root.T @ got.root)[:2, :2] == pytest.approx(covariance, rel=1e-8)
        densities.append(multivariate_normal(x @ prior.mean, marginal).logpdf(y))
    assert found[0].log_likelihood - found[1].log_likelihood == pytest.approx(
        densities[0] - densities[1], rel=1e-9
    )


@pytest.fixture(scope="module")
def reference():
    """A season of 12 lawns on 60 days, fitted by REML with crossed lawn and day effects (statsmodels)."""
    y, x, lawn, day = grouped(3, 12, 60, 3)
    frame = pd.DataFrame({"y": y, "x": x[:, 1], "lawn": lawn, "day": day, "all": 1})
    parts = {"lawn": "0 + C(lawn)", "day": "0 + C(day)"}
    model = smf.mixedlm("y ~ x", frame, groups="all", vc_formula=parts, re_formula="0")
    return (y, x, lawn, day), model.fit(reml=True)


def test_given_the_spreads_agrees_with_statsmodels(reference):
    (y, x, lawn, day), fitted = reference
    day_var, lawn_var = fitted.vcomp
    spread = np.sqrt([lawn_var, day_var, fitted.scale])
    got = condition(mixed_data(y, x, lawn, 12, day, np.zeros(y.size)), flat(2), spread)
    assert got.mean[:2] == pytest.approx(fitted.fe_params.to_numpy(), abs=2e-5)
    effects = fitted.random_effects[1]
    lawns = np.array([effects[f"lawn[C(lawn)[{i}]]"] for i in range(12)])
    assert got.mean[2:] == pytest.approx(lawns, abs=2e-5)
    assert np.sqrt((got.root**2).sum(0))[1] == pytest.approx(fitted.bse_fe["x"], rel=5e-3)


def test_whole_fit_agrees_with_statsmodels_where_data_are_plenty(reference):
    (y, x, lawn, day), fitted = reference
    wide = MixedPrior(np.zeros(2), np.full(2, 100.0), np.full(3, 0.25), np.full(3, 1.5))
    got = fit_mixed(mixed_data(y, x, lawn, 12, day, np.zeros(y.size)), wide)
    assert got.coefficients[:2] == pytest.approx(fitted.fe_params.to_numpy(), abs=0.03)
    assert coefficient_std(got)[1] == pytest.approx(fitted.bse_fe["x"], rel=0.05)
    day_var, lawn_var = fitted.vcomp
    assert got.typical_spread[1:] == pytest.approx(np.sqrt([day_var, fitted.scale]), rel=0.12)
    # twelve lawns leave the posterior mean of a deviation above the REML estimate
    assert 0.9 < got.typical_spread[0] / np.sqrt(lawn_var) < 1.35


def test_members_share_the_weight(reference):
    (y, x, lawn, day), _ = reference
    for count in (1, 5, y.size):
        data = mixed_data(y[:count], x[:count], lawn[:count], 12, day[:count], np.zeros(count))
        weight = fit_mixed(data, MixedPrior(np.zeros(2), np.ones(2), np.full(3, 0.2), np.full(3, 0.6))).weight
        assert weight.sum() == pytest.approx(1)
        assert 1 / (weight**2).sum() > 12


def test_refit_agrees_with_a_fresh_fit(reference):
    (y, x, lawn, day), _ = reference
    prior = MixedPrior(np.zeros(2), np.ones(2), np.full(3, 0.2), np.full(3, 0.6))
    some = mixed_data(y[:150], x[:150], lawn[:150], 12, day[:150], np.zeros(150))
    data = mixed_data(y, x, lawn, 12, day, np.zeros(y.size))
    fresh, again = fit_mixed(data, prior), fit_mixed(data, prior, before=fit_mixed(some, prior))
    assert again.coefficients == pytest.approx(fresh.coefficients, abs=0.02)
    assert again.typical_spread == pytest.approx(fresh.typical_spread, rel=0.1)


def test_no_data_gives_the_prior():
    prior = MixedPrior(np.array([1.0, 2.0]), np.array([0.5, 0.1]), np.full(3, 0.2), np.full(3, 0.3))
    empty = np.zeros(0)
    data = mixed_data(empty, np.zeros((0, 2)), np.zeros(0, np.int64), 0, np.zeros(0, np.int64), empty)
    found = fit_mixed(data, prior)
    assert found.coefficients == pytest.approx(prior.mean)
    assert coefficient_std(found) == pytest.approx(prior.std)
    logs = np.log(found.spread) - np.log(0.2)
    assert np.sqrt(found.weight @ logs**2) == pytest.approx(0.3, rel=0.2)


def test_draws_have_the_posterior_mean_and_deviation(reference):
    (y, x, lawn, day), _ = reference
    prior = MixedPrior(np.zeros(2), np.ones(2), np.full(3, 0.2), np.full(3, 0.6))
    found = fit_mixed(mixed_data(y, x, lawn, 12, day, np.zeros(y.size)), prior)
    rng = np.random.default_rng(4)
    drawn = draw_coefficients(found, choose_points(found, 20_000, rng), rng.standard_normal((20_000, 14)))
    assert drawn.mean(0) == pytest.approx(found.coefficients, abs=0.005)
    assert drawn.std(0) == pytest.approx(coefficient_std(found), rel=0.05)


def test_the_root_of_a_posterior_is_that_of_its_curvature():
    """The loss is half a quadratic form with a known covariance: the root times itself is that covariance."""
    covariance = np.array([[0.5, 0.2, -0.1], [0.2, 0.4, 0.05], [-0.1, 0.05, 0.3]])
    at, pull = np.array([0.3, -1.0, 2.0]), np.linalg.inv(covariance)
    found, root = _highest(lambda z: 0.5 * (z - at) @ pull @ (z - at))
    assert found == pytest.approx(at, abs=1e-9)
    assert root @ root.T == pytest.approx(covariance, rel=1e-9)


def test_the_search_ends_on_a_height_and_not_on_the_saddle_between_two() -> None:
    """With one mow a day, only day and remainder together can be seen: either may be the large one."""

    def loss(z: np.ndarray) -> float:
        together, apart = (z[1] + z[2]) / 2**0.5, (z[1] - z[2]) / 2**0.5
        return 0.5 * z[0] ** 2 + 0.5 * (together - 1) ** 2 + (apart**2 - 1) ** 2

    found, _ = _highest(loss)
    assert [found[0], found[1] + found[2], abs(found[1] - found[2])] == pytest.approx(
        [0, 2**0.5, 2**0.5], abs=0.1
    )
