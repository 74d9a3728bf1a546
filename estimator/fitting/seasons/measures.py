"""What can be followed over the years, one figure a mow: energy, pace, idle power, resistance, capacity.

Each figure carries what must be allowed for before two mows can be compared: grass, lawn and temperature.
Every effect acts on the logarithm, so it multiplies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from estimator.errors import check_each
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.grass_effects import (
    COLUMNS,
    ENERGY_PRIOR,
    PACE_PRIOR,
    circumstances,
    mean_columns,
)
from estimator.fitting.load.short_mows import SHORTEST_S, rate_near
from estimator.fitting.pack.log_share import CAPACITY_WALK
from estimator.fitting.pack.prior import LABEL_STD
from estimator.fitting.seasons.discharge_curves import DischargeCurve


@dataclass(frozen=True)
class Measure:
    """A figure to follow, and the model for reading it.

    name, unit : as shown; allowed_for : the effects as sentences say them, such as "grass"
    effects : names of what is allowed for; effect_mean, effect_std : their priors, on the logarithm
    lawn_std, day_std, rest_std : expected spread (prior median) between lawns, between days, and of the rest
    drift_std : how much the figure wanders over some weeks for reasons nobody notes (common practice)
    """

    name: str
    unit: str
    allowed_for: str
    effects: tuple[str, ...]
    effect_mean: tuple[float, ...]
    effect_std: tuple[float, ...]
    lawn_std: float
    day_std: float
    rest_std: float
    drift_std: float


@dataclass(frozen=True)
class Observed:
    """One mow's figure: its value, the relative error of its measurement (one sigma), its circumstances.

    effects : in the order of the measure's; place : the mow's place among those given, -1 where not known
    """

    day: date
    value: float
    log_std: float
    effects: tuple[float, ...] = ()
    lawn: str | None = None
    place: int = -1


_GRASS = tuple(name for name in COLUMNS if name not in ("level", "blade care"))
_PLACES = [COLUMNS.index(name) for name in _GRASS]
_COLD = 1000.0 / 298.15  # 25 °C, as thousands of inverse kelvin
UNKNOWN_GROWTH_STD, UNKNOWN_MOISTURE_STD = 0.15, 0.10
"""What growth or moisture that is not given adds to the spread of a mow's log energy (common practice)."""

# The last four numbers of each are spreads (common practice); cold acts on the resistance with 21 ± 8 kJ/mol
# (common practice).
ENERGY = Measure(
    "energy per area", "Wh/m²", "grass, lawn and temperature", _GRASS,
    tuple(ENERGY_PRIOR.mean[_PLACES].tolist()), tuple(ENERGY_PRIOR.std[_PLACES].tolist()),
    0.15, 0.03, 0.10, 0.04,
)  # fmt: skip
PACE = Measure(
    "pace", "m²/min", "grass, lawn and temperature", _GRASS,
    tuple(PACE_PRIOR.mean[_PLACES].tolist()), tuple(PACE_PRIOR.std[_PLACES].tolist()),
    0.12, 0.03, 0.06, 0.02,
)  # fmt: skip
IDLE = Measure("idle power", "W", "temperature", ("temperature",), (0.0,), (0.05,), 0.01, 0.03, 0.05, 0.02)
RESISTANCE = Measure("resistance", "ohm", "temperature", ("cold",), (2.5,), (1.0,), 0.005, 0.02, 0.04, 0.02)
CAPACITY = Measure("usable capacity", "Ah", "", (), (), (), 0.002, 0.005, 0.01, 0.006)


def energy_observed(mows: Sequence[MowFeatures]) -> tuple[Observed, ...]:
    """Energy per area [Wh/m²] of every dated mow, with its grass, lawn and temperature.

    A mow that stopped short took too little for its area and would look like a change. So it counts with its
    power at the pace of the whole mows nearest to it in time, of the same lawn if there are any; without
    whole mows it is left out.

    Parameters
    ----------
    mows : sequence of MowFeatures, (n,)
        as `mow_features` finds them

    Returns
    -------
    tuple of Observed
        [Wh/m²] for the mows that have a date

    Raises
    ------
    InputError
        for anything that is not a MowFeatures

    Source: none; a ratio.

    >>> energy_observed([])
    ()
    """
    check_each("mows", mows, MowFeatures)
    whole = [m for m in mows if m.day and m.whole]
    found = []
    for place, (m, grass) in enumerate(zip(mows, _effects(mows), strict=True)):
        value, own = m.energy_per_area() if m.whole else None, m.energy_log_std
        if m.day and not m.whole and not m.spot and m.motor_s >= SHORTEST_S:
            rate = rate_near(m, whole)
            value = m.mean_w / 60 / rate.m2_min if rate else None
            own = math.hypot(own, rate.log_std) if rate else own
        if m.day and value is not None:
            found.append(Observed(_day(m), value, math.hypot(own, _untold(m)), grass, m.lawn, place))
    return tuple(found)


def pace_observed(mows: Sequence[MowFeatures]) -> tuple[Observed, ...]:
    """Pace [m²/min] of every dated mow that did its whole lawn, with its grass, lawn and temperature.

    >>> pace_observed([])
    ()
    """
    return tuple(
        Observed(_day(m), m.pace_m2_min(), math.hypot(m.pace_log_std, 0.5 * _untold(m)), grass, m.lawn, place)
        for place, (m, grass) in enumerate(zip(mows, _effects(mows), strict=True))
        if m.day and m.whole
    )


def idle_observed(mows: Sequence[MowFeatures]) -> tuple[Observed, ...]:
    """Idle power [W] of every dated mow in which the blades were seen turning in no grass.

    The clamp's zero error weighs heavily on such a small figure, so it adds to the uncertainty.
    """
    found, warmth = [], _GRASS.index("temperature")
    each = zip(mows, idle_of_one_kind(mows), _effects(mows), strict=True)
    for place, (m, idle_w, grass) in enumerate(each):
        if m.day and idle_w:
            zero = m.energy_log_std * m.mean_w / idle_w
            found.append(Observed(_day(m), idle_w, math.hypot(0.02, zero), (grass[warmth],), None, place))
    return tuple(found)


def idle_of_one_kind(mows: Sequence[MowFeatures]) -> list[float | None]:
    """Idle power [W] (n,) as read by hand or as logged, whichever was seen in more mows; None for the others.

    What a meter's hold shows and a log's turns differ a little, which would pass for a change.
    """
    seen = [m.spot for m in mows if m.idle_w]
    by_hand = 2 * sum(seen) > len(seen)
    return [m.idle_w if m.spot is by_hand else None for m in mows]


def resistance_observed(curves: Sequence[DischargeCurve], days: Sequence[date]) -> tuple[Observed, ...]:
    """Resistance [ohm] of the pack as each mow's own readings show it, with the cold at the time.

    It is the resistance that acts at once; `cold` is 1000 K over the pack temperature, minus that at 25 °C.

    >>> curve = DischargeCurve((0.0, 1.0), (54.0, 52.0), 5.0, 0.13, 0.01, 0.10, 0.002, 0.02, 25.0, 0.0)
    >>> resistance_observed([curve], [date(2024, 5, 1)])
    (Observed(day=datetime.date(2024, 5, 1), value=0.1, log_std=0.02, effects=(0.0,), lawn=None, place=-1),)
    """
    found = []
    for curve, day in zip(curves, days, strict=True):
        cold = 1000.0 / (curve.temperature_c + 273.15) - _COLD
        guessed = 2.5 * 1000.0 * curve.temperature_std_c / (curve.temperature_c + 273.15) ** 2
        own = math.hypot(curve.quick_std_ohm / curve.quick_ohm, guessed)
        found.append(Observed(day, curve.quick_ohm, own, (cold,)))
    return tuple(found)


NEWS_LOG_STD = 0.25
"""A mow that by itself shows the capacity no better than this (on the logarithm) says next to nothing."""


def capacity_observed(
    capacity_ah: Sequence[float],
    std_ah: Sequence[float],
    days: Sequence[date],
    rated_ah: float,
    rated_log_std: float = LABEL_STD,
) -> tuple[Observed, ...]:
    """What each mow by itself says about the capacity [Ah], recovered from the pack's fit after each mow.

    capacity_ah, std_ah : after each mow, oldest first; rated_ah, rated_log_std : before any
        mow, and how well its logarithm was known

    A fit that is carried from mow to mow repeats what it knew, so that neighbouring mows would seem to differ
    by less noise than there is. So what each mow added is recovered: precisions subtract, means follow (the
    update of a Kalman filter solved for its measurement; an approximation where the fit looks back over
    several mows at once). Mows that say next to nothing are left out.

    >>> days = [date(2024, 5, 1), date(2024, 6, 1)]
    >>> one = capacity_observed([9.8, 9.7], [0.2, 0.15], days, rated_ah=10.0)
    >>> [round(o.value, 2) for o in one]
    [9.78, 9.58]
    """
    found = []
    mean, variance = math.log(rated_ah), rated_log_std**2
    for place, (now_ah, now_std, day) in enumerate(zip(capacity_ah, std_ah, days, strict=True)):
        after, after_var = math.log(now_ah), (now_std / now_ah) ** 2
        gained = 1 / after_var - 1 / variance
        if gained > max(0.02 / variance, NEWS_LOG_STD**-2.0):
            own = (after / after_var - mean / variance) / gained
            found.append(Observed(day, math.exp(own), gained**-0.5, place=place))
        mean, variance = after, after_var + CAPACITY_WALK**2
    return tuple(found)


def observed(measure: Measure, mows: Sequence[MowFeatures]) -> tuple[Observed, ...]:
    """The figures of a measure that features alone can give: energy, pace or idle power."""
    return {ENERGY: energy_observed, PACE: pace_observed, IDLE: idle_observed}[measure](mows)


def _day(mow: MowFeatures) -> date:
    return date.fromisoformat(mow.day or "")


def _effects(mows: Sequence[MowFeatures]) -> list[tuple[float, ...]]:
    return [tuple(row) for row in mean_columns(mows, circumstances(mows))[:, _PLACES].tolist()]


def _untold(mow: MowFeatures) -> float:
    growth = UNKNOWN_GROWTH_STD if mow.growth_mm is None and mow.days_since_cut is None else 0.0
    return math.hypot(growth, UNKNOWN_MOISTURE_STD if mow.moisture is None else 0.0)
