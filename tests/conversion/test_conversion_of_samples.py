"""Loads from the invented orchard's logs, compared with what its generator wrote down as true."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from estimator.conversion.load_trace import LoadTrace, trace_from_features, trace_from_log
from estimator.conversion.motor import motor_load
from estimator.descriptions import Lawn
from estimator.fitting.load.features import mow_features
from estimator.importer.read import read_log
from estimator.mow import Mow

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
MOWS = ("2024-04-13a", "2024-06-08a", "2024-10-12a", "2025-05-17b", "2025-07-05a", "2025-08-30a")


@cache
def load(mow: str) -> LoadTrace:
    return trace_from_log(read_log(SAMPLES / f"{mow}.csv"))


@cache
def truth() -> dict[str, dict[str, str]]:
    with (SAMPLES / "truth" / "mows.csv").open(encoding="utf-8", newline="") as file:
        return {row["mow"]: row for row in csv.DictReader(file)}


@pytest.mark.parametrize("mow", MOWS)
def test_energy_and_charge_are_those_that_the_pack_gave(mow: str) -> None:
    """The orchard's clamp is good to 1 % with a zero error of 0.1 A, most of which is subtracted."""
    assert load(mow).wh == pytest.approx(float(truth()[mow]["used_wh"]), rel=0.04)
    assert load(mow).ah == pytest.approx(float(truth()[mow]["used_ah"]), rel=0.04)


@pytest.mark.parametrize("mow", MOWS)
def test_idle_power_is_found_in_the_mow(mow: str) -> None:
    known = mow_features(Mow(read_log(SAMPLES / f"{mow}.csv"), Lawn("any", area_m2=300.0)))
    idle = motor_load([trace_from_features(known)]).idle_w
    assert idle is not None and idle.value == pytest.approx(float(truth()[mow]["idle_w"]), rel=0.15)


@pytest.mark.parametrize("mow", MOWS)
def test_minutes_of_running_are_those_of_the_mow(mow: str) -> None:
    running = load(mow).running().sum() * load(mow).step_s / 60
    assert running == pytest.approx(float(truth()[mow]["mowing_minutes"]), rel=0.05)
