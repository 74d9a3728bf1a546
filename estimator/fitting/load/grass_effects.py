"""How grass, blades, weather and area change energy per area and pace: the model's columns and their priors.

Every effect acts on a logarithm, so it multiplies. Prior widths are common practice for walk-behind mowers,
wide enough for ten mows to outweigh them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import MOISTURES, Grass
from estimator.fitting.load.features import MowFeatures
from estimator.fitting.load.mixed_model import MixedPrior

COLUMNS = ("level", "damp", "wet", "growth", "blade care", "temperature", "area")
ENERGY_PRIOR = MixedPrior(
    mean=np.array([math.log(0.30), 0.10, 0.15, 0.60, 0.06, -0.02, -0.03]),
    std=np.array([0.80, 0.10, 0.12, 0.40, 0.10, 0.05, 0.06]),
    spread_median=np.array([0.16, 0.05, 0.10]),
    spread_log_std=np.array([0.6, 0.7, 0.5]),
)
"""Energy per area before any mow, as means and standard deviations of logarithms. All but the effect of
growth is common practice: 0.30 Wh/m² within a factor of 2.2; damp grass takes 10 % ± 10 % more than dry, wet
grass 15 % ± 12 % more than damp; blades take 6 % ± 10 % more each 100 days; 10 °C more, 2 % ± 5 % less; large
lawns take a little less. It rises with the 0.6 ± 0.4 power of (1 + growth / 25 mm), since a blade 2 cm lower
met 14 times the torque (J. Keteknikan Pertanian 2008) while idling takes the same. Lawns differ by 16 % (this
known within a factor of 1.8), days by 5 % (within 2), mows of one lawn on one day by 10 % (within 1.6)."""
PACE_PRIOR = MixedPrior(
    mean=np.array([0.0, -0.02, -0.04, -0.10, -0.02, 0.0, 0.0]),
    std=np.array([0.40, 0.05, 0.06, 0.15, 0.05, 0.03, 0.06]),
    spread_median=np.array([0.10, 0.03, 0.07]),
    spread_log_std=np.array([0.5, 0.6, 0.4]),
)
"""The same for pace over that of `mowing_time`: 1 within a factor of 1.5; 2 % ± 5 % slower in damp grass and
another 4 % ± 6 % in wet; it varies as (1 + growth / 25 mm) to the power -0.10 ± 0.15. Lawns differ by 10 %
(known within a factor of 1.6), days by 3 % (within 1.8), mows by 7 % (within 1.5)."""
GROWTH_SCALE_MM = 25.0
"""Growth at which the growth column is zero: the usual height taken off."""
AREA_SCALE_M2 = 300.0
"""Area at which the area column is zero; any will do."""
TEMPERATURE_SCALE_C = 15.0
"""Air temperature at which the temperature column is zero: that of a mowing season."""
GROWTH_MM_A_DAY = 3.0
"""Lawns in the growing season grow 15 to 50 mm a week (common practice)."""
GROWTH_RATE_LOG_STD = 0.5
"""Spread of that rate as a logarithm, from drought to a wet May (common practice)."""
PRIOR_GROWTH_MM = 30.0
"""Height usually taken off: a third of the whole (common practice)."""
PRIOR_GROWTH_STD = 0.35
"""Its spread from mow to mow, on the growth column (common practice)."""
PRIOR_MOISTURE = np.array([0.60, 0.25, 0.15])
"""Shares of mows in dry, damp and wet grass (common practice: people mow when it is dry if they can)."""
PRIOR_MOWS = 2.0
"""These prior habits weigh as much as this many mows."""


def growth_column(growth_mm: float | Array) -> Array:
    """The growth column: log(1 + mm / 25) minus its value at 25 mm.

    >>> float(growth_column(25.0))
    0.0
    """
    return np.asarray(np.log1p(np.asarray(growth_mm) / GROWTH_SCALE_MM) - math.log(2.0))


@dataclass(frozen=True)
class Circumstances:
    """Grass, blades and weather of the mows so far, to stand in for whatever is not given.

    growth, growth_std : mean and standard deviation of the growth column; growth_share, moisture_share : the
    share of mows (two imagined ones included) whose growth or moisture is known; moisture : chances of dry,
    damp, wet; care_days : days since blade care at the latest mow; temperature_c : mean; growth_mm_a_day,
    growth_rate_log_std : from mows with both growth and days, the second the spread of its logarithm
    """

    growth: float
    growth_std: float
    growth_share: float
    moisture: Array
    moisture_share: float
    care_days: float
    temperature_c: float
    growth_mm_a_day: float
    growth_rate_log_std: float


def circumstances(mows: Sequence[MowFeatures]) -> Circumstances:
    """Summarise the circumstances of the mows so far; without mows, the prior."""
    logs = [math.log(m.growth_mm / m.days_since_cut) for m in mows if m.growth_mm and m.days_since_cut]
    rate = math.exp((PRIOR_MOWS * math.log(GROWTH_MM_A_DAY) + sum(logs)) / (PRIOR_MOWS + len(logs)))
    rate_std = math.sqrt(
        (PRIOR_MOWS * GROWTH_RATE_LOG_STD**2 + sum((v - math.log(rate)) ** 2 for v in logs))
        / (PRIOR_MOWS + len(logs))
    )
    grown = [height for m in mows if (height := height_mm(m, rate)) is not None]
    columns = growth_column(np.array(grown)) if grown else np.zeros(0)
    centre = (PRIOR_MOWS * float(growth_column(PRIOR_GROWTH_MM)) + float(columns.sum())) / (
        PRIOR_MOWS + len(grown)
    )
    scatter = PRIOR_MOWS * PRIOR_GROWTH_STD**2 + float(((columns - centre) ** 2).sum())
    counts = np.array([sum(m.moisture == name for m in mows) for name in MOISTURES], float)
    care = [m for m in mows if m.days_since_care is not None]
    warm = [m.temperature_c for m in mows if m.temperature_c is not None]
    latest = max(care, key=lambda m: m.started or "", default=None)
    return Circumstances(
        growth=centre,
        growth_std=math.sqrt(scatter / (PRIOR_MOWS + len(grown))),
        growth_share=(PRIOR_MOWS + len(grown)) / (PRIOR_MOWS + len(mows)),
        moisture=(PRIOR_MOWS * PRIOR_MOISTURE + counts) / (PRIOR_MOWS + counts.sum()),
        moisture_share=(PRIOR_MOWS + float(counts.sum())) / (PRIOR_MOWS + len(mows)),
        care_days=(latest.days_since_care or 0.0) if latest else 0.0,
        temperature_c=float(np.mean(warm)) if warm else TEMPERATURE_SCALE_C,
        growth_mm_a_day=rate,
        growth_rate_log_std=rate_std,
    )


def height_mm(grass: Grass | MowFeatures, growth_mm_a_day: float) -> float | None:
    """Growth [mm] as judged, else worked out from the days since the last cut, else None."""
    if grass.growth_mm is not None or grass.days_since_cut is None:
        return grass.growth_mm
    return grass.days_since_cut * growth_mm_a_day


@dataclass(frozen=True)
class Situation:
    """What is known about a mow to predict; None where it is not known."""

    area_m2: float
    grass: Grass
    days_since_care: float | None = None
    temperature_c: float | None = None


def mean_columns(mows: Sequence[MowFeatures | Situation], known: Circumstances) -> Array:
    """Rows of the model (n, p) for mows as they were or may be, with unknown circumstances at their mean."""
    out = np.zeros((len(mows), len(COLUMNS)))
    mean_damp, mean_wet = known.moisture[1] + known.moisture[2], known.moisture[2]
    damp = {None: mean_damp, "dry": 0.0, "damp": 1.0, "wet": 1.0}
    wet = {None: mean_wet, "dry": 0.0, "damp": 0.0, "wet": 1.0}
    grown = [height_mm(one.grass, known.growth_mm_a_day) for one in mows]
    unknown = GROWTH_SCALE_MM * (2 * math.exp(known.growth) - 1)
    care = [known.care_days if one.days_since_care is None else one.days_since_care for one in mows]
    warm = [known.temperature_c if one.temperature_c is None else one.temperature_c for one in mows]
    out[:, 0] = 1.0
    out[:, 1] = [damp[one.grass.moisture] for one in mows]
    out[:, 2] = [wet[one.grass.moisture] for one in mows]
    out[:, 3] = growth_column(np.array([unknown if height is None else height for height in grown], float))
    out[:, 4] = np.minimum(np.array(care, float), 400.0) / 100.0
    out[:, 5] = (np.array(warm, float) - TEMPERATURE_SCALE_C) / 10.0
    out[:, 6] = np.log(np.array([one.area_m2 for one in mows], float) / AREA_SCALE_M2)
    return out


def draw_columns(
    situations: Sequence[Situation], known: Circumstances, unit: Array, moisture_unit: Array
) -> Array:
    """Rows of the model (n, len(situations), p), with unknown circumstances drawn from those seen so far.

    unit : standard normals (n, 3), for growth where it is unknown, for the rate of growth where only days are
    known, and an unused one; moisture_unit : uniforms (n,)
    """
    out = np.repeat(mean_columns(situations, known)[None], len(unit), axis=0)
    swing = math.sqrt(known.moisture_share)
    for i, one in enumerate(situations):
        if one.grass.moisture is None:
            for column, chance in ((1, known.moisture[1] + known.moisture[2]), (2, known.moisture[2])):
                out[:, i, column] += swing * ((moisture_unit > 1 - chance) - chance)
        if one.grass.growth_mm is None and one.grass.days_since_cut is not None:
            rate = known.growth_mm_a_day * np.exp(known.growth_rate_log_std * unit[:, 1])
            out[:, i, 3] = growth_column(one.grass.days_since_cut * rate)
        elif one.grass.growth_mm is None:
            drawn = known.growth + math.sqrt(known.growth_share) * known.growth_std * unit[:, 0]
            out[:, i, 3] = np.maximum(drawn, -math.log(2.0))
    return out
