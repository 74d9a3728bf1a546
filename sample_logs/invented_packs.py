"""Packs that never existed: their cells, followed second by second through a mow.

This is written independently of the estimator, so that its answers can be compared with the truth. Every
number here is made up to be plausible; none was measured.

A cell is an open-circuit curve, an ohmic part, a charge-transfer part after Butler and Volmer (the arcsinh
form for equal coefficients), and two diffusion parts that settle in tens and hundreds of seconds. The
charge-transfer and diffusion parts grow in the cold (Arrhenius) and towards empty; losses warm the pack.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

GAS_J_MOL_K, FARADAY_C_MOL = 8.314462618, 96485.33212
GRID = 2000

NMC_CURVE = (
    (0.00, 3.000), (0.02, 3.205), (0.05, 3.345), (0.10, 3.452), (0.15, 3.515), (0.20, 3.553), (0.30, 3.612),
    (0.40, 3.662), (0.50, 3.728), (0.60, 3.822), (0.70, 3.920), (0.80, 4.005), (0.90, 4.082), (0.95, 4.122),
    (1.00, 4.185),
)  # fmt: skip
LFP_CURVE = (
    (0.00, 2.500), (0.02, 2.840), (0.05, 3.040), (0.10, 3.175), (0.15, 3.208), (0.20, 3.233), (0.30, 3.266),
    (0.40, 3.284), (0.50, 3.290), (0.60, 3.297), (0.68, 3.315), (0.75, 3.328), (0.90, 3.334), (0.97, 3.350),
    (0.99, 3.385), (1.00, 3.480),
)  # fmt: skip


def _table(curve: tuple[tuple[float, float], ...]) -> list[float]:
    charge, volts = zip(*curve, strict=True)
    return [float(v) for v in PchipInterpolator(charge, volts)(np.linspace(0.0, 1.0, GRID + 1))]


@dataclass(frozen=True)
class InventedPack:
    """A pack on the day of one mow. Ohms are of the whole pack at 25 °C and half charge."""

    name: str
    series: int
    capacity_ah: float
    cut_off_v: float
    open_v: tuple[float, ...]
    ohmic_ohm: float
    transfer_ohm: float
    fast_ohm: float
    slow_ohm: float
    fast_s: float
    slow_s: float
    heat_j_k: float

    def open_circuit_v(self, charge: float) -> float:
        """Voltage [V] of the pack at rest."""
        place = min(max(charge, 0.0), 1.0) * GRID
        low = min(int(place), GRID - 1)
        cell = self.open_v[low] + (place - low) * (self.open_v[low + 1] - self.open_v[low])
        return self.series * cell


def nmc_pack(years: float) -> InventedPack:
    """The 13-series pack, `years` after its first charge."""
    worn = 1.0 + 0.22 * years
    return InventedPack(
        name="green crate", series=13, cut_off_v=39.0, open_v=tuple(_table(NMC_CURVE)),
        capacity_ah=10.3 * (1.0 - 0.045 * math.sqrt(years) - 0.050 * years),
        ohmic_ohm=0.062 * worn, transfer_ohm=0.030 * worn, fast_ohm=0.016 * worn, slow_ohm=0.030 * worn,
        fast_s=14.0, slow_s=260.0, heat_j_k=2900.0,
    )  # fmt: skip


def lfp_pack(years: float) -> InventedPack:
    """The older 12-series pack, `years` after the orchard got it second-hand."""
    worn = 1.0 + 0.15 * years
    return InventedPack(
        name="old box", series=12, cut_off_v=30.0, open_v=tuple(_table(LFP_CURVE)),
        capacity_ah=9.6 * (1.0 - 0.042 * years),
        ohmic_ohm=0.078 * worn, transfer_ohm=0.034 * worn, fast_ohm=0.020 * worn, slow_ohm=0.034 * worn,
        fast_s=18.0, slow_s=330.0, heat_j_k=3400.0,
    )  # fmt: skip


@dataclass(frozen=True)
class Course:
    """What really happened, at every step."""

    time_s: np.ndarray
    current_a: np.ndarray
    voltage_v: np.ndarray
    charge: np.ndarray
    used_ah: np.ndarray
    used_wh: np.ndarray
    temperature_c: np.ndarray
    stopped_s: float | None

    def first(self, steps: int) -> Course:
        """The first so many steps of the course."""
        kept = (self.time_s, self.current_a, self.voltage_v, self.charge, self.used_ah, self.used_wh)
        return Course(*(x[:steps] for x in kept), self.temperature_c[:steps], self.stopped_s)


def discharge(
    pack: InventedPack, power_w: np.ndarray, step_s: float, charge: float, air_c: float, hold_s: float = 1.0
) -> Course:
    """Draw `power_w` to its end; the motor stops for good once volts are under the cut-off for `hold_s`.

    The current for which volts times amps is the power wanted is found by a few secant steps on the implicit
    equation; the parts with memory follow their exact exponential over each step.
    """
    n = len(power_w)
    out = np.zeros((7, n))
    fast_v = slow_v = used_ah = used_wh = under_s = 0.0
    temperature_c, stopped_s = air_c, None
    keep_fast, keep_slow = math.exp(-step_s / pack.fast_s), math.exp(-step_s / pack.slow_s)
    current = 0.0
    for i in range(n):
        asked = float(power_w[i]) if stopped_s is None else 1.5
        kelvin = temperature_c + 273.15
        cold = math.exp(28000.0 / GAS_J_MOL_K * (1 / kelvin - 1 / 298.15))
        near_empty = 1.0 + 0.9 * math.exp(-max(charge, 0.0) / 0.06) + 0.12 * (0.5 - charge)
        thermal_v = 2.0 * GAS_J_MOL_K * kelvin / FARADAY_C_MOL * pack.series
        exchange_a = thermal_v / (2.0 * pack.transfer_ohm * cold * near_empty)
        ohmic = pack.ohmic_ohm * (1.0 + 0.004 * (25.0 - temperature_c))
        rest_v = pack.open_circuit_v(charge) - fast_v - slow_v
        for _ in range(12):
            volts = rest_v - ohmic * current - thermal_v * math.asinh(current / (2.0 * exchange_a))
            slope = -ohmic - thermal_v / math.sqrt(current**2 + 4.0 * exchange_a**2)
            off = current * volts - asked
            step = off / (volts + current * slope)
            current -= step
            if abs(step) < 1e-9:
                break
        volts = rest_v - ohmic * current - thermal_v * math.asinh(current / (2.0 * exchange_a))
        out[:, i] = (i * step_s, current, volts, charge, used_ah, used_wh, temperature_c)
        under_s = under_s + step_s if volts < pack.cut_off_v else 0.0
        if stopped_s is None and under_s > hold_s:
            stopped_s, current = i * step_s, 0.03
        lost_w = (pack.open_circuit_v(charge) - volts) * current
        temperature_c += step_s * (lost_w - (temperature_c - air_c) / 2.2) / pack.heat_j_k
        charge -= current * step_s / 3600.0 / pack.capacity_ah
        used_ah += current * step_s / 3600.0
        used_wh += current * volts * step_s / 3600.0
        fast_v = fast_v * keep_fast + (1 - keep_fast) * pack.fast_ohm * cold * near_empty * current
        slow_v = slow_v * keep_slow + (1 - keep_slow) * pack.slow_ohm * cold * near_empty * current
    return Course(*out, stopped_s)


def pulse_ohm(pack: InventedPack) -> float:
    """Volts lost per amp [ohm] after 10 s of about 5 A at half charge and 25 °C."""
    watts = np.r_[np.zeros(2), np.full(21, 5.0 * pack.open_circuit_v(0.5))]
    course = discharge(pack, watts, 0.5, 0.5, 25.0)
    return float((course.voltage_v[0] - course.voltage_v[-1]) / course.current_a[-1])
