"""The pack's volts in a mow of which only the mean current is known: many draws at once, no steps in time.

The equations are those of the circuit (`fitting.pack.circuit`) after a steady current: the modes of the lag
and the slow pair approach their end in the time given, and die away the same way at rest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import LAG_S, PEUKERT_BASE_C, SLOW, transfer_voltage
from estimator.fitting.pack.fitted_pack import FittedPack
from estimator.fitting.pack.open_circuit import places
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.fitting.pack.prior import arrhenius

IN_USE_STD = 0.09
"""Spread of the logarithm of capacity over label for a pack in use that no log counted: 80 to 110 % (common
practice: packs lose 1 to 3 % a year and are changed at 80 %)."""


def in_use(fitted: FittedPack) -> FittedPack:
    """The pack as one in use, worn or not, unless logs show its capacity."""
    if fitted.logs:
        return fitted
    covariance = fitted.covariance.copy()
    by_label = min(covariance[prior.CAPACITY, prior.CAPACITY] / prior.label_std(fitted) ** 2, 1.0)
    covariance[prior.CAPACITY, prior.CAPACITY] += (IN_USE_STD**2 - prior.LABEL_STD**2) * by_label
    return replace(fitted, covariance=covariance)


@dataclass(frozen=True)
class Shown:
    """Open-circuit voltage at the surface of the particles, and what the load takes off it, (n,) each [V]."""

    open_v: Array
    sag_v: Array

    @property
    def volts(self) -> Array:
        """The voltage (n,) [V] that a meter would show."""
        return np.asarray(self.open_v - self.sag_v)


def rates_after(mean_a: Array, pack: PackDraws, load_s: Array | float, rest_s: Array | float = 0.0) -> Array:
    """Low-passed rates (4, n) [1/h] after a steady current [A] for some seconds, then some at rest."""
    tau = LAG_S[:, None]
    come = (1.0 - np.exp(-np.asarray(load_s) / tau)) * np.exp(-np.asarray(rest_s) / tau)
    return np.asarray(come * (mean_a / pack.capacity_ah))


def shown(pack: PackDraws, charge: Array, rates_c: Array, amps: Array | float = 0.0) -> Shown:
    """The volts of pack draws at usable charge (n,) under current (n,) [A], with low-passed rates (4, n).

    >>> from estimator.descriptions import Pack
    >>> from estimator.fitting.pack.pack_draws import draw_pack
    >>> draws = draw_pack(Pack("nmc", 13, 10.0, 39.0), 50, np.random.default_rng(1))
    >>> calm = shown(draws, np.full(50, 0.6), np.zeros((4, 50)))
    >>> 48 < float(calm.volts.mean()) < 52, float(calm.sag_v.max())
    (True, 0.0)
    """
    low, part = places(charge)
    rows = np.arange(pack.n)
    colder = arrhenius(pack.temperature_c, pack.activation_kk[1])
    if pack.lead_acid:
        rate = (pack.lag_h * rates_c).sum(axis=0) / pack.lag_h.sum(axis=0) * colder
        lag = 1.0 - np.maximum(rate / PEUKERT_BASE_C, 1.0) ** (1.0 - pack.lag_shape[:, 0])
    else:
        shape = pack.lag_shape[rows, low] * (1 - part) + pack.lag_shape[rows, low + 1] * part
        lag = (pack.lag_h * rates_c).sum(axis=0) * shape * colder
    low, part = places(charge - lag)
    table = pack.tables[rows, low] * (1 - part)[:, None] + pack.tables[rows, low + 1] * part[:, None]
    open_v, ohmic, quick = table.T.astype(float)
    warm = arrhenius(pack.temperature_c, pack.activation_kk[0])
    transfer = pack.transfer_share * ohmic * arrhenius(pack.temperature_c, pack.activation_kk[2])
    scale_v = pack.transfer_v_per_k * (pack.temperature_c + 273.15)
    sag = (1 - pack.transfer_share) * ohmic * warm * amps + transfer_voltage(transfer * amps, scale_v)
    sag += quick * warm * (amps + pack.slow_share * rates_c[SLOW] * pack.capacity_ah)
    return Shown(open_v, np.asarray(sag))
