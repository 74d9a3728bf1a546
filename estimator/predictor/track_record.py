"""The tool marks its own homework: each mow predicted from the earlier ones only, then compared."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from estimator.descriptions import Lawn, Machine
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import LoadProfile, fit_features
from estimator.results import result

DRAWS = 500
"""The ends of a band from this many draws are off by a thirtieth of its width."""
SEARCH_AGAIN = 1.25
"""The spreads are searched for again when the number of mows has grown by this factor."""
SEED = 4
"""Any number will do: it gives the same logbook the same record each time."""
SEARCHED_EACH = 7
"""Up to this many mows the spreads are searched for after each one, later only as `SEARCH_AGAIN` says."""
POINTS = 24
"""Points of that search, fewer than a fit takes otherwise: the record fits a profile for each mow."""


@dataclass(frozen=True)
class Predicted:
    """One mow as it was predicted from the mows before it, and as it came.

    energy_* [Wh] and minutes_* [min]: median and band predicted, then what was measured; last_time_wh and
    mean_wh [Wh]: what "same as last time" and the mean of all earlier mows predict; earlier: their number
    """

    lawn: str
    started: str | None
    earlier: int
    energy_wh: float
    energy_low_wh: float
    energy_high_wh: float
    energy_came_wh: float
    minutes: float
    minutes_low: float
    minutes_high: float
    minutes_came: float
    last_time_wh: float
    mean_wh: float

    @property
    def held(self) -> bool:
        """Whether the energy came within its band."""
        return self.energy_low_wh <= self.energy_came_wh <= self.energy_high_wh

    @property
    def minutes_held(self) -> bool:
        """Whether the minutes came within their band."""
        return self.minutes_low <= self.minutes_came <= self.minutes_high


@result
class TrackRecord:
    """How well earlier mows would have predicted later ones.

    held, minutes_held : share of the bands of `level` that held for energy and for minutes; held_low,
        held_high : where that share lies in 9 of 10 cases if the bands are right (binomial)
    miss, minutes_miss : median miss as a share of what came
    last_time_miss, mean_miss : the miss of "same as last time" and of the mean of all earlier mows
    predicted : every mow as it was predicted and as it came
    """

    level: float
    mows: int
    held: float
    held_low: float
    held_high: float
    minutes_held: float
    miss: float
    minutes_miss: float
    last_time_miss: float
    mean_miss: float
    predicted: tuple[Predicted, ...]

    @property
    def against_last_time(self) -> float | None:
        """Median miss divided by that of "same as last time"; below 1 is better, None where that is exact."""
        return self.miss / self.last_time_miss if self.last_time_miss else None


def each_predicted(
    whole: Mapping[int, MowFeatures],
    places: Iterable[int],
    level: float,
    machine: Machine,
    draws: int = DRAWS,
) -> Iterator[Predicted]:
    """The mows at these places, one after the other, each predicted from those before it.

    whole : the mows, oldest first, by a number that seeds each one's draws
    """
    numbers, features = list(whole), list(whole.values())
    searched, search = 0, None
    for place in places:
        if search is None or searched != searched_at(place):
            searched = searched_at(place)
            search = fit_features(features[:searched], machine, points=POINTS)
        earlier = features[:place]
        profile = search if searched == place else fit_features(earlier, machine, before=search)
        rng = np.random.default_rng((SEED, numbers[place]))
        yield predict(profile, earlier, features[place], level, draws, rng)


def searched_at(count: int) -> int:
    """The number of mows when the spreads were last searched for, now that `count` are known.

    >>> [searched_at(count) for count in (1, 6, 7, 8, 9, 11, 12, 100)]
    [1, 6, 7, 7, 9, 9, 12, 94]
    """
    searched = min(count, SEARCHED_EACH)
    while (later := math.ceil(SEARCH_AGAIN * searched)) <= count:
        searched = later
    return searched


def predict(
    profile: LoadProfile,
    earlier: Sequence[MowFeatures],
    came: MowFeatures,
    level: float,
    draws: int,
    rng: np.random.Generator,
) -> Predicted:
    """The mow that came, as the profile of the earlier mows predicts it."""
    needs = draw_needs(
        profile,
        [Lawn(came.lawn, came.area_m2)],
        [came.grass],
        draws,
        rng,
        days_since_care=came.days_since_care,
        temperature_c=came.temperature_c,
    )
    at = [(1 - level) / 2, 0.5, (1 + level) / 2]
    own_error = np.exp(came.energy_log_std * rng.standard_normal(draws))
    energy = np.quantile(needs.energy_wh[:, 0] * own_error, at)
    minutes = np.quantile(needs.motor_s[:, 0] / 60, at)
    same = [one for one in earlier if one.lawn == came.lawn]
    before = (same or list(earlier))[-1]
    return Predicted(
        lawn=came.lawn,
        started=came.started,
        earlier=len(earlier),
        energy_wh=float(energy[1]),
        energy_low_wh=float(energy[0]),
        energy_high_wh=float(energy[2]),
        energy_came_wh=came.energy_wh,
        minutes=float(minutes[1]),
        minutes_low=float(minutes[0]),
        minutes_high=float(minutes[2]),
        minutes_came=came.motor_s / 60,
        last_time_wh=before.energy_per_area() * came.area_m2,
        mean_wh=float(np.mean([one.energy_per_area() for one in earlier])) * came.area_m2,
    )


def sum_up(found: Sequence[Predicted], level: float) -> TrackRecord:
    """The track record of mows, one at least, that were predicted at one level."""

    def median_miss(said: list[float], came: list[float]) -> float:
        return float(np.median(np.abs(np.array(said) / np.array(came) - 1)))

    n, came = len(found), [one.energy_came_wh for one in found]
    return TrackRecord(
        level=level,
        mows=n,
        held=float(np.mean([one.held for one in found])),
        held_low=_binomial_quantile(0.05, n, level) / n,
        held_high=_binomial_quantile(0.95, n, level) / n,
        minutes_held=float(np.mean([one.minutes_held for one in found])),
        miss=median_miss([one.energy_wh for one in found], came),
        minutes_miss=median_miss([one.minutes for one in found], [one.minutes_came for one in found]),
        last_time_miss=median_miss([one.last_time_wh for one in found], came),
        mean_miss=median_miss([one.mean_wh for one in found], came),
        predicted=tuple(found),
    )


def _binomial_quantile(chance: float, n: int, level: float) -> int:
    """The least k for which at most k of n bands hold with at least this chance, each with chance `level`."""
    ways = [math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1) for k in range(n + 1)]
    k = np.arange(n + 1)
    each = np.exp(ways + k * math.log(level) + (n - k) * math.log1p(-level))
    return int(np.argmax(np.cumsum(each) >= chance))
