"""Seasons of mows with a planted truth, made without any of the estimator's models.

All of it is invented. A lawn has a factor of its own, the grass has its effects, a day has its mood; the
power of a mow is made second by second from rows of cutting, turns, thick patches and walks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from estimator.descriptions import Grass, Lawn, Machine
from estimator.fitting.load.mixed_model import MixedFit
from estimator.importer.log import Log, MeterError
from estimator.mow import Mow

VOLTS = 48.0


@dataclass(frozen=True)
class Truth:
    """The planted world; every spread in it is the standard deviation of a logarithm."""

    lawns: tuple[Lawn, ...]
    level: float
    lawn_factor: dict[str, float]
    lawn_pace: dict[str, float]
    damp: float
    wet: float
    per_25_mm: float
    day_spread: float
    mow_spread: float
    pace_m2_min: float
    pace_spread: float
    idle_w: float = 90.0
    thick_per_min: float = 1.0
    thick_height: float = 1.7
    extra: dict[str, float] = field(default_factory=dict)

    def mean_wh(self, lawn: Lawn, grass: Grass) -> float:
        """Median energy [Wh] of a mow."""
        factor = {None: 1.0, "dry": 1.0, "damp": 1 + self.damp, "wet": 1 + self.wet}[grass.moisture]
        grown = 1 + self.per_25_mm * ((grass.growth_mm or 25.0) - 25.0) / 25.0
        return self.level * self.lawn_factor[lawn.name] * factor * max(grown, 0.3) * lawn.area_m2


@dataclass(frozen=True)
class PlantedMow:
    """A mow with the truth behind it."""

    mow: Mow
    energy_wh: float
    minutes: float


def plant(rng: np.random.Generator, lawns: int = 5) -> Truth:
    """A world drawn at random; worlds differ widely in their spreads between lawns, days and mows."""
    many = tuple(Lawn(f"lawn {i + 1}", float(rng.uniform(120, 900))) for i in range(lawns))
    lawn_spread, pace_of_lawns = rng.uniform(0.08, 0.30), rng.uniform(0.05, 0.18)
    return Truth(
        lawns=many,
        level=float(np.exp(rng.normal(np.log(0.32), 0.35))),
        lawn_factor={lawn.name: float(np.exp(rng.normal(0, lawn_spread))) for lawn in many},
        lawn_pace={lawn.name: float(np.exp(rng.normal(0, pace_of_lawns))) for lawn in many},
        damp=float(rng.uniform(0.02, 0.25)),
        wet=float(rng.uniform(0.15, 0.55)),
        per_25_mm=float(rng.uniform(0.1, 0.5)),
        day_spread=float(rng.uniform(0.02, 0.12)),
        mow_spread=float(rng.uniform(0.05, 0.16)),
        pace_m2_min=float(rng.uniform(12, 22)),
        pace_spread=float(rng.uniform(0.04, 0.12)),
    )


def plant_mows(truth: Truth, count: int, rng: np.random.Generator, step_s: float = 1.0) -> list[PlantedMow]:
    """`count` mows in order of time, one to three lawns a day, in grass that changes with the weather."""
    found: list[PlantedMow] = []
    day = datetime(2031, 4, 5, 10, 0)
    while len(found) < count:
        moisture = str(rng.choice(["dry", "damp", "wet"], p=[0.55, 0.28, 0.17]))
        mood = float(rng.normal(0, truth.day_spread))
        for at, i in enumerate(rng.permutation(len(truth.lawns))[: rng.integers(1, 4)]):
            grass = Grass(moisture, float(np.round(rng.gamma(6, 5))))
            found.append(
                plant_mow(truth, truth.lawns[i], grass, rng, mood, day + timedelta(hours=at), step_s)
            )
        day += timedelta(days=int(rng.integers(4, 10)))
    return found[:count]


def plant_mow(
    truth: Truth,
    lawn: Lawn,
    grass: Grass,
    rng: np.random.Generator,
    mood: float,
    started: datetime,
    step_s: float = 1.0,
) -> PlantedMow:
    """One mow with its log."""
    energy = truth.mean_wh(lawn, grass) * float(np.exp(mood + rng.normal(0, truth.mow_spread)))
    pace = truth.pace_m2_min * truth.lawn_pace[lawn.name] * float(np.exp(rng.normal(0, truth.pace_spread)))
    seconds = max(60, round(60 * lawn.area_m2 / pace))
    power = plant_power(truth, seconds, energy, rng)
    keep = np.arange(0, seconds, step_s).astype(int)
    time = np.append(keep.astype(float), float(seconds))
    power = np.append(power[keep], power[-1])
    noise = rng.normal(0, 0.02, time.size)
    readings = pd.DataFrame(
        {"time_s": time, "current_a": power / VOLTS + noise, "voltage_v": np.full(time.size, VOLTS)}
    )
    log = Log(readings, error=MeterError(current_zero_a=0.02), started=started)
    return PlantedMow(Mow(log, lawn, grass, machine=Machine("invented")), energy, seconds / 60)


def plant_power(truth: Truth, seconds: int, energy_wh: float, rng: np.random.Generator) -> np.ndarray:
    """Power [W] second by second with exactly this energy in all."""
    shape = 1 + 0.12 * np.convolve(rng.standard_normal(seconds + 6), np.ones(7) / np.sqrt(7), "valid")
    for _ in range(rng.poisson(truth.thick_per_min * seconds / 60)):
        start = rng.integers(0, seconds)
        shape[start : start + rng.integers(2, 8)] *= truth.thick_height
    cutting = np.ones(seconds, bool)
    for start in range(25, seconds, 32):
        cutting[start : start + 4] = False
    shape = np.where(cutting, np.maximum(shape, 0.2), 0.0)
    mean_w = 3600 * energy_wh / seconds
    idle = min(truth.idle_w, 0.6 * mean_w)
    return np.asarray(idle + shape * (mean_w - idle) / shape.mean())


def coefficient_std(fit: MixedFit) -> np.ndarray:
    """Posterior standard deviation (q,) of fixed effects, then lawn effects."""
    inner = np.einsum("mij,mij->mj", fit.root, fit.root)
    return np.asarray(np.sqrt(fit.weight @ (inner + (fit.mean - fit.coefficients) ** 2)))
