"""The equivalent circuit: open-circuit voltage, ohmic resistance and two resistor-capacitor pairs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Array = NDArray[np.float64]


def pair_voltage(drive_v: Array, step_s: float, tau_s: float, start_v: Array | float = 0.0) -> Array:
    """Voltage [V] over a resistor-capacitor pair driven by `drive_v` = R·I [V], sampled every `step_s` [s].

    Solves dv/dt = (R·I − v)/tau exactly for a drive joined by straight lines (first-order hold). The last axis is time.
    Source: Plett 2004, J. Power Sources 134, 262, doi 10.1016/j.jpowsour.2004.02.032 (there with a held current).

    >>> v = pair_voltage(np.ones(4), step_s=10.0, tau_s=10.0)
    >>> v.round(4).tolist()
    [0.0, 0.6321, 0.8647, 0.9502]
    """
    decay = np.exp(-step_s / tau_s)
    ratio = (1 - decay) * tau_s / step_s
    new, old = 1 - ratio, ratio - decay
    drive = np.asarray(drive_v, float)
    first = np.asarray(start_v, float)
    state = (first - new * drive[..., 0])[..., None]
    return np.asarray(lfilter([new, old], [1.0, -decay], drive, axis=-1, zi=state)[0])


def constant_power_current(emf_v: Array, resistance_ohm: Array, power_w: Array) -> Array:
    """Current [A] that gives `power_w` [W] from `emf_v` [V] behind `resistance_ohm`; capped where the power is out of reach.

    V = (E + sqrt(E² − 4PR))/2 and I = P/V; beyond P = E²/4R (maximum power transfer) the voltage stays at E/2.

    >>> float(constant_power_current(np.array(50.0), np.array(0.1), np.array(490.0)))
    10.0
    """
    under_root = emf_v * emf_v - 4.0 * power_w * resistance_ohm
    voltage = (emf_v + np.sqrt(np.maximum(under_root, 0.0))) / 2.0
    return np.asarray(np.where(under_root >= 0.0, power_w / voltage, voltage / resistance_ohm))
