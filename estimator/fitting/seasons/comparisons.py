"""Groups of mows compared: seasons, before and after sharpening, with and without the drive wheel.

One model serves all groups (`measure_model`): the difference between the levels of two groups is what is left
after allowing for grass.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from estimator.arrays import Array
from estimator.fitting.seasons.measure_model import (
    LEVEL_STD,
    MOST_MOWS,
    SURE_Z,
    AdjustedPoint,
    fit_measure,
    percent,
)
from estimator.fitting.seasons.measures import Measure, Observed
from estimator.results import result

MOST_TELLABLE = 1.0
"""Mows that could not even show a doubling are simply too few."""


FEW_MOWS = 4
"""Fewer mows in two groups hardly show how much mows differ: what is usual elsewhere stands in."""


@dataclass(frozen=True)
class GroupLevel:
    """A group's figure in the circumstances usual to all groups, with its band."""

    group: str
    mows: int
    value: float
    low: float
    high: float


@result
class GroupChange:
    """How a later group differs from an earlier one; all as fractions (0.12 is 12 % more).

    change, low, high : after allowing for grass and the rest of `allowed_for`
    raw_change : the plain ratio of the groups' means; grass_change : the part of it that grass and lawn
        explain
    grass_share : that part divided by the raw change; None where there is hardly any raw change
    more_than_noise : whether the band excludes zero
    more_mows : how many more mows of the later group could show a change of this size; 0 where these mows do,
        None where no number of them would
    tellable : smallest change that this number of mows would usually show
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


@result
class GroupComparison:
    """Groups side by side in one measure; points are for plotting."""

    measure: str
    unit: str
    level: float
    groups: tuple[GroupLevel, ...]
    changes: tuple[GroupChange, ...]
    points: tuple[AdjustedPoint, ...]


def compare_groups(
    measure: Measure,
    mows: Sequence[Observed],
    groups: Sequence[str],
    level: float = 0.90,
    later: str | None = None,
) -> GroupComparison:
    """Compare groups of mows in one measure, after allowing for grass, lawn and temperature.

    One mow a group is enough (with a wide band); with a single group, `changes` is empty.

    Parameters
    ----------
    measure : Measure
        such as `ENERGY` or `CAPACITY`
    mows : sequence of Observed, (n,)
        one figure for each mow, such as `energy_observed` gives
    groups : sequence of str, (n,)
        the group of each mow; each group is compared with the one before it, in the order of first appearance
    level : float, 0.5..0.999, default 0.90
        how often the bands should hold
    later : str, default None
        how the sentences speak of the later of two groups, "with 'new cable'"; None: from one to the other

    Returns
    -------
    GroupComparison
        level of each group with its band, and the changes between them

    Raises
    ------
    InputError
        where there is no mow

    Source: mixed model, Searle, Casella and McCulloch 1992.

    >>> from datetime import date
    >>> from estimator.fitting.seasons.measures import CAPACITY
    >>> seen = [(2024, 1, 10.0), (2024, 9, 10.0), (2025, 1, 9.0), (2025, 9, 9.0)]
    >>> mows = [Observed(date(year, 5, day), ah, 0.01) for year, day, ah in seen]
    >>> change = compare_groups(CAPACITY, mows, ["2024", "2024", "2025", "2025"]).changes[0]
    >>> percent(change.change), change.more_than_noise
    ('-10 %', True)
    """
    names = list(dict.fromkeys(groups))
    member = np.array([[g == name for name in names] for g in groups], float).reshape(len(mows), len(names))
    fit = fit_measure(measure, mows, member, [LEVEL_STD] * len(names))
    bands = np.quantile(fit.design + fit.usual[:, None], [0.5, 0.5 - level / 2, 0.5 + level / 2], axis=0)
    counts = member.sum(axis=0).astype(int).tolist()
    found = tuple(
        GroupLevel(name, count, *np.exp(band).tolist())
        for name, count, band in zip(names, counts, bands.T, strict=True)
    )
    points = tuple(
        AdjustedPoint(one.day, group, value)
        for one, group, value in zip(mows, groups, np.exp(fit.adjusted).tolist(), strict=True)
    )
    changes = tuple(
        _change(
            measure,
            names[k],
            names[k + 1],
            fit.design[:, k + 1] - fit.design[:, k],
            fit.log_value,
            member[:, [k, k + 1]],
            level,
            (later, later) if later else (f"from {names[k]} to {names[k + 1]}", f"of {names[k + 1]}"),
        )
        for k in range(len(names) - 1)
    )
    return GroupComparison(measure.name, measure.unit, level, found, changes, points)


def _change(
    measure: Measure,
    earlier: str,
    later: str,
    drawn: Array,
    y: Array,
    member: Array,
    level: float,
    said: tuple[str, str],
) -> GroupChange:
    middle, low, high = np.quantile(drawn, [0.5, 0.5 - level / 2, 0.5 + level / 2]).tolist()
    before, after = (float(y[member[:, k] > 0].mean()) for k in (0, 1))
    raw = after - before
    explained = raw - middle
    real = low > 0 or high < 0
    std = float(drawn.std())
    reach = NormalDist().inv_cdf(0.5 + level / 2) + SURE_Z
    first, second = member.sum(axis=0).astype(int).tolist()
    more = 0 if real else mows_to_tell(middle, std, first, second, level)
    change = GroupChange(
        earlier=earlier,
        later=later,
        change=math.expm1(middle),
        low=math.expm1(low),
        high=math.expm1(high),
        raw_change=math.expm1(raw),
        grass_change=math.expm1(explained),
        grass_share=explained / raw if abs(raw) > std / 2 else None,
        more_than_noise=real,
        more_mows=more,
        tellable=math.expm1(reach * std),
        sentence="",
    )
    return _with_sentence(measure, change, *said, few=member.sum() < FEW_MOWS)


def mows_to_tell(change: float, std: float, before: int, after: int, level: float = 0.90) -> int | None:
    """How many more mows of the later group would usually (four times in five) show a change of this size.

    change, std : the change and its standard deviation with `before` and `after` mows, on the logarithm

    The variance of a difference of means is proportional to 1/before + 1/after. None where the earlier group
    alone has too few mows for it, or where more than 500 would be needed.

    >>> mows_to_tell(0.10, 0.05, before=10, after=10)
    25
    >>> mows_to_tell(0.10, 0.10, before=10, after=10) is None
    True
    """
    reach = NormalDist().inv_cdf(0.5 + level / 2) + SURE_Z
    one_mow = std**2 / (1 / before + 1 / after)
    room = (change / reach) ** 2 / one_mow - 1 / before
    if room <= 0:
        return None
    more = math.ceil(1 / room - after)
    return max(more, 1) if more <= MOST_MOWS else None


def _with_sentence(
    measure: Measure, change: GroupChange, between: str, later: str, *, few: bool
) -> GroupChange:
    allowed = f", after allowing for {measure.allowed_for}" if measure.allowed_for else ""
    name = f"{measure.name[0].upper()}{measure.name[1:]}"
    figures = f"{percent(change.change)} ({percent(change.low)} to {percent(change.high)})"
    said = f"{name} changed by {figures} {between}{allowed}; "
    if change.more_than_noise:
        said += "that is more than "
        said += "mows usually differ; these few alone could not tell." if few else "noise."
    elif change.more_mows is None and change.tellable >= MOST_TELLABLE:
        said += "that is within the noise: too few mows to tell."
    elif change.more_mows is None:
        least = percent(change.tellable).lstrip("+")
        said += f"that is within the noise, and these mows cannot tell a change under {least}."
    else:
        more = "1 more mow" if change.more_mows == 1 else f"{change.more_mows} more mows"
        said += f"that is within the noise; about {more} {later} could tell a change of this size."
    return replace(change, sentence=said)
