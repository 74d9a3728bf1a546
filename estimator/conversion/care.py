"""Whether idle power and energy per area have risen since the last blade care, and what that suggests.

Idle power rises when bearings run dry or a reel is set hard against its bed knife; energy per area rises when
blunt blades tear the grass. Both are hints to go and look (common practice), never a diagnosis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from estimator.conversion import cautions
from estimator.conversion.bands import LEVEL
from estimator.errors import InputError, check_kind
from estimator.fitting.seasons.measure_model import SPREAD_LOG_STD
from estimator.fitting.seasons.measures import ENERGY, IDLE, Measure
from estimator.results import result
from estimator.written_names import MOWER_NAMES, known_word

WORTH_A_LOOK = 0.05
"""A rise by this share is worth a look; less does not show in the minutes (common practice)."""
FEWEST_MOWS = 4  # a line through three leaves one degree of freedom, and a band too wide to say anything
FEWEST_DAYS = 3
"""A trend over two days is the difference of two days (common practice)."""
USUAL_COUNTS = 1 / (2 * SPREAD_LOG_STD[-1] ** 2)
"""Degrees of freedom that the usual scatter of such mows counts as, known as well as where mows are compared
(the logarithm of a standard deviation with n of them is known to 1/sqrt(2n)): few mows, or mows that agree
by chance, show too little scatter by themselves."""


@dataclass(frozen=True)
class WhereToLook:
    """What to look at where idle power rises, and where energy per area does (common practice)."""

    idle: str
    energy: str


LOOK = {
    "cylinder": WhereToLook(
        "bearings, and whether the reel touches the bed knife too hard",
        "the cutting edges: lapping the reel and setting it to the bed knife",
    ),
    "rotary": WhereToLook(
        "bearings, the balance of the blade, and grass packed around its shaft",
        "the blade: sharpening it, and balancing it afterwards",
    ),
    "flail": WhereToLook(
        "bearings, grass wound around the rotor, and a knife that is missing",
        "the knives: worn ones turned or changed in opposite pairs, so that the rotor stays in balance",
    ),
    None: WhereToLook("bearings, and grass packed around the shaft", "the cutting edges"),
}


@dataclass(frozen=True)
class Trend:
    """Change of a figure from the first to the last mow since the last care, or of all mows.

    change, low, high : as a share of the first, 0.10 for 10 % more; the band is central, 90 %
    real : whether the whole band lies above zero, or below it
    mows : how many were compared
    """

    name: str
    change: float
    low: float
    high: float
    real: bool
    mows: int
    days: float
    sentence: str


@dataclass(frozen=True)
class Suggestion:
    """Something to look at, with its evidence."""

    look_at: str
    evidence: str


@result
class CareAdvice:
    """Trends (None where there are too few mows) and what they suggest.

    since : day of the last blade care, after which mows count; None where none is noted, and all count
    """

    idle: Trend | None
    energy: Trend | None
    since: date | None
    suggestions: tuple[Suggestion, ...]
    verdict: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def care_advice(
    days: Sequence[date],
    idle_w: Sequence[float | None],
    wh_per_m2: Sequence[float | None],
    *,
    blade_care: Sequence[date] = (),
    kind: str | None = None,
) -> CareAdvice:
    """What the mows since the last blade care, or all mows if none is noted, say about blades and bearings.

    Parameters
    ----------
    days : sequence of date, (n,)
        days of the mows, in any order
    idle_w : sequence of float or None, (n,) [W]
        power with the blades turning free, None where a mow does not show it
    wh_per_m2 : sequence of float or None, (n,) [Wh/m²]
        energy per area, preferably after allowing for growth and moisture
    blade_care : sequence of date, default ()
        when the blades were sharpened, lapped or adjusted
    kind : str, default None
        how the machine cuts: cylinder, rotary or flail; None where not described

    Returns
    -------
    CareAdvice
        trends with bands, suggestions of where to look, and cautions

    Raises
    ------
    InputError
        where there is not one of each for every mow, or the kind is not known

    Source: least-squares trend of the logarithms; what to look at is common practice.

    >>> days = [date(2026, 5, each) for each in (2, 9, 16, 23, 30)]
    >>> idle, energy = [150.0, 161.0, 168.0, 181.0, 189.0], [0.140, 0.142, 0.138, 0.141, 0.140]
    >>> advice = care_advice(days, idle, energy, kind="rotary")
    >>> advice.idle.real, advice.energy.real
    (True, False)
    >>> advice.suggestions[0].look_at
    'bearings, the balance of the blade, and grass packed around its shaft'
    """
    if not len(days) == len(idle_w) == len(wh_per_m2):
        raise InputError(
            f"{len(days)} dates came with {len(idle_w)} idle powers and {len(wh_per_m2)} energies",
            mend="give one of each a mow, None where unknown",
        )
    for day in days:
        check_kind("day", day, date)
    look = LOOK[None if kind is None else known_word(kind, MOWER_NAMES, "kind of mower")]
    past = [each for each in blade_care if days and each <= max(days)]
    since = max(past, default=None)
    idle = _trend(IDLE, days, idle_w, since)
    energy = _trend(ENERGY, days, wh_per_m2, since)
    suggestions = tuple(
        Suggestion(where, trend.sentence)
        for trend, where in ((idle, look.idle), (energy, look.energy))
        if trend is not None and trend.low > 0 and trend.change >= WORTH_A_LOOK
    )
    return CareAdvice(
        idle=idle,
        energy=energy,
        since=since,
        suggestions=suggestions,
        verdict=_verdict(idle, energy, suggestions, since),
        assumptions=(
            "each figure changes evenly in time, by the same share each day",
            "wet or long grass raises the energy too: figures that do not allow for it may mislead",
            *([] if kind else ["how the machine cuts is not described, so that its parts cannot be named"]),
        ),
        cautions=(cautions.BLADES,),
    )


def _trend(
    measure: Measure, days: Sequence[date], values: Sequence[float | None], since: date | None
) -> Trend | None:
    pairs = [
        (day.toordinal(), math.log(value))
        for day, value in zip(days, values, strict=True)
        if value is not None and math.isfinite(value) and value > 0 and (since is None or day > since)
    ]
    if len(pairs) < FEWEST_MOWS or len({day for day, _ in pairs}) < FEWEST_DAYS:
        return None
    day, log = np.array(sorted(pairs), dtype=float).T
    span = float(day[-1] - day[0])
    x = (day - day.mean()) / span
    slope = float((x * log).sum() / (x * x).sum())
    left = log - log.mean() - slope * x
    from scipy.special import stdtrit  # slow to load

    freedom = USUAL_COUNTS + log.size - 2
    usual = measure.day_std**2 + measure.rest_std**2
    variance = (USUAL_COUNTS * usual + float((left**2).sum())) / freedom
    error = math.sqrt(variance / float((x * x).sum()))
    half = float(stdtrit(freedom, (1 + LEVEL) / 2)) * error
    change, low, high = (math.expm1(each) for each in (slope, slope - half, slope + half))
    real = low > 0 or high < 0
    said, *ends = (f"{whole:+d} %" if (whole := round(100 * each)) else "0 %" for each in (change, low, high))
    sentence = (
        f"{measure.name} changed by {said} ({' to '.join(ends)}) over {log.size} mows in {span:.0f} days"
        f"{'' if real else ', which is not more than the mows differ anyway'}"
    )
    return Trend(measure.name, change, low, high, real, int(log.size), span, sentence)


def _verdict(
    idle: Trend | None, energy: Trend | None, suggestions: Sequence[Suggestion], since: date | None
) -> str:
    which = "so far" if since is None else "since the last blade care"
    if idle is None and energy is None:
        return f"Too few whole mows {which}: a trend needs {FEWEST_MOWS} of them, on {FEWEST_DAYS} days."
    if not suggestions:
        return f"Nothing in the mows {which} needs a look; still trust your eyes and ears."
    return "Perhaps worth a look: " + "; ".join(each.look_at for each in suggestions) + "."
