"""Where a log starts: told, full, or worked out from its first voltage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.fitting import pack_prior as prior
from estimator.fitting.fitted_pack import FittedPack, open_circuit_table, resistance_table
from estimator.fitting.ocv import GRID
from estimator.fitting.trace import Trace

Array = NDArray[np.float64]

FULL_STD = 0.004
"""A pack straight from its charger is full to within 0.4 % of what it was other times (common practice)."""

STARTS_FULL = 0.9
"""Share of logs that start with a full pack, where nothing is told (common practice: one mows after
charging)."""

_TOLD_STD, _READ_V = 0.02, 0.02
_FULL_FROM = 0.96
"""A full pack at rest shows the voltage of this charge or more: the last per cents fade with the surface
charge."""


@dataclass(frozen=True)
class Start:
    """The model's own charge at a log's first reading, its standard uncertainty, and whether it counts as
    full."""

    charge: float
    std: float
    full: bool


def start_of(fitted: FittedPack, trace: Trace, start_charge: float | None) -> Start:
    """Where the log starts.

    start_charge : usable charge as told, or None: the calmest of the first readings is compared with what
    every
        charge would show under that current, with the pack's resistance as uncertain as it is; a full pack
        is likely beforehand.
    """
    if start_charge is not None:
        own = 1.0 - (1.0 - start_charge) * fitted.usable
        return Start(own, FULL_STD if start_charge > 0.99 else _TOLD_STD, start_charge > 0.99)
    charges = GRID[(GRID >= 0.0) & (GRID <= 1.0)]
    likely = _likelihood(fitted, trace, charges)
    full = STARTS_FULL * float(likely[charges >= _FULL_FROM].max())
    other = (1.0 - STARTS_FULL) * float(likely.mean())
    if full >= other:
        return Start(1.0, FULL_STD, True)
    share = likely / likely.sum()
    mean = float(share @ charges)
    return Start(mean, max(float(np.sqrt(share @ (charges - mean) ** 2)), 0.02), False)


def _likelihood(fitted: FittedPack, trace: Trace, charges: Array) -> Array:
    """(charges,) how likely the calmest of the first readings is, at each charge."""
    calm = int(np.argmin(np.abs(trace.current_a[:5])))
    factor = float(prior.arrhenius(trace.temperature_c[calm], fitted.mean[prior.ACTIVATION_OHM]))
    ohm = np.interp(charges, GRID, resistance_table(fitted)[0]) * factor
    middle = prior.OHMIC.start + 4
    std = float(np.sqrt(fitted.covariance[middle, middle] + 0.1**2))
    factors = np.exp(std * np.linspace(-3.0, 3.0, 41))
    odds = np.exp(-0.5 * np.linspace(-3.0, 3.0, 41) ** 2)
    curve = np.interp(charges, GRID, open_circuit_table(fitted))
    sag = ohm * trace.current_a[calm] / fitted.series
    shown = curve[:, None] - sag[:, None] * factors[None, :]
    spread = np.hypot(_READ_V, trace.error.voltage_zero_v / fitted.series)
    off = (trace.voltage_v[calm] / fitted.series - shown) / spread
    return np.asarray(np.exp(-0.5 * off**2) @ (odds / odds.sum()) + 1e-12)
