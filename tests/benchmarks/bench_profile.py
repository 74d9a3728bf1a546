"""Calibration and speed of the load profile, lawns per charge and recommended capacity.

    python tests/benchmarks/bench_profile.py [energy] [odds] [capacity] [by_hand] [speed]

Every season is invented by `tests/planted/planted_mows.py`, which knows none of the estimator's models. Times
are given beside references measured in the same run.
"""

from __future__ import annotations

import statistics
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "planted"))

from hand_read_mows import many, noted, planted_pack
from planted_mows import Truth, plant, plant_mow, plant_mows
from ratio import Ratio, all_seconds, beside

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
from estimator.fitting.load.features import mow_features
from estimator.fitting.load.load_draws import MowDraws
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import LoadProfile, fit_profile
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.importer.by_hand.spot_notes import log_from_spot
from estimator.mow import Mow
from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
from estimator.predictor.simulation.simulation import simulate
from estimator.predictor.sizing.need import Day, limits_of, smallest_times
from estimator.predictor.sizing.recommend import recommend_capacity

SEASONS = 30
PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, resistance_ohm=0.15)


def season(seed: int, mows: int, lawns: int = 5, step_s: float = 2.0) -> tuple[Truth, LoadProfile]:
    """A new world and the profile that so many of its mows give."""
    rng = np.random.default_rng(seed)
    truth = plant(rng, lawns)
    return truth, fit_profile([mow_features(one.mow) for one in plant_mows(truth, mows, rng, step_s)])


def planted_days(
    truth: Truth, lawns: tuple[Lawn, ...], grass: Grass, days: int, rng: np.random.Generator
) -> MowDraws:
    """Days as the planted world has them: power at one-second steps of all lawns in a row."""
    rows, ends, energies = [], [], []
    for _ in range(days):
        mood = float(rng.normal(0, truth.day_spread))
        mows = [plant_mow(truth, lawn, grass, rng, mood, datetime(2031, 7, 1)) for lawn in lawns]
        logs = [one.mow.log.readings for one in mows]
        power = [np.asarray(log["current_a"] * log["voltage_v"])[:-1] for log in logs]
        rows.append(np.concatenate(power))
        ends.append(np.cumsum([one.size for one in power]))
        energies.append([one.energy_wh for one in mows])
    table = np.zeros((days, max(row.size for row in rows)))
    for line, row in zip(table, rows, strict=True):
        line[: row.size] = np.maximum(row, 0.0)
    return MowDraws(table, np.array(ends, float), np.array(energies), 1.0)


def energy() -> None:
    """Coverage of the 90 % band of energy per mow, and the median miss against two simple ways."""
    print("energy per mow: mows, band held (wanted 0.85-0.96), minutes held, miss, over last time, over mean")
    for mows in (1, 3, 10, 40):
        held, minutes, miss, last, mean = [], [], [], [], []
        for seed in range(SEASONS):
            rng = np.random.default_rng(10_000 * mows + seed)
            truth = plant(rng)
            planted = plant_mows(truth, mows + 20, rng, 2.0)
            features = [mow_features(one.mow) for one in planted[:mows]]
            profile = fit_profile(features)
            for one in planted[mows:]:
                needs = draw_needs(profile, [one.mow.lawn], [one.mow.grass], 1000, rng)
                low, middle, high = np.quantile(needs.energy_wh, [0.05, 0.5, 0.95])
                held.append(low <= one.energy_wh <= high)
                first, final = np.quantile(needs.motor_s / 60, [0.05, 0.95])
                minutes.append(first <= one.minutes <= final)
                miss.append(abs(middle / one.energy_wh - 1))
                before = [each for each in features if each.lawn == one.mow.lawn.name] or features
                last.append(abs(before[-1].energy_per_area() * one.mow.lawn.area_m2 / one.energy_wh - 1))
                per_area = np.mean([each.energy_per_area() for each in features])
                mean.append(abs(per_area * one.mow.lawn.area_m2 / one.energy_wh - 1))
        print(
            f"  {mows:3d}  {np.mean(held):.3f}  {np.mean(minutes):.3f}  {np.median(miss):.3f}"
            f"  {np.median(miss) / np.median(last):.2f}  {np.median(miss) / np.median(mean):.2f}",
            flush=True,
        )


def odds(days: int = 16) -> None:
    """Finish odds against what then happens on planted days with a pack drawn from the same description."""
    said, came = [], []
    for seed in range(SEASONS):
        mows = (3, 10, 40)[seed % 3]
        truth, profile = season(500 + seed, mows)
        rng = np.random.default_rng(900 + seed)
        lawns = truth.lawns[:4]
        grass = Grass(str(rng.choice(["dry", "damp", "wet"])), float(rng.integers(10, 60)))
        needed = sum(truth.mean_wh(lawn, grass) for lawn in lawns) / 48
        load = planted_days(truth, lawns, grass, days, rng)
        for share in (0.6, 1.0, 1.5):
            pack = replace(PACK, capacity_ah=needed * share, resistance_ohm=1.5 / (needed * share))
            answer = lawns_per_charge(profile, pack, lawns, grass, draws=300, seed=seed)
            ends = simulate(draw_pack(pack, days, rng), load.power_w, 1.0, cut_off_v=39.0, hold_s=1.0)
            finished = load.end_s <= ends.end_s[:, None]
            said.append(np.tile(answer.odds, (days, 1)).ravel())
            came.append(finished.ravel())
    all_said, all_came = np.concatenate(said), np.concatenate(came)
    print("finish odds: bin, cases, said, came (wanted within 0.07)")
    for low in (0.0, 0.2, 0.4, 0.6, 0.8):
        here = (all_said >= low) & ((all_said < low + 0.2) | (low == 0.8))
        said_here, came_here = all_said[here].mean(), all_came[here].mean()
        print(
            f"  {low:.1f}-{low + 0.2:.1f}  {here.sum():5d}  {said_here:.3f}  {came_here:.3f}"
            f"  {came_here - said_here:+.3f}"
        )


def capacity(days: int = 300) -> None:
    """Recommended capacity at 40 mows against the exact need of the planted world, the pack known well."""
    known = as_fitted(PACK)
    known = replace(known, covariance=1e-4 * known.covariance, logs=20)
    ratios, certainty = [], []
    for seed in range(SEASONS):
        truth, profile = season(700 + seed, 40)
        lawns, grass = truth.lawns[:2], Grass("damp", 30)
        answer = recommend_capacity(profile, known, lawns, grass, sure=0.95, seed=seed)
        rng = np.random.default_rng(seed)
        load = planted_days(truth, lawns, grass, days, rng)
        old = draw_pack(known, days, rng).aged(0.8, 1.5).at_temperature(10.0)
        least = load.energy_wh.sum(1) / 52 / 0.9 / 0.8 / PACK.capacity_ah
        day, limits = Day(load, PACK.hold_s), limits_of(PACK, 0.1)
        need = PACK.capacity_ah * smallest_times(old, day, limits, least, 1.5, 7)
        ratios.append(answer.capacity_ah / float(np.quantile(need, 0.95)))
        certainty.append(float((need <= answer.capacity_ah).mean()))
        print(
            f"  season {seed + 1}: {ratios[-1]:.3f} of the exact need, {certainty[-1]:.3f} of days finish",
            flush=True,
        )
    within = np.mean(np.abs(np.array(ratios) - 1) < 0.1)
    print(
        f"capacity over exact need: median {np.median(ratios):.3f}, within 10 % in {within:.2f} of seasons,"
    )
    print(f"  5th to 95th of seasons {np.quantile(ratios, 0.05):.3f} to {np.quantile(ratios, 0.95):.3f}")
    print(f"certainty that then held, asked 0.95: mean {np.mean(certainty):.3f}, least {min(certainty):.3f}")


def by_hand(days: int = 120) -> None:
    """Recommended capacity from one mow by hand, the pack known by its label, against what then happens.

    The exact need is that of the planted lawn on the planted pack, old and cold, found by halving.
    """
    over, certainty = [], []
    for seed in range(SEASONS):
        rng = np.random.default_rng(40_000 + seed)
        truth = plant(rng, 1)
        lawn, grass = (
            truth.lawns[0],
            Grass(str(rng.choice(["dry", "damp", "wet"])), float(rng.integers(10, 50))),
        )
        label_ah = max(4.0, round(truth.mean_wh(lawn, grass) / 48 / rng.uniform(0.2, 0.5)))
        label = Pack("nmc", 13, label_ah, 39.0)
        pack = planted_pack(label, rng)
        notes = noted(truth, lawn, grass, pack, rng)
        mow = Mow(log_from_spot(notes), lawn, grass, pack=label)
        known = learn_by_hand(label, notes)
        answer = recommend_capacity(fit_profile([mow]), known, [lawn], grass, sure=0.95, seed=seed)
        power = planted_days(truth, (lawn,), grass, days, rng).power_w
        old = many(pack, days).aged(0.8, 1.5).at_temperature(10.0)

        def finish(times: float, old: PackDraws = old, power: np.ndarray = power) -> float:
            ends = simulate(old, power / times, 1.0, cut_off_v=39.0, hold_s=1.0, reserve_charge=0.1)
            return float(np.isinf(ends.end_s).mean())

        least, most = 0.2, 8.0
        while most > 1.005 * least:
            middle = float(np.sqrt(least * most))
            least, most = (least, middle) if finish(middle) >= 0.95 else (middle, most)
        over.append(answer.capacity_ah / (most * label_ah))
        certainty.append(finish(answer.capacity_ah / label_ah))
    print("one mow by hand, pack by its label: capacity over exact need, 5th, median, 95th of worlds")
    print("  " + "  ".join(f"{value:.2f}" for value in np.quantile(over, [0.05, 0.5, 0.95])))
    print(f"certainty that then held, asked 0.95: mean {np.mean(certainty):.3f}, least {min(certainty):.3f}")


def ratios() -> list[Ratio]:
    """Fit of 40 lawns and 300 mows beside statsmodels; a plan of 8 lawns beside a loop of single draws."""
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
    wanted = sys.argv[1:] or ["energy", "odds", "capacity", "by_hand", "speed"]
    for study in (energy, odds, capacity, by_hand):
        if study.__name__ in wanted:
            study()
    if "speed" in wanted:
        from table import show

        show(ratios())
