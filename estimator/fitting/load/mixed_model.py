"""A Bayesian linear mixed model: fixed effects, a random effect per lawn, one per day, and a remainder.

y = X b + u[lawn] + v[day] + e, with Gaussian priors on b and log-normal priors on the three standard
deviations. Given those, b and u are conditioned exactly (Gaussian algebra: the effect of a day with several
rows is taken out by Sherman-Morrison, that of a day with a single row counts as noise of the row). The
standard deviations are integrated over by importance sampling around the mode of their marginal posterior,
which gives predictions from few mows the wider tails they need. Formulas: Searle, Casella & McCulloch,
Variance Components (1992), chapters 6 and 9.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from estimator.arrays import Array, Whole
from estimator.results import result

POINTS = 64
"""Points of the importance sampling over the three deviations; tests compare the result with statsmodels."""
STRETCH = 1.15
"""Proposals are this much wider than the posterior, so that no single weight dominates (common practice)."""
STEP, NEAR, MOST_STEPS = 0.25, 0.03, 20
"""Of the search for the mode, in prior deviations: the step of its differences, and the step at which it ends
(proposals are far wider); then the most steps."""


@dataclass(frozen=True)
class MixedPrior:
    """Prior means and standard deviations of the fixed effects (p,), and of the log of the three deviations.

    spread_median and spread_log_std : (3,) for lawn, day and remainder
    """

    mean: Array
    std: Array
    spread_median: Array
    spread_log_std: Array


@dataclass(frozen=True)
class MixedData:
    """Observations with their design.

    design (n, p + lawns + 1) : `fixed` (p) columns, a column of ones and zeros per lawn, and the observation;
    the `shared` rows of days with several come first, the fullest day first, then rows alone on their day
    of_day : of_day[k] holds the k-th row of each day that has that many
    noise_var (n,) : variance of each observation's own error
    """

    design: Array
    fixed: int
    shared: int
    of_day: tuple[Whole, ...]
    noise_var: Array


@dataclass(frozen=True)
class Conditioned:
    """Posterior of the coefficients (b, then u) given the deviations, and the log marginal likelihood."""

    mean: Array
    root: Array
    log_likelihood: float


@result
class MixedFit:
    """A mixture of m Gaussian posteriors.

    z (m, 3) : members' places, in prior deviations; log_proposal (m,) : log density they were proposed from;
    spread (m, 3) : standard deviations of lawn, day and remainder; weight (m,); mean (m, q), root (m, q, q) :
    for a standard normal x (q,), mean + x @ root is a draw of the coefficients; fixed : how many are fixed
    """

    z: Array
    log_proposal: Array
    spread: Array
    weight: Array
    mean: Array
    root: Array
    fixed: int

    @property
    def coefficients(self) -> Array:
        """Posterior mean (q,) of fixed effects, then lawn effects."""
        return np.asarray(self.weight @ self.mean)

    @property
    def typical_spread(self) -> Array:
        """Posterior mean (3,) of the deviations of lawn, day and remainder."""
        return np.asarray(self.weight @ self.spread)


def mixed_data(y: Array, x: Array, lawn: Whole, lawns: int, day: Whole, noise_var: Array) -> MixedData:
    """Observations y (n,) with fixed columns x (n, p), the index of their lawn and any label of their day."""
    place, rows = np.unique(day, return_inverse=True, return_counts=True)[1:]
    order = np.lexsort((place, -rows[place]))
    shared = int(rows[rows > 1].sum())
    first = np.flatnonzero(np.diff(place[order[:shared]], prepend=-1))
    filled = rows[place[order[first]]]
    of_day = tuple(first[filled > k] + k for k in range(int(filled.max(initial=1))))
    design = np.column_stack([x, np.eye(lawns)[lawn], y])[order]
    return MixedData(design, x.shape[1], shared, of_day, noise_var[order])


def condition(data: MixedData, prior: MixedPrior, spread: Array) -> Conditioned:
    """The exact posterior of the coefficients given `spread` (3,), the deviations of lawn, day, remainder."""
    lawn_std, day_std, rest_std = spread
    p, lawns = data.fixed, data.design.shape[1] - data.fixed - 1
    precision = np.concatenate([prior.std**-2.0, np.full(lawns, lawn_std**-2.0)])
    centre = np.concatenate([prior.mean, np.zeros(lawns)])
    variance = rest_std**2 + data.noise_var
    variance[data.shared :] += day_std**2
    weight = 1.0 / variance
    weighted = data.design * weight[:, None]
    if not weight.size:
        return Conditioned(centre, np.diag(precision**-0.5), 0.0)
    day_weight, day_sum = weight[data.of_day[0]], weighted[data.of_day[0]]
    for rows in data.of_day[1:]:
        day_weight[: rows.size] += weight[rows]
        day_sum[: rows.size] += weighted[rows]
    shrink = day_std**2 / (1.0 + day_std**2 * day_weight)
    gram = data.design.T @ weighted - (day_sum * shrink[:, None]).T @ day_sum
    inner = gram[:-1, :-1]
    push = gram[:-1, -1] - inner[:, :p] @ prior.mean
    square = gram[-1, -1] - 2 * prior.mean @ gram[:p, -1] + prior.mean @ inner[:p, :p] @ prior.mean
    lower = np.linalg.cholesky(inner + np.diag(precision))
    root = np.linalg.inv(lower)
    step = root.T @ (root @ push)
    log_det = (
        -np.log(weight).sum()
        + np.log1p(day_std**2 * day_weight).sum()
        + 2 * np.log(np.diag(lower)).sum()
        - np.log(precision).sum()
    )
    return Conditioned(centre + step, root, float(-0.5 * (log_det + square - push @ step)))


def fit_mixed(
    data: MixedData, prior: MixedPrior, points: int = POINTS, before: MixedFit | None = None
) -> MixedFit:
    """Fit the model; without observations the answer is the prior.

    before : a fit of most of these observations, whose members are weighted anew instead of searched for

    >>> prior = MixedPrior(np.zeros(1), np.ones(1), np.full(3, 0.1), np.full(3, 0.5))
    >>> days = np.arange(4)
    >>> data = mixed_data(np.ones(4), np.ones((4, 1)), np.zeros(4, np.int64), 1, days, np.zeros(4))
    >>> round(float(fit_mixed(data, prior).coefficients[0]), 1)
    1.0
    """
    if before is not None:
        return _mixture(data, prior, before.z, before.log_proposal)
    log_median = np.log(prior.spread_median)

    def loss(z: Array) -> float:
        """Minus the log posterior at z, in prior standard deviations of the log deviations."""
        spread = np.exp(log_median + prior.spread_log_std * np.clip(z, -6, 6))
        return -condition(data, prior, spread).log_likelihood + 0.5 * float(z @ z)

    best, scale = np.zeros(3), np.eye(3)
    if len(data.noise_var) > 1:
        best, scale = _highest(loss)
    unit = _even_normals(points)
    z = best + STRETCH * unit @ scale.T
    return _mixture(data, prior, z, -0.5 * (unit**2).sum(1))


def _mixture(data: MixedData, prior: MixedPrior, z: Array, log_proposal: Array) -> MixedFit:
    spread = np.exp(np.log(prior.spread_median) + prior.spread_log_std * np.clip(z, -6, 6))
    each = [condition(data, prior, row) for row in spread]
    log_weight = np.array([one.log_likelihood for one in each]) - 0.5 * (z**2).sum(1) - log_proposal
    weight = np.exp(log_weight - log_weight.max())
    return MixedFit(
        z,
        log_proposal,
        spread,
        weight / weight.sum(),
        np.array([one.mean for one in each]),
        np.array([one.root for one in each]),
        data.fixed,
    )


def _even_normals(points: int) -> Array:
    """Evenly spread standard normals (points, 3), by an additive recurrence."""
    ratio = 1.22074408460575947536
    places = 0.5 + np.arange(1, points + 1)[:, None] * ratio ** -np.arange(1.0, 4.0)
    inverse = NormalDist().inv_cdf
    return np.asarray(np.vectorize(inverse, otypes=[float])(places % 1.0), float)


def _highest(loss: Callable[[Array], float]) -> tuple[Array, Array]:
    """The mode of the posterior (3,) and a root (3, 3) of its covariance there, by Newton's steps, each
    halved until it gains. Our own, since loading scipy.optimize takes half as long as a whole question.
    """
    best = np.array([0.0, 0.0, 0.5])  # off the line where day and remainder could be swapped: a saddle
    for _ in range(MOST_STEPS):
        slope, root = _slope_and_root(loss, best)
        move = -root @ (root.T @ slope)
        if np.abs(move).max() < NEAR:
            break
        here = loss(best)
        while loss(best + move) > here and np.abs(move).max() >= NEAR:
            move = move / 2
        best = best + move
    return best, root


def _slope_and_root(loss: Callable[[Array], float], at: Array) -> tuple[Array, Array]:
    moves, middle = STEP * np.eye(3), loss(at)
    over, under = ([loss(at + sign * move) for move in moves] for sign in (1, -1))
    slope = (np.array(over) - under) / (2 * STEP)
    hessian = np.diag((np.array(over) - 2 * middle + under) / STEP**2)
    for i, j in ((1, 0), (2, 0), (2, 1)):
        alike = loss(at + moves[i] + moves[j]) + loss(at - moves[i] - moves[j])
        apart = loss(at + moves[i] - moves[j]) + loss(at - moves[i] + moves[j])
        hessian[i, j] = hessian[j, i] = (alike - apart) / (4 * STEP**2)
    values, vectors = np.linalg.eigh(hessian)
    return slope, np.asarray(vectors / np.sqrt(np.clip(values, 0.5, None)))


def choose_points(fit: MixedFit, n: int, rng: np.random.Generator) -> Whole:
    """The member of the mixture (n,) that each of n draws takes: evenly by weight, in random order."""
    places = (np.arange(n) + rng.random()) / n
    index = np.minimum(np.searchsorted(np.cumsum(fit.weight), places), len(fit.weight) - 1)
    return np.asarray(rng.permutation(index), np.int64)


def draw_coefficients(fit: MixedFit, chosen: Whole, unit: Array) -> Array:
    """Draws of the coefficients (n, q) from standard normals `unit` (n, q), by the chosen members (n,)."""
    out = np.empty_like(unit)
    for member in np.unique(chosen):
        rows = chosen == member
        out[rows] = fit.mean[member] + unit[rows] @ fit.root[member]
    return out
