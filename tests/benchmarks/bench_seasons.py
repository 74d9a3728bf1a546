"""How quickly seasons are compared, as ratios to references taken in the same run.

    python tests/benchmarks/bench_seasons.py

It takes the least processor time of several runs. The reference of a comparison is a bare mixed model of the
same 300 mows by statsmodels (one fit, no band of the levels, no sentence); the others are compared with
themselves on a tenth of the mows, where 10 means that cost is proportional to the number of mows.
"""

from __future__ import annotations

import warnings
from datetime import date, timedelta
from functools import partial

import numpy as np
from ratio import Ratio, all_seconds, beside
from statsmodels.regression.mixed_linear_model import MixedLM

from estimator.fitting.seasons.comparisons import compare_groups
from estimator.fitting.seasons.discharge_curves import DischargeCurve
from estimator.fitting.seasons.fade import fade_draws, fade_series
from estimator.fitting.seasons.measures import ENERGY, Observed
from estimator.fitting.seasons.relative_capacity import relative_capacity
from estimator.fitting.seasons.season_curves import season_curves

RUNS = 3


def some_curves(count: int, rng: np.random.Generator) -> list[DischargeCurve]:
    found = []
    for _ in range(count):
        drawn = np.linspace(0.0, rng.uniform(1.0, 7.0), 60)
        rest = 54.0 - drawn - 0.01 * drawn**3 + 0.05 * rng.standard_normal()
        found.append(
            DischargeCurve(tuple(drawn), tuple(rest), 6.0, 0.12, 0.003, 0.09, 0.001, 0.03, 20.0, 1.0, 0.0)
        )
    return found


def some_mows(count: int, rng: np.random.Generator) -> list[Observed]:
    found = []
    for k in range(count):
        damp, growth, lawn = float(rng.random() < 0.5), 0.3 * rng.standard_normal(), int(rng.integers(12))
        value = np.exp(-1.4 + 0.1 * damp + 0.4 * growth + 0.02 * (lawn - 6) + 0.08 * rng.standard_normal())
        day = date(2020, 4, 1) + timedelta(days=round(1800 * k / count))
        found.append(Observed(day, float(value), 0.01, (damp, 0.0, growth, 0.0, 0.0), f"lawn {lawn}"))
    return found


def bare_mixed_model(mows: list[Observed], groups: list[str]) -> None:
    columns = [
        [1.0, float(group == groups[-1]), *mow.effects[:1], mow.effects[2]]
        for mow, group in zip(mows, groups, strict=True)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        MixedLM(
            np.log([mow.value for mow in mows]), np.array(columns), groups=[mow.lawn for mow in mows]
        ).fit()


def ratios() -> list[Ratio]:
    """Comparisons against the bare model; the rest against a tenth of the mows."""
    rng = np.random.default_rng(1)
    mows = some_mows(300, rng)
    groups = ["before"] * 150 + ["after"] * 150
    bare_s = min(all_seconds(lambda: bare_mixed_model(mows, groups), RUNS))
    how = f"processor time, least of {RUNS}, warm"
    found = []
    ours_s = min(all_seconds(lambda: compare_groups(ENERGY, mows, groups), RUNS))
    name = "bare `statsmodels` mixed model"
    what = "two groups of 150 mows compared"
    found.append(Ratio(what, name, ours_s / bare_s, None, how, beside(ours_s, bare_s)))
    curves = some_curves(2000, rng)
    days = [date(2018, 4, 1) + timedelta(days=k) for k in range(2000)]
    for what, of in (
        ("season curves", lambda n: season_curves(curves[:n], days[:n], 13)),
        ("capacity by rest voltage", lambda n: relative_capacity(curves[:n], days[:n], 13, 10.0)),
        (
            "fade forecast",
            lambda n: fade_draws(fade_series(np.arange(1, n + 1), np.linspace(10, 9, n))),
        ),
    ):
        many_s, few_s = (min(all_seconds(partial(of, n), RUNS)) for n in (2000, 200))
        found.append(
            Ratio(f"{what} of 2,000 mows", "200 mows", many_s / few_s, None, how, beside(many_s, few_s))
        )
    return found


if __name__ == "__main__":
    from table import show

    show(ratios())
