"""Where a log starts: told, full, or worked out from the first voltage."""

from __future__ import annotations

import numpy as np

from estimator.fitting import pack_prior as prior
from estimator.fitting.fitted_pack import FittedPack, open_circuit_table, resistance_table
from estimator.fitting.ocv import GRID
from estimator.fitting.trace import Trace

FULL_STD = 0.004
"""A pack straight from its charger is full to within 0.4 % of what it was other times (common practice)."""


def start_prior(fitted: FittedPack, trace: Trace, start_charge: float | None) -> tuple[float, float]:
    """Mean and standard uncertainty of the model's own charge at the first reading.

    start_charge : usable charge as told, or None: the first readings' voltage, with the sag added back, is compared
        with the open-circuit curve; what looks full is taken as full, for most logs start at the charger.
    """
    if start_charge is not None:
        own = 1.0 - (1.0 - start_charge) * fitted.usable
        return own, FULL_STD if start_charge > 0.99 else 0.02
    first = slice(0, min(5, len(trace.time_s)))
    ohm = resistance_table(fitted)[0][-20] * float(
        prior.arrhenius(trace.temperature_c[0], fitted.mean[prior.ACTIVATION_OHM])
    )
    rest_v = float(np.max(trace.voltage_v[first] + ohm * trace.current_a[first])) / fitted.series
    curve = open_circuit_table(fitted)
    if rest_v > float(np.interp(0.93, GRID, curve)):
        return 1.0, FULL_STD
    inside = (GRID >= 0) & (GRID <= 1)
    odds = np.exp(-0.5 * ((curve[inside] - rest_v) / 0.03) ** 2)
    odds /= odds.sum()
    mean = float(odds @ GRID[inside])
    return mean, float(max(np.sqrt(odds @ (GRID[inside] - mean) ** 2), 0.02))
