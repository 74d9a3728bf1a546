"""Two or more groups of mows compared: seasons, before and after sharpening, with and without the drive
wheel.

One model for all: log value = level of the group + what it is allowed for + lawn + day + rest, fitted by
`mixed_model`. The difference of two levels is what is left after allowing for grass.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from estimator.errors import InputError
from estimator.fitting.measures import Measure, Observed
from estimator.fitting.mixed_model import (
    MixedFit,
    MixedPrior,
    choose_points,
    draw_coefficients,
    fit_mixed,
    mixed_data,
)

Array = NDArray[np.float64]

DRAWS = 4000
LEVEL_STD = 3.0
SURE_Z = 0.8416
"""Normal quantile of 0.80: a change counts as tellable where four of five such series of mows would show
it.
"""
MOST_MOWS = 500


@dataclass(frozen=True)
class GroupLevel:
    """A group's figure under the circumstances usual to all groups, with its band."""

    group: str
    mows: int
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class GroupChange:
    """How a later group differs from an earlier one; all as fractions (0.12 is 12 % more).

    change, low, high : after allowing for grass and the rest of `allowed_for`
    raw_change : the plain ratio of the groups' means; grass_change : the part of it that grass and lawn
        explain
    grass_share : that part over the raw change; None where there is hardly any raw change to share out
    more_than_noise : whether the band leaves out no change at all
    more_mows : how many more mows of the later group could tell a change of this size; 0 where it is told
        already, None where no number of them would
    tellable : smallest change that as many mows as there are would usually tell
    """

    earlier: str
    later: str
    change: float
    low: float
    high: float
    raw_change: float
    grass_change: float
    grass_share: float | None
    more_than_noise: bool
    more_mows: int | None
    tellable: float
    sentence: str


@dataclass(frozen=True)
class AdjustedPoint:
    """One mow's figure as it would have been under the usual circumstances."""

    day: date
    group: str
    value: float


@dataclass(frozen=True)
class GroupComparison:
    """Groups side by side in one measure; points are for drawing."""

    measure: str
    unit: str
    level: float
    groups: tuple[GroupLevel, ...]
    changes: tuple[GroupChange, ...]
    points: tuple[AdjustedPoint, ...]


def fit_groups(
    measure: Measure, mows: Sequence[Observed], design: Array, design_std: Array, design_mean: Array
) -> MixedFit:
    """Fit the measure's model with `design` (n, g) in front of its effects: group levels, or level and
    slope.
    """
    y = np.log([one.value for one in mows])
    effects = np.array([one.effects for one in mows], float).reshape(len(mows), len(measure.effects))
    names = sorted({one.lawn or "" for one in mows})
    lawn = np.array([names.index(one.lawn or "") for one in mows], np.int64)
    day = np.array([one.day.toordinal() for one in mows], np.int64)
    noise = np.array([max(one.log_std, 1e-4) ** 2 for one in mows])
    prior = MixedPrior(
        mean=np.concatenate([design_mean, measure.effect_mean]),
        std=np.concatenate([design_std, measure.effect_std]),
        spread_median=np.array([measure.lawn_std, measure.day_std, measure.rest_std]),
        spread_log_std=np.array([0.6, 0.7, 0.6]),
    )
    return fit_mixed(mixed_data(y, np.column_stack([design, effects]), lawn, len(names), day, noise), prior)


def coefficient_draws(fit: MixedFit, seed: int = 11) -> Array:
    """Seeded draws (DRAWS, q) of fixed effects, then lawn effects."""
    rng = np.random.default_rng(seed)
    return draw_coefficients(
        fit, choose_points(fit, DRAWS, rng), rng.standard_normal((DRAWS, fit.mean.shape[1]))
    )


def compare_groups(
    measure: Measure, mows: Sequence[Observed], groups: Sequence[str], level: float = 0.90
) -> GroupComparison:
    """Compare groups of mows in one measure.

    groups : the group of each mow; they are compared in the order in which they first appear, each with
        the one before

    Works from one mow a group (the band says so); with one group there is nothing to compare and `changes` is
    empty. Raises InputError where there is no mow.
    """
    if not mows:
        raise InputError(f"no mow shows {measure.name}", mend="add mows")
    names = list(dict.fromkeys(groups))
    member = np.array([[g == name for name in names] for g in groups], float)
    y = np.log([one.value for one in mows])
    fit = fit_groups(
        measure, mows, member, np.full(len(names), LEVEL_STD), np.full(len(names), float(y.mean()))
    )
    drawn = coefficient_draws(fit)
    effects = np.array([one.effects for one in mows], float).reshape(len(mows), len(measure.effects))
    lawns = sorted({one.lawn or "" for one in mows})
    at_lawn = np.array([[(one.lawn or "") == name for name in lawns] for one in mows], float)
    rows = np.column_stack([effects, at_lawn])
    usual = rows.mean(axis=0)
    g = len(names)
    levels = drawn[:, :g] + drawn[:, g:] @ usual[:, None]
    bands = np.quantile(levels, [0.5, 0.5 - level / 2, 0.5 + level / 2], axis=0)
    counts = member.sum(axis=0).astype(int)
    found = tuple(
        GroupLevel(n, int(c), *map(float, np.exp(b))) for n, c, b in zip(names, counts, bands.T, strict=True)
    )
    adjusted = y - (rows - usual) @ fit.coefficients[g:]
    points = tuple(
        AdjustedPoint(one.day, group, float(v))
        for one, group, v in zip(mows, groups, np.exp(adjusted), strict=True)
    )
    changes = tuple(
        _change(
            measure, names[k], names[k + 1], drawn[:, k + 1] - drawn[:, k], y, member[:, [k, k + 1]], level
        )
        for k in range(g - 1)
    )
    return GroupComparison(measure.name, measure.unit, level, found, changes, points)


def _change(
    measure: Measure, earlier: str, later: str, drawn: Array, y: Array, member: Array, level: float
) -> GroupChange:
    middle, low, high = np.quantile(drawn, [0.5, 0.5 - level / 2, 0.5 + level / 2])
    before, after = (float(y[member[:, k] > 0].mean()) for k in (0, 1))
    raw = after - before
    explained = raw - float(middle)
    real = bool(low > 0 or high < 0)
    std = float(drawn.std())
    reach = float(norm.ppf(0.5 + level / 2)) + SURE_Z
    more = (
        0
        if real
        else mows_to_tell(float(middle), std, int(member[:, 0].sum()), int(member[:, 1].sum()), level)
    )
    change = GroupChange(
        earlier=earlier,
        later=later,
        change=math.expm1(float(middle)),
        low=math.expm1(float(low)),
        high=math.expm1(float(high)),
        raw_change=math.expm1(raw),
        grass_change=math.expm1(explained),
        grass_share=explained / raw if abs(raw) > std / 2 else None,
        more_than_noise=real,
        more_mows=more,
        tellable=math.expm1(reach * std),
        sentence="",
    )
    return _with_sentence(measure, change)


def mows_to_tell(change: float, std: float, before: int, after: int, level: float = 0.90) -> int | None:
    """How many more mows of the later group would usually (four times of five) tell a change of this size.

    change, std : on the logarithm, as it stands with `before` and `after` mows

    The variance of a difference of means is in proportion to 1/before + 1/after. None where the earlier
    group's mows alone are too few, or where more than 500 would be needed.

    >>> mows_to_tell(0.10, 0.05, before=10, after=10)
    25
    >>> mows_to_tell(0.10, 0.10, before=10, after=10) is None
    True
    """
    reach = float(norm.ppf(0.5 + level / 2)) + SURE_Z
    one_mow = std**2 / (1 / before + 1 / after)
    room = (change / reach) ** 2 / one_mow - 1 / before
    if room <= 0:
        return None
    more = math.ceil(1 / room - after)
    return max(more, 1) if more <= MOST_MOWS else None


def percent(fraction: float) -> str:
    """A change as a signed percentage; under one per cent with a decimal, so that a band's side of zero
    shows.

    >>> percent(0.123), percent(0.004), percent(-0.0001)
    ('+12 %', '+0.4 %', '0 %')
    """
    value = 100 * fraction
    if abs(value) >= 0.95:
        return f"{round(value):+d} %"
    return f"{value:+.1f} %" if abs(value) >= 0.05 else "0 %"


def _with_sentence(measure: Measure, change: GroupChange) -> GroupChange:
    allowed = f" after allowing for {measure.allowed_for}" if measure.allowed_for else ""
    name = f"{measure.name[0].upper()}{measure.name[1:]}"
    figures = f"{percent(change.change)} ({percent(change.low)} to {percent(change.high)})"
    said = f"{name} changed by {figures} from {change.earlier} to {change.later}{allowed}; "
    if change.more_than_noise:
        said += "that is more than noise."
    elif change.more_mows is None:
        least = percent(change.tellable).lstrip("+")
        said += f"that is within the noise, and these mows cannot tell a change under {least}."
    else:
        more = "1 more mow" if change.more_mows == 1 else f"{change.more_mows} more mows"
        said += f"that is within the noise; about {more} of {change.later} could tell a change of this size."
    return replace(change, sentence=said)
