"""Whole days and endless mowing drawn from a profile, in the form that tests look at."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Grass, Lawn
from estimator.fitting.load.load_draws import MowDraws, coming_power, lay_out
from estimator.fitting.load.mow_needs import draw_needs
from estimator.fitting.load.profile import LoadProfile


def draw_mows(
    profile: LoadProfile,
    lawns: Sequence[Lawn],
    grasses: Sequence[Grass],
    n: int,
    rng: np.random.Generator,
    step_s: float = 1.0,
) -> MowDraws:
    """Draw n days, on each of which the lawns are mown one after another."""
    return lay_out(profile, lawns, grasses, draw_needs(profile, lawns, grasses, n, rng), rng, step_s)


def draw_power(
    profile: LoadProfile,
    n: int,
    seconds: float,
    rng: np.random.Generator,
    lawn: Lawn | None = None,
    grass: Grass | None = None,
    step_s: float = 1.0,
) -> NDArray[np.float32]:
    """Draw endless mowing of a lawn (None: of any that was seen): power [W], (n, k) at steps of step_s."""
    return np.concatenate(list(coming_power(profile, n, seconds, rng, lawn, grass, step_s)), axis=1)
