"""How quickly a load profile is fitted, and lawns per charge and a recommended capacity are worked out.

    python tests/benchmarks/bench_profile.py

The mows are invented by `tests/planted/planted_mows.py`; references are measured in the same run. How well
the answers hold is judged by `tests/worlds/judge.py`.
"""

from __future__ import annotations

import statistics
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "planted"))

from planted_mows import plant, plant_mows
from ratio import Ratio, all_seconds, beside

from estimator.descriptions import Grass, Pack
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.profile import fit_profile
from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
from estimator.predictor.sizing.recommend import recommend_capacity

PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, resistance_ohm=0.15)


def ratios() -> list[Ratio]:
    """A fit of 40 lawns and 300 mows against statsmodels; a plan of 8 lawns against single draws."""
    import warnings

    import pandas as pd
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(1)
    truth = plant(rng, 40)
    features = [mow_features(one.mow) for one in plant_mows(truth, 300, rng, 2.0)]
    fit_s = statistics.median(all_seconds(lambda: fit_profile(features), 5))
    frame = pd.DataFrame(
        {
            "y": [np.log(one.energy_per_area()) for one in features],
            "damp": [float(one.moisture != "dry") for one in features],
            "wet": [float(one.moisture == "wet") for one in features],
            "growth": [np.log1p((one.growth_mm or 0) / 25) for one in features],
            "lawn": [one.lawn for one in features],
            "day": [one.day for one in features],
            "all": 1,
        }
    )

    def reference() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            parts = {"day": "0 + C(day)", "lawn": "0 + C(lawn)"}
            smf.mixedlm(
                "y ~ damp + wet + growth", frame, groups="all", vc_formula=parts, re_formula="0"
            ).fit()

    reference_s = statistics.median(all_seconds(reference, 3))
    profile = fit_profile(features)
    pack = replace(PACK, capacity_ah=30.0, resistance_ohm=0.05)
    lawns, grass = truth.lawns[:8], Grass("dry", 25)
    plans = all_seconds(lambda: lawns_per_charge(profile, pack, lawns, grass), 4)
    singles = all_seconds(lambda: lawns_per_charge(profile, pack, lawns, grass, draws=1), 4)
    sizes = all_seconds(lambda: recommend_capacity(profile, pack, lawns[:3], grass), 3)
    plan_s, single_s, size_s = (statistics.median(each[1:]) for each in (plans, singles, sizes))
    how = "processor time, medians of {} and {}, warm"
    return [
        Ratio(
            "profile of 300 mows on 40 lawns, energy and pace", "a bare `statsmodels` mixed model of energy",
            fit_s / reference_s, 1.0, how.format(5, 3), beside(fit_s, reference_s),
        ),
        Ratio("the same", "one second", fit_s, 1.0, how.format(5, 3), beside(fit_s, 1)),
        Ratio(
            "plan of 8 lawns, 500 draws", "a loop of 500 plans of a single draw", plan_s / (500 * single_s),
            None, how.format(3, 3) + ", the loop from one plan", beside(plan_s, 500 * single_s),
        ),
        Ratio("the same", "one second", plan_s, 1.0, how.format(3, 3), beside(plan_s, 1)),
        Ratio(
            "recommended capacity for 3 lawns", "plan of 8 lawns", size_s / plan_s, None, how.format(2, 3),
            beside(size_s, plan_s),
        ),
    ]  # fmt: skip


if __name__ == "__main__":
    from table import show

    show(ratios())
