"""How a pack's capacity fades: a curve, passing excursions from it, and draws of what may come.

Capacity is a fade curve, c0 · (1 − loss · (x/X)^bend), plus an excursion that dies away (an
Ornstein-Uhlenbeck process: rest lets a cell recover for a while), plus each reading's own error. Given bend,
excursion and noise, the fade curve is conditioned exactly (Gaussian algebra); a grid with priors sums over
these three. Draws of all of them are then carried forward. A knee (a fade that suddenly speeds up) does not
announce itself in such a series, so none is forecast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from estimator.arrays import Array
from estimator.errors import InputError
from estimator.fitting.pack.circuit import carried_on
from estimator.results import result

BENDS = (0.5, 0.6, 0.72, 0.85, 1.0, 1.25, 1.6)  # steps of about a fifth, well within the spread below
BEND_LOG_STD = 0.30
"""Fade curves run from the square root of use to a little faster than straight: exponent 0.55 of the charge
moved in Wang et al. 2011 (J. Power Sources 196, 3942, doi 10.1016/j.jpowsour.2010.11.134), about 1 for
cycling and 0.5 for calendar loss in Wang et al. 2014 (J. Power Sources 269, 937); spread by common practice.
"""
EXCURSIONS = (0.002, 0.005, 0.01, 0.02, 0.04)  # from warmth and from errors of counting
EXCURSION_MOWS = (3.0, 10.0, 30.0)  # some days of a hot week, a month, a summer
NOISES = (0.0005, 0.003, 0.01, 0.04)
"""Candidates, as fractions of the capacity: standard deviations of the excursion and of the unexplained error
of a reading; and the number of mows in which an excursion falls to 1/e."""
LOSS_A_MOW, LOSS_A_MOW_STD = 0.0004, 0.002
"""Prior loss of capacity a mow: 20 % in some 500 mows, at the fastest in 100, or never (common practice)."""
DRAWS, MOST_POINTS, KEPT_POINTS, LEAST_WEIGHT = 2000, 120, 40, 1e-5
"""Bounds of the work: draws; points of a longer history, and how many of its latest mows are kept one by one;
the weight below which a candidate is left out."""


@dataclass(frozen=True)
class FadeDraws:
    """Possible futures: capacity (draws, n) [Ah] at `mows` (n,), beginning with the last one seen.

    faded (draws,) : share of the capacity that the fade curve has lost by the last mow seen; negative where
        the curve rises
    """

    mows: Array
    capacity_ah: Array
    faded: Array


@dataclass(frozen=True)
class _Member:
    weight: float
    mean: Array
    root: Array
    bend: float
    excursion: float
    fades_in: float
    state_gain: Array
    state_offset: float
    state_std: float


@result
class FadeSeries:
    """Capacities (n,) [Ah] seen at mow numbers (n,), with their own and a shared standard uncertainty."""

    number: Array
    capacity_ah: Array
    std_ah: Array
    scale_std: float


def fade_series(
    mow_number: ArrayLike, capacity_ah: ArrayLike, std_ah: ArrayLike = 0.0, scale_std: float = 0.0
) -> FadeSeries:
    """The capacities seen of a pack, checked.

    mow_number (n,) : counted from the pack's first; capacity_ah (n,), std_ah : with standard uncertainty [Ah]
    scale_std : standard uncertainty that all share, as a fraction, such as the clamp's gain

    Raises InputError for no capacity, for one that is not above zero, or where mow numbers do not rise.

    >>> fade_series([1, 2], [10.0, 9.9]).std_ah.tolist()
    [0.0, 0.0]
    """
    number = np.atleast_1d(np.asarray(mow_number, float))
    capacity = np.atleast_1d(np.asarray(capacity_ah, float))
    if not len(capacity):
        raise InputError("no capacity has been seen yet", mend="add mows")
    wrong = capacity[~(np.isfinite(capacity) & (capacity > 0))]
    if len(wrong):
        raise InputError(f"capacity is {wrong[0]} Ah", mend="give numbers above zero")
    if len(number) != len(capacity) or np.any(np.diff(number) <= 0):
        raise InputError("mow numbers do not rise with the capacities", mend="give both in order of time")
    std = np.broadcast_to(np.asarray(std_ah, float), capacity.shape).astype(float)
    return FadeSeries(number, capacity, std, scale_std)


def fade_draws(seen: FadeSeries, *, horizon: int = 500, seed: int = 7) -> FadeDraws:
    """Draw futures of the capacity for the `horizon` mows after the last one seen.

    >>> future = fade_draws(fade_series(range(1, 31), np.linspace(10.0, 9.7, 30)), horizon=30)
    >>> future.capacity_ah.shape, 9.2 < float(np.median(future.capacity_ah[:, -1])) < 9.6
    ((2000, 31), True)
    """
    scale = float(np.median(seen.capacity_ah))
    x = _thinned(seen.number)
    members = _members(x, _thinned(seen.capacity_ah / scale), _thinned((seen.std_ah / scale) ** 2))
    rng = np.random.default_rng(seed)
    weight = np.array([m.weight for m in members])
    place = np.searchsorted(np.cumsum(weight), (np.arange(DRAWS) + rng.random()) / DRAWS)
    counts = np.bincount(np.minimum(place, len(members) - 1), minlength=len(members))
    ahead = np.arange(horizon + 1, dtype=float)
    span = max(float(x[-1]), 1.0)
    futures, faded = np.empty((DRAWS, horizon + 1)), np.empty(DRAWS)
    row = 0
    for member, count in zip(members, counts, strict=True):
        if count:
            fade = member.mean + rng.standard_normal((int(count), 2)) @ member.root.T
            faded[row : row + count] = fade[:, 1]
            futures[row : row + count] = _walk(member, fade, x[-1] + ahead, span, rng)
            row += count
    shared = np.exp(seen.scale_std * rng.standard_normal((DRAWS, 1)))
    return FadeDraws(seen.number[-1] + ahead, np.maximum(futures, 0.0) * shared * scale, faded)


def _thinned(values: Array) -> Array:
    """At most 120 values: older neighbours are averaged, the last forty kept one by one."""
    if len(values) <= MOST_POINTS:
        return values
    past = np.array_split(values[:-KEPT_POINTS], MOST_POINTS - KEPT_POINTS)
    return np.concatenate([[block.mean() for block in past], values[-KEPT_POINTS:]])


def _members(x: Array, y: Array, var: Array) -> list[_Member]:
    """Every plausible combination of bend, excursion and noise, with its weight and fade curve."""
    span = max(float(x[-1]), 1.0)
    start, loss = float(np.median(y[:5])), LOSS_A_MOW * span
    prior_std = np.array([0.15, math.hypot(LOSS_A_MOW_STD * span, 0.01)])
    bends = np.array(BENDS)
    apart = np.abs(x[:, None] - x[None, :])
    worn = -((x[:, None] / span) ** bends)
    columns = np.column_stack([np.ones(len(x)), y - start, worn])
    found, logs = [], []
    for fades_in, size, noise in product(EXCURSION_MOWS, EXCURSIONS, NOISES):
        kernel = size**2 * np.exp(-apart / fades_in)
        lower = np.linalg.cholesky(kernel + np.diag(var + noise**2))
        pull = np.linalg.solve(lower.T, np.linalg.solve(lower, kernel[-1]))
        state_std = math.sqrt(max(size**2 - float(kernel[-1] @ pull), 0.0))
        white = np.linalg.solve(lower, columns)
        design = np.stack([np.broadcast_to(white[:, [0]], (len(x), len(bends))), white[:, 2:]], axis=2)
        rest = white[:, [1]] - loss * white[:, 2:]
        information = np.einsum("nbi,nbj->bij", design, design) + np.diag(prior_std**-2.0)
        push = np.einsum("nbi,nb->bi", design, rest)
        step = np.linalg.solve(information, push[:, :, None])[:, :, 0]
        fit = (rest**2).sum(axis=0) - (push * step).sum(axis=1) + np.log(np.linalg.det(information))
        log_like = -0.5 * fit - float(np.log(np.diag(lower)).sum())
        log_prior = -0.5 * (np.log(bends) / BEND_LOG_STD) ** 2 - 0.5 * (math.log(size / 0.008) / 1.2) ** 2
        roots = np.linalg.cholesky(np.linalg.inv(information))
        logs.append(log_like + log_prior)
        for k, bend in enumerate(BENDS):
            gain = -np.array([pull.sum(), float(pull @ worn[:, k])])
            mean = np.array([start, loss]) + step[k]
            found.append(
                _Member(0.0, mean, roots[k], bend, size, fades_in, gain, float(pull @ y), state_std)
            )  # fmt: skip
    weight = np.exp(np.concatenate(logs) - np.max(logs))
    weight /= weight.sum()
    return [replace(m, weight=float(w)) for m, w in zip(found, weight, strict=True) if w > LEAST_WEIGHT]


def _walk(member: _Member, fade: Array, x: Array, span: float, rng: np.random.Generator) -> Array:
    """Capacity (count, n), as a fraction, at mow numbers x (n,) from the last one seen on.

    fade (count, 2) : capacity of the new pack, and the loss by the last mow seen
    """
    count = len(fade)
    loss = np.maximum(fade[:, 1], 0.0)
    curve = fade[:, :1] - loss[:, None] * (x / span) ** member.bend
    state = member.state_offset + fade @ member.state_gain + member.state_std * rng.standard_normal(count)
    keep = math.exp(-1.0 / member.fades_in)
    kicks = member.excursion * math.sqrt(1 - keep**2) * rng.standard_normal((count, len(x)))
    kicks[:, 0] = state
    return np.asarray(curve + carried_on(kicks, keep))
