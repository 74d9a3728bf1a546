"""How a figure changes over the years, by the model that comparisons use, with a slope over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.seasons.measure_model import LEVEL_STD, fit_measure
from estimator.fitting.seasons.measures import Measure, Observed


@dataclass(frozen=True)
class YearlyChange:
    """Change a year (fraction) with its 90 % band, the level on the first day, and each figure (n,) as it
    would be under usual circumstances."""

    middle: float
    low: float
    high: float
    first: float
    adjusted: NDArray[np.float64]

    @property
    def more_than_noise(self) -> bool:
        return self.low > 0 or self.high < 0


def yearly_change(measure: Measure, mows: Sequence[Observed]) -> YearlyChange:
    years = np.array([one.day.toordinal() for one in mows], float) / 365.25
    design = np.column_stack([np.ones(len(mows)), years - years.mean() if len(years) else years])
    fit = fit_measure(measure, mows, design, [LEVEL_STD, 0.3])
    first = np.median(fit.design[:, 0] + fit.usual + fit.design[:, 1] * design[0, 1])
    ends = np.expm1(np.quantile(fit.design[:, 1], [0.5, 0.05, 0.95]))
    return YearlyChange(*ends.tolist(), float(np.exp(first)), np.exp(fit.adjusted))
