"""From features of mows to figures that can be compared, and a season of mows from files to sentences."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
from yearly_change import yearly_change

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.features import MowFeatures, mow_features
from estimator.fitting.seasons.comparisons import compare_groups
from estimator.fitting.seasons.discharge_curves import DischargeCurve, discharge_curve
from estimator.fitting.seasons.measures import (
    ENERGY,
    IDLE,
    PACE,
    RESISTANCE,
    energy_observed,
    idle_observed,
    pace_observed,
    resistance_observed,
)
from estimator.importer.read import read_log
from estimator.mow import Mow

SAMPLES = Path(__file__).parents[3] / "sample_logs"
DIARY = list(csv.DictReader((SAMPLES / "mows.csv").read_text().splitlines()))
TRUTH = {t["mow"]: t for t in csv.DictReader((SAMPLES / "truth" / "mows.csv").read_text().splitlines())}


@pytest.fixture(scope="module")
def features() -> dict[str, MowFeatures]:
    lawns = {
        each["name"]: Lawn(**each) for each in json.loads((SAMPLES / "orchard.json").read_text())["lawns"]
    }
    found = {}
    for line in DIARY:
        log = read_log(*[SAMPLES / name for name in line["files"].split(";")])
        mow = Mow(
            log,
            lawns[line["lawn"]],
            Grass(line["moisture"], float(line["growth_mm"])),
            temperature_c=float(line["temperature_c"]),
            started=datetime.fromisoformat(line["started"]),
            tags=tuple(line["tags"].split(";")),
        )
        found[line["mow"]] = mow_features(mow)
    return found


def test_figures_are_those_of_the_features(features: dict[str, MowFeatures]) -> None:
    mows = list(features.values())
    energy, pace, idle = energy_observed(mows), pace_observed(mows), idle_observed(mows)
    whole = [mow for mow in mows if mow.whole]
    assert len(pace) == len(whole) <= len(energy) and len(idle) >= len(mows) - 3
    assert energy[0].value == pytest.approx(mows[0].energy_wh / mows[0].area_m2)
    assert pace[0].value == pytest.approx(60 * mows[0].area_m2 / mows[0].motor_s)
    assert energy[0].effects[0] == 1.0 and energy[0].lawn == "apple rows"


def test_a_mow_without_date_or_energy_or_its_whole_lawn_is_left_out(features: dict[str, MowFeatures]) -> None:
    """Once seen: mows that stopped short, with half the energy of their lawn, raised a false alarm. Half of
    energy and time can stand for the energy per area of the whole, less surely, but not for pace."""
    mows = [mow for mow in features.values() if mow.whole][:8]
    undated = [replace(mows[0], started=None), *mows[1:]]
    assert len(energy_observed(undated)) == len(pace_observed(undated)) == 7
    half = replace(
        mows[3], energy_wh=mows[3].energy_wh / 2, motor_s=mows[3].motor_s / 2, tags=("stopped short",)
    )
    short = [*mows[:3], half, *mows[4:]]
    assert [one.place for one in pace_observed(short)] == [0, 1, 2, 4, 5, 6, 7]
    told, whole = energy_observed(short)[3], energy_observed(mows)[3]
    assert told.value == pytest.approx(whole.value, rel=0.15)
    assert told.log_std > whole.log_std
    assert len(energy_observed([half])) == 0
    assert len(idle_observed(short)) == len(idle_observed(mows))


def test_idle_by_hand_is_not_compared_with_idle_in_logs(features: dict[str, MowFeatures]) -> None:
    mows = [mow for mow in features.values() if mow.idle_w][:5]
    some_by_hand = [replace(mow, spot=place in (1, 3)) for place, mow in enumerate(mows)]
    assert [one.place for one in idle_observed(some_by_hand)] == [0, 2, 4]
    most_by_hand = [replace(mow, spot=place != 2) for place, mow in enumerate(mows)]
    assert [one.place for one in idle_observed(most_by_hand)] == [0, 1, 3, 4]


def test_untold_grass_widens_the_mow(features: dict[str, MowFeatures]) -> None:
    one = features["2024-04-13a"]
    told, untold = (
        energy_observed([one])[0],
        energy_observed([replace(one, growth_mm=None, moisture=None)])[0],
    )
    assert untold.log_std == pytest.approx(math.hypot(told.log_std, 0.15, 0.10))


def test_resistance_carries_its_cold() -> None:
    curve = DischargeCurve((0.0, 1.0), (54.0, 52.0), 5.0, 0.13, 0.01, 0.10, 0.002, 0.02, 5.0, 1.0, 0.0)
    seen = resistance_observed([curve], [date(2024, 4, 1)])[0]
    assert seen.value == 0.10
    assert seen.effects[0] == pytest.approx(1000 / 278.15 - 1000 / 298.15)
    assert seen.log_std == pytest.approx(math.hypot(0.02, 2.5 * 1000 / 278.15**2), rel=1e-6)


def test_the_rear_roller_of_the_sample_orchard(features: dict[str, MowFeatures]) -> None:
    """By the generator, 38 W less than about 180 W at a pace slower by 1/11: energy −13 %, pace −9 %."""
    mows = [mow for mow in features.values() if mow.whole]
    groups = ["off" if "rear roller off" in mow.tags else "on" for mow in mows]
    energy = compare_groups(ENERGY, energy_observed(mows), groups).changes[0]
    pace = compare_groups(PACE, pace_observed(mows), groups).changes[0]
    assert energy.earlier == "on" and energy.more_than_noise
    assert energy.low < math.expm1(math.log(142 / 1.0) - math.log(180 / 1.1)) < energy.high
    assert pace.more_than_noise and pace.low < 1 / 1.1 - 1 < pace.high


def test_idle_power_by_season_against_the_generators_own(features: dict[str, MowFeatures]) -> None:
    seen = {name: mow for name, mow in features.items() if mow.idle_w}
    observed, names = idle_observed(list(seen.values())), list(seen)
    found = compare_groups(IDLE, observed, [names[one.place][:4] for one in observed])
    for level in found.groups:
        true_w = np.mean([float(TRUTH[name]["idle_w"]) for name in seen if name.startswith(level.group)])
        assert level.low - 1.5 < true_w < level.high + 1.5


def test_resistance_of_the_sample_packs_rises_as_it_truly_does() -> None:
    for pack in ("green crate", "old box"):
        curves, days, true_ohm = [], [], []
        for line in DIARY:
            if line["pack"] != pack or "notes" in line["files"]:
                continue
            log = read_log(*[SAMPLES / name for name in line["files"].split(";")])
            curves.append(discharge_curve(log, None, float(line["temperature_c"])))
            days.append(date.fromisoformat(line["started"][:10]))
            true_ohm.append(float(TRUTH[line["mow"]]["resistance_10s_ohm"]))
        found = yearly_change(RESISTANCE, resistance_observed(curves, days))
        yearly = (true_ohm[-1] / true_ohm[0]) ** (365.25 / (days[-1] - days[0]).days) - 1
        assert found.low < yearly < found.high
        assert found.first == pytest.approx(true_ohm[0], rel=0.15)
