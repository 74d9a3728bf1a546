"""The equivalent circuit's equations: open circuit at the lagging surface charge, ohmic part, two pairs.

A cell's terminal voltage follows the charge at the surface of its particles, which lags behind the mean
charge while current flows. Under a steady flux, diffusion in a sphere ends up lagging by (radius²/15 D) ·
rate. It gets there in modes with time constants radius²/(D λ²), tan λ = λ (Crank 1975, The Mathematics of
Diffusion, eq. 6.45), each taking part in proportion to its time constant. Real electrodes mix many radii, and
the electrolyte lags too, hence fixed time constants with fitted parts. Since the open-circuit curve falls
steeply near empty, the same lag makes the resistance rise there.

The ohmic part includes a charge transfer that resists less as the current grows. Hysteresis has no state of
its own: a pack in use discharges, and its logs re-shape the curve to that of discharge. What a pause with
braking current changes (a few millivolts a cell, with one-state hysteresis as in Plett 2004 and 20 mV between
the branches of LFP, from memory) is less than what the circuit leaves unexplained.
"""

from __future__ import annotations

import numpy as np

from estimator.arrays import Array

QUICK_S = 15.0
"""Time constant [s] of the quick pair (charge transfer and near diffusion; common practice: 5 to 30 s)."""

LAG_S = np.array([6.0, 30.0, 150.0, 900.0])
"""Time constants [s] of the lag's modes; their sum can follow diffusion from seconds to an hour."""

TRANSFER_V_PER_K = 3.0 * 8.617e-5
"""Scale [V/K] of one cell's charge transfer: 2kT/e if one electrode does all of it, 4kT/e if both share it
evenly (Butler-Volmer with equal transfer coefficients; Newman and Balsara 2021, Electrochemical Systems,
ch. 8); the middle is taken."""

SLOW = 2
"""Place in `LAG_S` of the slow pair's time constant (150 s), so that its current is already low-passed. The
pair stands for what relaxes over minutes even where the open-circuit curve is flat (salt in the electrolyte,
potential within thick electrodes)."""

_NOTHING = 1e-18  # a hundredth of the last digit of 1 in float64: older parts of a sum change nothing

PEUKERT_BASE_C = 0.05
"""Rate [1/h] at which lead-acid blocks give their rated charge (common practice: the 20 hour rate)."""


def pair_voltage(drive_v: Array, step_s: float, tau_s: float) -> Array:
    """Voltage [V] over a resistor-capacitor pair driven by `drive_v` = R·I [V], sampled every `step_s` [s].

    Solves dv/dt = (R·I − v)/tau exactly for samples joined by straight lines (first-order hold); the last
    axis is time. Source: Plett 2004, J. Power Sources 134, 262, doi 10.1016/j.jpowsour.2004.02.032 (there the
    current is constant between samples).

    >>> v = pair_voltage(np.ones(4), step_s=10.0, tau_s=10.0)
    >>> v.round(4).tolist()
    [0.0, 0.6321, 0.8647, 0.9502]
    """
    decay = np.exp(-step_s / tau_s)
    ratio = (1 - decay) * tau_s / step_s
    new, old = 1 - ratio, ratio - decay
    drive = np.asarray(drive_v, float)
    pushed = new * drive
    pushed[..., 1:] += old * drive[..., :-1]
    pushed[..., 0] = 0.0
    return carried_on(pushed, float(decay))


def carried_on(pushed: Array, keep: float) -> Array:
    """The running sum y[k] = keep·y[k − 1] + pushed[k]; the last axis is time.

    Each round doubles how far back the sum reaches, until it would add nothing more. Our own, since
    scipy.signal takes longer to load than this takes to run.

    >>> carried_on(np.array([1.0, 0.0, 2.0]), 0.5).tolist()
    [1.0, 0.5, 2.25]
    """
    left = np.array(pushed, float)
    back = 1
    while back < left.shape[-1] and keep**back > _NOTHING:
        left[..., back:] += keep**back * left[..., :-back]
        back *= 2
    return left


def constant_power_voltage(emf_v: Array, resistance_ohm: Array, power_w: Array) -> Array:
    """Terminal voltage [V] of `emf_v` [V] behind `resistance_ohm` [ohm] that delivers `power_w` [W].

    V = (E + sqrt(E² − 4PR))/2; where the power is out of reach (P > E²/4R) the voltage stays at E/2.

    >>> float(constant_power_voltage(np.array(50.0), np.array(0.1), np.array(490.0)))
    49.0
    """
    return np.asarray(
        (emf_v + np.sqrt(np.maximum(emf_v * emf_v - 4.0 * power_w * resistance_ohm, 0.0))) / 2.0
    )


def transfer_voltage(small_v: Array, scale_v: Array | float) -> Array:
    """Voltage [V] over a charge transfer that would show `small_v` = R·I [V] if it stayed linear.

    Butler-Volmer with equal transfer coefficients, V = s·asinh(R·I/s): the resistance falls as the current
    grows, above all in the cold.

    >>> transfer_voltage(np.array([0.001, 0.1, 1.0]), 0.077).round(3).tolist()
    [0.001, 0.083, 0.251]
    """
    return np.asarray(scale_v * np.arcsinh(small_v / scale_v))


def peukert_lag(rate_c: Array, exponent: Array | float) -> Array:
    """Share of the charge that a discharge at `rate_c` [1/h] leaves behind, by Peukert's law.

    The charge delivered goes as rate^(1 − exponent) and is complete at the 20 hour rate (Peukert 1897).

    >>> round(float(peukert_lag(np.array(1.0), 1.2)), 3)
    0.451
    """
    return np.asarray(1.0 - np.maximum(rate_c / PEUKERT_BASE_C, 1.0) ** (1.0 - np.asarray(exponent)))
