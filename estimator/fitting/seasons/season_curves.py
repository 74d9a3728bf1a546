"""Discharge curves of many mows laid over each other by season, at one power and temperature, with bands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np

from estimator.errors import InputError
from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.mean_curve import GRID_STEP_AH, MeanCurve, curve_spread, mean_curve
from estimator.results import result


def season_names(days: Sequence[date]) -> tuple[str, ...]:
    """The mowing season of each day: a year that begins at the time of year when nobody mows.

    The year is cut at 1 January or at 1 July, whichever has fewer mows within two months of it, so that
    seasons stay whole both north and south of the equator.

    >>> season_names([date(2024, 5, 1), date(2024, 10, 9), date(2025, 4, 2)])
    ('2024', '2024', '2025')
    >>> season_names([date(2024, 11, 1), date(2025, 2, 9), date(2025, 12, 2)])
    ('2024/25', '2024/25', '2025/26')
    """
    in_winter = sum(day.month in (11, 12, 1, 2) for day in days)
    in_summer = sum(day.month in (5, 6, 7, 8) for day in days)
    northern = in_winter <= in_summer
    names = []
    for day in days:
        year = day.year if northern or day.month >= 7 else day.year - 1
        names.append(str(year) if northern else f"{year}/{(year + 1) % 100:02d}")
    return tuple(names)


@result
class SeasonCurve:
    """One season's mean discharge curve: voltage [V] against charge drawn from full [Ah], with its band.

    mows : number of mows in it; mows_at (n,) : how many reach each point; first, last : first and last day
    """

    season: str
    mows: int
    used_ah: tuple[float, ...]
    voltage_v: tuple[float, ...]
    low_v: tuple[float, ...]
    high_v: tuple[float, ...]
    mows_at: tuple[int, ...]
    first: date
    last: date


@result
class CurveChange:
    """The mean difference [V] of a later season's curve from an earlier one, where both are known."""

    earlier: str
    later: str
    from_ah: float
    to_ah: float
    difference_v: float
    low_v: float
    high_v: float
    more_than_noise: bool
    sentence: str


@result
class SeasonCurves:
    """Everything that a picture of the seasons' discharge curves needs.

    left_out : number of mows that could not be placed, because their start charge is unknown
    """

    curves: tuple[SeasonCurve, ...]
    changes: tuple[CurveChange, ...]
    power_w: float
    temperature_c: float
    level: float
    left_out: int


def usual_power_w(curves: Sequence[DischargeCurve]) -> float:
    """The power [W] at which curves are best compared: the median of their mean loads, to 10 W.

    >>> usual_power_w([DischargeCurve((0.0, 1.0), (51.0, 49.0), 6.1, 0.1, 0, 0.08, 0, 0, 25.0, 0)])
    300.0
    """
    loads = [curve.load_a * float(np.mean(curve.rest_v)) for curve in curves]
    return max(10.0, round(float(np.median(loads)) / 10) * 10.0)


def season_curves(
    curves: Sequence[DischargeCurve],
    days: Sequence[date],
    series: int,
    power_w: float | None = None,
    temperature_c: float = 25.0,
    level: float = 0.90,
) -> SeasonCurves:
    """Lay the discharge curves of one pack over each other by season.

    Within a season the mows share one smooth curve, shifted for each mow by its own offset (a random effect:
    temperature guessed, start not quite full, meter) and by the uncertainty of its start.

    Parameters
    ----------
    curves : sequence of DischargeCurve, (n,)
        one for each mow; those without `start_ah` are left out and counted
    days : sequence of date, (n,)
        the day of each curve
    series : int, from 1
        cells in series, which scales the prior spread
    power_w : float, above 0 [W], default None
        common power; None takes the usual one
    temperature_c : float [°C], default 25
        common pack temperature
    level : float, 0.5..0.999, default 0.90
        how often the bands should hold

    Returns
    -------
    SeasonCurves
        one curve [V] over [Ah] with its band for each season, and the changes between them

    Raises
    ------
    InputError
        where no curve can be placed

    Source: mixed model, Searle, Casella and McCulloch 1992.

    >>> drawn = tuple(np.linspace(0.0, 4.0, 50).tolist())
    >>> def mow(full_v: float) -> DischargeCurve:
    ...     rest = tuple(full_v - ah for ah in drawn)
    ...     return DischargeCurve(drawn, rest, 6.0, 0.1, 0.005, 0.08, 0.002, 0.02, 25.0, 1.0, start_ah=0.0)
    >>> days = [date(year, 5, day) for year in (2024, 2025) for day in (1, 9, 20)]
    >>> found = season_curves([mow(v) for v in (54.0, 54.02, 53.98, 53.5, 53.52, 53.48)], days, series=13)
    >>> [one.season for one in found.curves], round(found.changes[0].difference_v, 1)
    (['2024', '2025'], -0.5)
    """
    from scipy.special import stdtrit  # slow to load

    placed = [
        (c, d, s) for c, d, s in zip(curves, days, season_names(days), strict=True) if c.start_ah is not None
    ]
    if not placed:
        mend = "log a mow straight from the charger"
        raise InputError("no logged mow starts from a known charge", mend=mend)
    power = usual_power_w([c for c, _, _ in placed]) if power_w is None else power_w
    names = sorted({s for _, _, s in placed})
    groups = {name: [(c, d) for c, d, s in placed if s == name] for name in names}
    only = {name: [c for c, _ in groups[name]] for name in names}
    spread = curve_spread(only.values(), series, power, temperature_c)
    reach = float(stdtrit(spread.freedom, 0.5 + level / 2))
    smoothed = {n: mean_curve(only[n], series, power, temperature_c, spread.volts) for n in names}
    found = []
    for name in names:
        one, days_in = smoothed[name], [d for _, d in groups[name]]
        half = reach * np.sqrt(np.diag(one.covariance))
        found.append(
            SeasonCurve(
                season=name,
                mows=len(days_in),
                used_ah=tuple(one.grid.tolist()),
                voltage_v=tuple(one.mean.tolist()),
                low_v=tuple((one.mean - half).tolist()),
                high_v=tuple((one.mean + half).tolist()),
                mows_at=tuple(one.count.tolist()),
                first=min(days_in),
                last=max(days_in),
            )
        )
    pairs = pairwise(names)
    changes = tuple(
        c for a, b in pairs if (c := _change(a, b, smoothed[a], smoothed[b], reach, power)) is not None
    )
    return SeasonCurves(tuple(found), changes, power, temperature_c, level, len(curves) - len(placed))


def _change(
    a: str, b: str, one: MeanCurve, two: MeanCurve, reach: float, power_w: float
) -> CurveChange | None:
    low, high = max(one.grid[0], two.grid[0]), min(one.grid[-1], two.grid[-1])
    if high - low < 2 * GRID_STEP_AH:
        return None
    at = np.linspace(low, high, 20)
    rows = [
        np.array([np.interp(at, g.grid, unit).mean() for unit in np.eye(len(g.grid))]) for g in (one, two)
    ]
    difference = float(rows[1] @ two.mean - rows[0] @ one.mean)
    std = math.sqrt(float(rows[0] @ one.covariance @ rows[0]) + float(rows[1] @ two.covariance @ rows[1]))
    low_v, high_v = difference - reach * std, difference + reach * std
    real = low_v > 0 or high_v < 0
    way = "lower than" if difference < 0 else "higher than"
    runs = f"{abs(difference):.2f} V {way}" if abs(difference) >= 0.005 else "as high as"
    sentence = (
        f"At {power_w:.0f} W the voltage of {b} runs {runs} that of {a} "
        f"({low_v:+.2f} to {high_v:+.2f} V) from {low:.1f} to {high:.1f} Ah drawn; "
        + ("that is more than noise." if real else "that is within the noise.")
    )
    return CurveChange(a, b, float(low), float(high), difference, low_v, high_v, real, sentence)
