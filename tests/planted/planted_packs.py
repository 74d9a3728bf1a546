"""Logs of packs with a planted truth, by a plain step-by-step circuit unlike anything in the estimator."""

from dataclasses import replace

import numpy as np
import pandas as pd

from estimator.fitting.pack import prior
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import GRID, grid_open_circuit_v
from estimator.importer.log import Log, MeterError

FINE = MeterError(0.005, 0.002, 0.02, 0.001, 0.005, 0.005)


def nmc_ocv(charge):
    """Invented open-circuit voltage [V] of one cell."""
    return 3.3 + 0.85 * charge - 0.5 * np.exp(-charge / 0.03)


def open_circuit_v(chemistry, charge):
    """Open-circuit voltage [V] of one cell at `charge`, by the mean curve of the chemistry's family."""
    return np.interp(charge, GRID, grid_open_circuit_v(chemistry))


def holding(pack, capacity_ah, **changes):
    """The pack fitted to hold so much [Ah], with other changes."""
    fitted = as_fitted(pack)
    mean = fitted.mean.copy()
    mean[prior.CAPACITY] += np.log(capacity_ah / fitted.capacity_ah)
    return replace(fitted, mean=mean, **changes)


def planted_log(
    rng, capacity_ah=10.0, ohm=0.12, charge=1.0, cut_off_v=39.0, mean_w=380.0, steps=8000, series=13,
    zero_a=0.0, stop_at_cut_off=True, slow_ohm=0.0,
):  # fmt: skip
    """One mow, a reading a second: rows, turns, patches; returns the log and the true charge at each."""
    rows, truth, pair, slow = [], [], 0.0, 0.0
    level = mean_w
    for k in range(steps):
        if k % 20 == 0:
            level = mean_w * rng.lognormal(0, 0.25) * (2.0 if rng.random() < 0.08 else 1.0)
        emf = series * nmc_ocv(charge) - pair - slow
        root = emf**2 - 4 * level * ohm
        volts = (emf + np.sqrt(max(root, 0.0))) / 2
        amps = level / volts
        rows.append((float(k), amps + zero_a, volts))
        truth.append(charge)
        if volts <= cut_off_v and stop_at_cut_off:
            break
        charge -= amps / 3600 / capacity_ah
        pair += (0.3 * ohm * amps - pair) / 20.0
        slow += (slow_ohm * amps - slow) / 150.0
    frame = pd.DataFrame(rows, columns=["time_s", "current_a", "voltage_v"])
    return Log(frame, error=FINE), np.array(truth)


def part(log, upto_s=np.inf, from_s=0.0):
    """A stretch of a log, whose time starts at 0 again."""
    r = log.readings
    r = r[(r.time_s >= from_s) & (r.time_s <= upto_s)].reset_index(drop=True)
    return Log(r.assign(time_s=r.time_s - r.time_s.iloc[0]), error=log.error)
