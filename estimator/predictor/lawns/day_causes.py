"""What is not known of a day and of its pack: its temperature, and what makes it uncertain what is left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from estimator.fitting.load.mow_needs import MowNeeds
from estimator.fitting.load.profile import LoadProfile
from estimator.fitting.pack.log_grid import ASSUMED_C
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.predictor.lawns.day import DayRun

Array = NDArray[np.float64]


def day_temperature(
    profile: LoadProfile, temperature_c: float | None, n: int, rng: np.random.Generator
) -> Array:
    """Temperature (n,) [°C] of the air and of the pack at the start: as told, else that of a past mow each.

    Where no mow tells one it is the 25 °C at which their packs were taken to be.
    """
    seen = [one.temperature_c for one in profile.loads if one.temperature_c is not None]
    if temperature_c is not None:
        return np.full(n, float(temperature_c))
    return rng.choice(np.array(seen or [ASSUMED_C]), n)


def left_over(run: DayRun, needs: MowNeeds) -> Array:
    """What is left (n,) at the end of the day: share of the charge, or minus the share of energy missing."""
    missing = run.delivered_wh / np.maximum(needs.energy_wh.sum(1), 1e-9) - 1
    return np.where(run.finished[:, -1], run.charge_end, np.minimum(missing, 0.0))


def pack_causes(draws: PackDraws) -> dict[str, Array]:
    """What is not known of the pack, (n,) or (n, k) each."""
    near_empty, half = np.searchsorted(GRID, [0.1, 0.5])
    return {
        "capacity": draws.capacity_ah,
        "resistance": draws.tables[:, half, 1:].sum(1).astype(float),
        "open-circuit curve": draws.tables[:, near_empty, 0].astype(float),
        "temperature": draws.temperature_c,
    }
