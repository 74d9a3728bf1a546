"""Mowing that never happened: the power that it takes, step by step.

Turning blades take power, and so does the rear roller while it turns. Cutting takes energy per area, which
grows with the height cut off, with moisture, with blunt blades and with dense grass. A lawn is mown strip by
strip, with a turn after each, a stop to empty the box, and thick patches at random.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP_S = 0.5
MOISTURE = {"dry": 1.0, "damp": 1.16, "wet": 1.38}
SWARD = {"chapel strip": 0.94, "apple rows": 1.0, "far meadow": 1.12}
AREA_M2 = {"chapel strip": 260.0, "apple rows": 420.0, "far meadow": 900.0}
SWATH_M = 0.39
STANDBY_W = 1.5


@dataclass(frozen=True)
class Outing:
    """The power of one mow, how long it was quiet before, and the idle power that it was made with."""

    power_w: np.ndarray
    quiet_s: float
    idle_w: float
    cut_j_m2: float


def outing(
    lawn: str, moisture: str, growth_mm: float, blunt_days: int, rear_roller: bool, rng: np.random.Generator
) -> Outing:
    """The power of mowing one lawn, every `STEP_S` [s]; growth [mm] is what is cut off."""
    area = AREA_M2[lawn]
    blunt = 1.0 + 0.24 * min(blunt_days, 420) / 420.0
    idle_w = 58.0 * (1.0 + 0.10 * min(blunt_days, 420) / 420.0) * np.exp(0.03 * rng.standard_normal())
    roller_w = 38.0 if rear_roller else 0.0
    pace = (
        (1.10 if rear_roller else 1.0)
        * (1.0 - 0.004 * (growth_mm - 20.0))
        * np.exp(0.03 * rng.standard_normal())
    )
    cut_j_m2 = (
        10.5
        * (growth_mm + 3.0)
        * MOISTURE[moisture]
        * SWARD[lawn]
        * blunt
        * np.exp(0.06 * rng.standard_normal())
    )
    long_side = np.sqrt(1.6 * area)
    strips = int(np.ceil(area / (long_side * SWATH_M)))

    parts: list[np.ndarray] = []
    quiet_s = float(rng.integers(25, 70))
    parts.append(np.full(int(quiet_s / STEP_S), STANDBY_W))
    spin = np.arange(0, 4.0, STEP_S)
    parts.append(idle_w + 330.0 * np.exp(-spin / 0.9))
    parts.append(np.full(int(rng.integers(6, 16) / STEP_S), idle_w))
    since_box = 0.0
    thick = 0.0
    for _ in range(strips):
        n = int(long_side * rng.uniform(0.9, 1.1) / pace / STEP_S)
        density = np.empty(n)
        for i, kick in enumerate(rng.standard_normal(n)):
            thick = 0.93 * thick + 0.055 * kick
            density[i] = thick
        sward = np.exp(density - 0.5 * 0.15**2)
        for _ in range(rng.poisson(n * STEP_S / 45.0)):
            at, length = rng.integers(0, n), int(rng.integers(2, 9) / STEP_S)
            sward[at : at + length] *= rng.uniform(1.5, 2.6)
        parts.append(np.minimum(idle_w + roller_w + cut_j_m2 * SWATH_M * pace * sward, 640.0))
        parts.append(idle_w + 0.6 * roller_w * rng.uniform(0.3, 1.2, int(rng.integers(4, 8) / STEP_S)))
        since_box += long_side * SWATH_M * (growth_mm + 3.0)
        if since_box > 2600.0:
            since_box = 0.0
            parts.append(np.full(int(rng.integers(15, 35) / STEP_S), idle_w))
    quiet_after = int(rng.integers(45, 110) / STEP_S)
    power = np.concatenate(parts)
    flutter = 1.0 + 0.02 * rng.standard_normal(len(power))
    power = np.where(power > 10.0, power * flutter, power)
    return Outing(np.r_[power, np.full(quiet_after, STANDBY_W)], quiet_s, float(idle_w), float(cut_j_m2))
