"""The pack model's parameters: what each stands for, where its prior comes from, and the curves they make.

The parameter vector holds, in this order ("log" stands for logarithm),
    CAPACITY     log of capacity over rated capacity
    CURVE        14 departures [V] of one cell's open-circuit curve from its family: coefficients of cubic
                 B-splines
    OHMIC, QUICK 7 + 7 logs of resistance [ohm of the pack, 25 °C] at seven charges: ohmic part, quick pair
    LAG          4 logs of the diffusion lag [s] at half charge, one for each time constant of `circuit.LAG_S`
    LAG_SHAPE    3 logs of the lag when empty, nearly empty and full, over that at half charge
    ACTIVATION   3 activation temperatures [1000 K] (Arrhenius): of the resistances, of the lag, and of the
                 charge transfer
    TRANSFER     logit of the charge transfer's share in the ohmic part at 25 °C and small currents
    PEUKERT      log of (Peukert's exponent − 1); for lead-acid only
    SLOW         log of the slow pair's resistance over the quick pair's
    METER_ZERO   zero error that all logs of the pack share, in units of the meter's stated zero uncertainty
    FAMILY       9 shares of the curves by which the cells of a family differ, standard normal: how their
                 electrodes are made, balanced and aged
"""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting.pack.circuit import LAG_S
from estimator.fitting.pack.open_circuit import GRID, N_MODES, cubic_basis

Array = NDArray[np.float64]

RESISTANCE_AT = np.array([0.0, 0.05, 0.10, 0.20, 0.40, 0.70, 1.0])
LAG_AT = np.array([0.0, 0.15, 0.50, 1.0])
"""Charges at which resistances and lag are given; they are closer near empty, where both change most."""
_HALF = 2  # place of 0.50 in `LAG_AT`, where the shape of the lag is 1
_OHMIC_RISE = np.array([1.6, 1.3, 1.15, 1.05, 1.0, 1.0, 1.0])
_QUICK_RISE = np.array([2.8, 2.2, 1.7, 1.35, 1.0, 1.0, 1.0])
"""Near empty the surface runs out of charge to exchange: the quick pair more than doubles there, and the
ohmic part rises to 1.6 times (common practice: tables of pulse tests; with these, four measured and seven
simulated cells were fitted with a higher likelihood than with a flat resistance)."""

N_CURVE, N_AT, N_LAG = 14, len(RESISTANCE_AT), len(LAG_S)
CAPACITY = 0  # places of the parameters in every mean and covariance, from here on
CURVE = slice(1, 1 + N_CURVE)
OHMIC = slice(CURVE.stop, CURVE.stop + N_AT)
QUICK = slice(OHMIC.stop, OHMIC.stop + N_AT)
LAG = slice(QUICK.stop, QUICK.stop + N_LAG)
LAG_SHAPE = slice(LAG.stop, LAG.stop + len(LAG_AT) - 1)
ACTIVATION_OHM, ACTIVATION_LAG, ACTIVATION_TRANSFER, TRANSFER, PEUKERT, SLOW = range(
    LAG_SHAPE.stop, LAG_SHAPE.stop + 6
)
ACTIVATIONS = [ACTIVATION_OHM, ACTIVATION_LAG, ACTIVATION_TRANSFER]
METER_ZERO = SLOW + 1  # place of the clamp's zero
FAMILY = slice(METER_ZERO + 1, METER_ZERO + 1 + N_MODES)
N_PARAMETERS = FAMILY.stop

LABEL_STD = 0.07
"""Standard uncertainty of a label: nine cells in ten lie within some 11 % of theirs, above it when new, below
it after years of use (common practice)."""

GUESS_STD = 0.30
"""The same of a guess: nine in ten lie within a factor of 1.6, so that one off by a third, up or down, is
nothing unusual (common practice)."""

FADE_A_YEAR, FADE_STD = 0.025, 0.6
"""Share of its capacity that a pack loses in a year, and the standard uncertainty of the whole loss relative
to it: home storage systems lost 2 to 3 % in each of up to eight years (Figgener et al. 2024, Nature Energy 9,
1438, as quoted by others) and differ this much by make, use and warmth (common practice)."""

RESIDUAL_V = 0.010
"""Freely balanced half-cell curves leave 7 to 10 mV of measured slow discharges unexplained."""

STANDARD_K = 298.15
"""25 °C."""

CURVE_AT = np.array([0, 0.01, 0.033, 0.077, 0.14, 0.23, 0.347, 0.48, 0.617, 0.743, 0.85, 0.933, 0.98, 1.0])
"""Charges at the middles of the curve's splines."""

# One-hour-rate sag [V per cell] of ohmic part and quick pair: common practice, from data sheets.
_SAG_AT_1C = {
    "nmc": (0.08, 0.02),
    "nca": (0.08, 0.02),
    "lco": (0.08, 0.02),
    "lfp": (0.05, 0.02),
    "lithium": (0.08, 0.02),
    "lead_acid": (0.06, 0.03),
}
_TRANSFER_SHARE = 0.25
"""Share of charge transfer in the ohmic part at 25 °C (common practice: .25 to .5 in impedance spectra)."""
# Whole lag [s]: particle radius² / (15 · diffusivity); for Chen et al. 2020 (5.22 µm)²/(15 · 4e-15 m²/s) =
# 454 s in the positive and 69 s in the negative electrode, less in power cells (common practice), which such
# packs are made of. Each mode of a sphere takes part in proportion to its time constant, but the shorter ones
# crowd: each time constant of `LAG_S` stands for so many of them that its part goes as its square root
# (Warburg's law), up to the slowest. For lead-acid only the low-passed rate is used.
_LAG_S = {"nmc": 100.0, "nca": 100.0, "lco": 60.0, "lfp": 60.0, "lithium": 90.0, "lead_acid": 250.0}

_PEUKERT, _PEUKERT_LOG_STD = 0.175, 0.28
"""Peukert's exponent minus one, and the standard deviation of the logarithm of that: with `END_ERROR_LAW`
nine in ten lie between 0.107 and 0.287. Of 29 blocks five lie below and none above: 18 gel and flooded ones,
0.10 to 0.28, from their makers' 20 h charge and minutes at 25 A, as a battery monitor's manual lists them;
one at 75 A, 0.20; and ten of pure lead, 0.08 to 0.18, from their maker's table down to one hour."""
_ACID_KK, _ACID_KK_STD = np.array([1.5, 5.2]), np.array([0.4, 0.6])
"""Activation temperatures [1000 K] of lead-acid: of the resistances, since acid conducts 1.6 % better a
kelvin (from memory); of the lag, so that at a rate of half the 20 h charge an hour, down to 1.75 V a cell,
the cold costs as much as IEEE 485, table 1, says (1.19 times the cells at 10 °C, 1.30 times at 4.4 °C)."""


@cache
def curve_basis() -> Array:
    """(grid, 14) cubic B-splines over charge, narrow towards empty and full where the curves bend."""
    inner = np.array([0.03, 0.07, 0.13, 0.22, 0.34, 0.48, 0.62, 0.75, 0.86, 0.94])
    knots = np.concatenate([[0.0] * 4, inner, [1.0] * 4])
    return cubic_basis(np.clip(GRID, 0.0, 1.0), knots)


@cache
def resistance_basis() -> Array:
    """(grid, 7) hat functions, which join the logarithms of the resistances by straight lines."""
    return np.stack([np.interp(GRID, RESISTANCE_AT, row) for row in np.eye(N_AT)], axis=1)


def resistance_table(parameters: Array) -> tuple[Array, Array]:
    """Ohmic and quick resistance, (grid,) each [ohm, pack, 25 °C], over the model's charge grid."""
    basis = resistance_basis()
    return np.exp(basis @ parameters[OHMIC]), np.exp(basis @ parameters[QUICK])


def half_full_ohm(parameters: Array) -> float:
    """Resistance [ohm, pack, 25 °C] at half charge, ohmic and quick together."""
    return float(sum(np.exp(np.interp(0.5, RESISTANCE_AT, parameters[part])) for part in (OHMIC, QUICK)))


@cache
def lag_basis() -> Array:
    """(grid, 3) hat functions, which join the lag's logarithms by straight lines; none for half charge."""
    hats = [np.interp(GRID, LAG_AT, row) for row in np.eye(len(LAG_AT))]
    return np.stack(hats[:_HALF] + hats[_HALF + 1 :], axis=1)


def arrhenius(
    temperature_c: NDArray[np.floating] | float, activation_kk: NDArray[np.floating] | float
) -> Array:
    """Resistance at `temperature_c` [°C] over that at 25 °C, for an activation temperature [1000 K].

    >>> float(arrhenius(25.0, 3.0)), round(float(arrhenius(0.0, 3.0)), 3)
    (1.0, 2.512)
    """
    inverse = 1000.0 / (np.asarray(temperature_c, float) + 273.15) - 1000.0 / STANDARD_K
    return np.asarray(np.exp(np.asarray(activation_kk) * inverse))


def prior_mean(pack: Pack) -> Array:
    """(parameters,) mean of the belief about a pack before any log."""
    mean = np.zeros(N_PARAMETERS)
    sag = np.array(_SAG_AT_1C[pack.chemistry]) * pack.series / pack.capacity_ah
    if pack.resistance_ohm is not None:
        sag = sag * (pack.resistance_ohm / sag.sum())
    mean[OHMIC] = np.log(sag[0]) + np.log(_OHMIC_RISE)
    quick_rise = _OHMIC_RISE if pack.chemistry == "lead_acid" else _QUICK_RISE
    mean[QUICK] = np.log(sag[1]) + np.log(quick_rise)
    part = np.sqrt(np.minimum(LAG_S, 300.0))
    mean[LAG] = np.log(_LAG_S[pack.chemistry] * part / part.sum())
    mean[ACTIVATION_OHM] = 2.3
    mean[ACTIVATION_TRANSFER] = 6.0
    mean[TRANSFER] = np.log(_TRANSFER_SHARE / (1.0 - _TRANSFER_SHARE))
    mean[ACTIVATION_LAG] = 3.0
    mean[PEUKERT] = np.log(_PEUKERT)
    if pack.chemistry == "lead_acid":
        mean[[ACTIVATION_OHM, ACTIVATION_LAG]] = _ACID_KK
    mean[SLOW] = np.log(0.15)
    return mean


def label_std(pack: Pack) -> float:
    """Standard uncertainty of the logarithm of capacity over what label or guess says."""
    return GUESS_STD if pack.capacity_guessed else LABEL_STD


def capacity_by_label(pack: Pack, day: date | None) -> tuple[float, float]:
    """Logarithm of capacity over label on a day, and its standard uncertainty, by label and age alone.

    >>> old = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0, first_year=2021)
    >>> [round(each, 3) for each in capacity_by_label(old, date(2025, 7, 1))]
    [-0.1, 0.092]
    """
    if pack.first_year is None or day is None:
        return 0.0, label_std(pack)
    fade = FADE_A_YEAR * max((day - date(int(pack.first_year), 7, 1)).days / 365.25, 0.0)
    return -fade, float(np.hypot(label_std(pack), FADE_STD * fade))


def prior_covariance(pack: Pack) -> Array:
    """(parameters, parameters) covariance of the prior; all common practice where no source is named.

    Capacity: 7 % of its label, 30 % of a guess, by which the resistance is doubted too. Open-circuit curve:
    that of the family, and another 10 mV (lead-acid 20 mV), smooth over charge and looser near empty, since
    no cell follows its family exactly. Resistance: a factor of 1.4 (1.25 where the user knows it), since
    cells sold for such packs sag by 0.05 to 0.15 V at the one-hour rate; its shape over charge about 25 %.
    Lag: a factor of 2. Activation: 2300 ± 700 K (19 ± 6 kJ/mol) of the resistances, ± 1000 K of the lag, 6000
    ± 1200 K (50 ± 10 kJ/mol) of the charge transfer. Peukert's exponent: 1.1 to 1.3. Slow pair: 0.05 to 0.5
    of the quick one, more where logs show it.
    """
    cov = np.zeros((N_PARAMETERS, N_PARAMETERS))
    cov[CAPACITY, CAPACITY] = LABEL_STD**2
    cov[FAMILY, FAMILY] = np.eye(N_MODES)
    width = np.interp(CURVE_AT, [0, 0.01, 0.033, 0.077, 0.15, 0.9, 1], [1.5, 2.0, 2.0, 1.5, 1.0, 1.0, 1.5])
    width = width * (2.0 if pack.chemistry == "lead_acid" else 1.0) * RESIDUAL_V
    apart = np.abs(CURVE_AT[:, None] - CURVE_AT[None, :])
    cov[CURVE, CURVE] = np.outer(width, width) * (np.exp(-apart / 0.25) + np.exp(-apart / 0.08)) / 2
    level = 0.22 if pack.resistance_ohm is not None else 0.35
    shape = _walk_from(4, np.array([0.35, 0.3, 0.25, 0.2, 0.15, 0.15]))
    cov[OHMIC, OHMIC] = level**2 + shape
    cov[QUICK, QUICK] = 0.35**2 + shape
    cov[LAG, LAG] = 0.5**2 + np.eye(N_LAG) * 0.6**2
    empty_half_full = _walk_from(_HALF, np.array([0.3, 0.3, 0.3]))
    keep = [i for i in range(len(LAG_AT)) if i != _HALF]
    cov[LAG_SHAPE, LAG_SHAPE] = empty_half_full[np.ix_(keep, keep)]
    cov[ACTIVATION_OHM, ACTIVATION_OHM] = 0.7**2
    cov[ACTIVATION_LAG, ACTIVATION_LAG] = 1.0
    cov[ACTIVATION_TRANSFER, ACTIVATION_TRANSFER] = 1.2**2
    cov[TRANSFER, TRANSFER] = 0.8**2
    cov[PEUKERT, PEUKERT] = _PEUKERT_LOG_STD**2
    if pack.chemistry == "lead_acid":
        cov[ACTIVATION_OHM, ACTIVATION_OHM], cov[ACTIVATION_LAG, ACTIVATION_LAG] = _ACID_KK_STD**2
    cov[SLOW, SLOW] = 1.2**2
    cov[METER_ZERO, METER_ZERO] = 1.0
    guessed = np.zeros(N_PARAMETERS)  # a smaller pack than guessed resists more
    guessed[CAPACITY] = np.sqrt(label_std(pack) ** 2 - LABEL_STD**2)
    if pack.resistance_ohm is None:
        guessed[OHMIC] = guessed[QUICK] = -guessed[CAPACITY]
    return np.asarray(cov + np.outer(guessed, guessed))


def _walk_from(middle: int, steps: Array) -> Array:
    """Covariance of a random walk over the nodes on both sides of `middle`, with these standard steps."""
    n = len(steps) + 1
    reach = np.zeros((n, n - 1))
    for i in range(n - 1):
        if i < middle:
            reach[: i + 1, i] = steps[i]
        else:
            reach[i + 1 :, i] = steps[i]
    return np.asarray(reach @ reach.T)
