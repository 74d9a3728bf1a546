"""The pack model's parameters: what each stands for, where its prior comes from, and the curves they make.

The parameter vector holds, in this order,
    1   log of capacity over rated capacity
    14  correction [V] of one cell's published open-circuit curve: coefficients of cubic B-splines over charge
    21  log of resistance [ohm of the pack, 25 °C]: ohmic, quick pair, slow pair, each at seven charges
    1   activation temperature [1000 K] of the resistances (Arrhenius)
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from estimator.descriptions import Pack
from estimator.fitting.ocv import GRID

Array = NDArray[np.float64]

PAIR_S = (15.0, 250.0)
"""Time constants [s] of the two resistor-capacitor pairs: charge transfer with near diffusion, and slow diffusion."""

RESISTANCE_AT = np.array([0.0, 0.05, 0.10, 0.20, 0.40, 0.70, 1.0])
_RISE_NEAR_EMPTY = np.array([2.2, 1.6, 1.35, 1.1, 1.0, 1.0, 1.0])

N_CURVE = 14
N_AT = len(RESISTANCE_AT)
N_RESISTANCE = (1 + len(PAIR_S)) * N_AT
CAPACITY = 0
CURVE = slice(1, 1 + N_CURVE)
RESISTANCE = slice(1 + N_CURVE, 1 + N_CURVE + N_RESISTANCE)
ACTIVATION = 1 + N_CURVE + N_RESISTANCE
N_PARAMETERS = ACTIVATION + 1
STANDARD_K = 298.15

# One-hour-rate sag [V per cell] of ohmic part, quick pair, slow pair: common practice, from data sheets.
_SAG_AT_1C = {
    "nmc": (0.07, 0.02, 0.04),
    "nca": (0.07, 0.02, 0.04),
    "lco": (0.07, 0.02, 0.04),
    "lfp": (0.05, 0.015, 0.03),
    "lead_acid": (0.06, 0.02, 0.05),
}


@cache
def curve_basis() -> Array:
    """(grid, 14) cubic B-splines over charge, narrow towards empty and full where open-circuit curves bend."""
    inner = np.array([0.03, 0.07, 0.13, 0.22, 0.34, 0.48, 0.62, 0.75, 0.86, 0.94])
    knots = np.concatenate([[0.0] * 4, inner, [1.0] * 4])
    return np.asarray(BSpline.design_matrix(np.clip(GRID, 0.0, 1.0), knots, 3).toarray())


@cache
def resistance_basis() -> Array:
    """(grid, 7) hat functions that join the resistances' logarithms by straight lines."""
    return np.stack([np.interp(GRID, RESISTANCE_AT, row) for row in np.eye(N_AT)], axis=1)


def arrhenius(temperature_c: Array | float, activation_kk: Array | float) -> Array:
    """Resistance at `temperature_c` [°C] over that at 25 °C, for an activation temperature [1000 K].

    >>> float(arrhenius(25.0, 3.0)), round(float(arrhenius(0.0, 3.0)), 3)
    (1.0, 2.512)
    """
    inverse = 1000.0 / (np.asarray(temperature_c, float) + 273.15) - 1000.0 / STANDARD_K
    return np.asarray(np.exp(np.asarray(activation_kk) * inverse))


def prior_mean(pack: Pack) -> Array:
    """(parameters,) what is believed of a pack before any log."""
    mean = np.zeros(N_PARAMETERS)
    mean[CAPACITY] = -0.03
    sag = np.array(_SAG_AT_1C[pack.chemistry]) * pack.series / pack.capacity_ah
    if pack.resistance_ohm is not None:
        sag = sag * (pack.resistance_ohm / (sag[0] + sag[1]))
    mean[RESISTANCE] = (np.log(sag)[:, None] + np.log(_RISE_NEAR_EMPTY)[None, :]).ravel()
    mean[ACTIVATION] = 3.0
    return mean


def prior_covariance(pack: Pack) -> Array:
    """(parameters, parameters) covariance of the prior.

    Capacity 10 % of rated; open-circuit curve 40 mV, smooth over charge and looser at the ends; resistance a factor
    of 1.6 (1.2 where the user knows it), its shape over charge by 25 %; activation 3000 +- 1000 K, which is
    25 +- 8 kJ/mol. All common practice.
    """
    cov = np.zeros((N_PARAMETERS, N_PARAMETERS))
    cov[CAPACITY, CAPACITY] = 0.10**2
    centre = np.array([0, 0.01, 0.033, 0.077, 0.14, 0.23, 0.347, 0.48, 0.617, 0.743, 0.85, 0.933, 0.98, 1.0])
    width = np.where(centre < 0.05, 0.12, np.where(centre > 0.9, 0.06, 0.04))
    if pack.chemistry in ("lfp", "lead_acid"):
        width = np.where(centre < 0.05, 0.12, np.where(centre > 0.95, 0.06, 0.02))
    apart = np.abs(centre[:, None] - centre[None, :])
    cov[CURVE, CURVE] = np.outer(width, width) * np.exp(-apart / 0.25)
    steps = np.array([0.5, 0.35, 0.3, 0.25, 0.2, 0.2])
    # walk away from the middle node (0.4), so that the level there is the resistance's own
    walk = np.zeros((N_AT, N_AT))
    for i in range(4):
        walk[: i + 1, i] = steps[i]
    for i in range(5, N_AT):
        walk[i:, i] = steps[i - 1]
    shape = walk @ walk.T
    one_level = 0.2 if pack.resistance_ohm is not None else 0.45
    n = 1 + len(PAIR_S)
    level = np.full((n, n), one_level**2) + np.eye(n) * 0.4**2
    cov[RESISTANCE, RESISTANCE] = np.kron(level, np.ones((N_AT, N_AT))) + np.kron(np.eye(n), shape)
    cov[ACTIVATION, ACTIVATION] = 1.0
    return cov
