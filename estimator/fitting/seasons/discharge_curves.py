"""The discharge curve of one mow: rest voltage against charge drawn, and the resistance that lowers it.

Voltage jumps about with the mowing load. Least squares splits it into a smooth rest voltage over the charge
drawn and the drops across a quick resistance and three slow ones (`voltage_split`). From these the curve
follows at any power and temperature, so that mows of different seasons can be laid over each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array
from estimator.errors import InputError
from estimator.fitting.charge_used import charge_used
from estimator.fitting.pack.circuit import constant_power_voltage
from estimator.fitting.seasons.voltage_split import split_voltage
from estimator.importer.log import Log, until_leap
from estimator.results import result

ACTIVATION_KK, ACTIVATION_STD_KK = 3.0, 1.0
"""Activation temperature [1000 K] of pack resistance, 25 ± 8 kJ/mol (common practice)."""
FEWEST_READINGS, SHORTEST_AH = 20, 0.05
"""A log with less gives no curve: some readings for each resistance, a quarter of a minute of mowing [Ah]."""
ZERO_C_K = 273.15
"""0 °C in kelvin."""
POINTS = 60  # places along a curve


@result
class DischargeCurve:
    """One mow's discharge curve, small enough to keep for every mow.

    used_ah (n,) : charge [Ah] drawn since the log began; rest_v (n,) : voltage [V] with the load off, settled
    load_a : mean current [A] of the log, at which the curve is known best
    resistance_ohm, resistance_std_ohm : resistance [ohm] to a lasting load at temperature_c, and its standard
        uncertainty
    quick_ohm, quick_std_ohm : the part of it that acts at once, and its standard uncertainty
    line_std_v : standard uncertainty [V] of the curve at load_a, without the voltmeter's own zero and gain
    start_ah, start_std_ah : charge [Ah] drawn from full before the log began; None where unknown
    """

    used_ah: tuple[float, ...]
    rest_v: tuple[float, ...]
    load_a: float
    resistance_ohm: float
    resistance_std_ohm: float
    quick_ohm: float
    quick_std_ohm: float
    line_std_v: float
    temperature_c: float
    temperature_std_c: float
    start_ah: float | None = None
    start_std_ah: float = 0.0

    def starting_at(self, start_ah: float, start_std_ah: float = 0.0) -> DischargeCurve:
        """The same curve, now known to have begun `start_ah` [Ah] below full."""
        return replace(self, start_ah=start_ah, start_std_ah=start_std_ah)

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> DischargeCurve:
        """The reverse of `asdict`."""
        values = dict(plain)
        return cls(**{**values, "used_ah": tuple(values["used_ah"]), "rest_v": tuple(values["rest_v"])})


def discharge_curve(
    log: Log, start_charge: float | None = None, temperature_c: float | None = None
) -> DischargeCurve:
    """Find the discharge curve of a log.

    Parameters
    ----------
    log : Log
        one discharge
    start_charge : float, 0..1, default None
        1.0 straight from the charger; for other values, which need the pack's capacity, see `starting_at`
    temperature_c : float [°C], default None
        pack temperature where the log has none; None takes 20 ± 8 °C

    Returns
    -------
    DischargeCurve
        rest voltage [V] against charge drawn [Ah], and the resistances [ohm]

    Raises
    ------
    InputError
        for hand readings, for logs that draw less than 0.05 Ah, and for amounts out of range

    Source: least squares of voltage on the current and its lags, as in `voltage_split`.

    >>> import pandas as pd
    >>> amps = np.where(np.arange(600) % 40 < 30, 6.0, 2.0)
    >>> volts = 54.0 - np.cumsum(amps) / 3600 - 0.1 * amps
    >>> log = Log(pd.DataFrame({"time_s": np.arange(600.0), "current_a": amps, "voltage_v": volts}))
    >>> curve = discharge_curve(log, start_charge=1.0, temperature_c=25.0)
    >>> round(curve.quick_ohm, 2), round(curve.rest_v[-1], 1)
    (0.1, 53.2)
    """
    check_amount("start_charge", start_charge)
    check_amount("temperature_c", temperature_c)
    if log.spot is not None:
        raise InputError(
            f"{log.name} holds hand readings, which give no discharge curve", mend="log a whole mow"
        )
    log = until_leap(log)
    if len(log.readings) < FEWEST_READINGS:
        raise InputError(
            f"{log.name} holds {len(log.readings)} readings, too few for a curve", mend="log a whole mow"
        )
    used = charge_used(log)
    readings = log.readings
    time_s, current_a = readings["time_s"].to_numpy(float), readings["current_a"].to_numpy(float)
    voltage_v, drawn_ah = readings["voltage_v"].to_numpy(float), used.cumulative_ah
    if drawn_ah[-1] < SHORTEST_AH:
        raise InputError(
            f"{log.name} draws {drawn_ah[-1]:.3f} Ah, too little for a discharge curve",
            mend="log a whole mow",
        )
    drawn = readings["volts_drawn"].to_numpy(bool) if "volts_drawn" in readings else None
    fit = split_voltage(time_s, current_a, voltage_v, drawn_ah, None if drawn is None else ~drawn)
    grid = np.linspace(0.0, float(drawn_ah[-1]), POINTS)
    rest = fit.rest_v(grid)
    load_a = float(np.average(current_a, weights=np.maximum(current_a, 0.0)))
    measured = "temperature_c" in readings and bool(readings["temperature_c"].notna().any())
    warm = float(readings["temperature_c"].mean()) if measured else temperature_c
    return DischargeCurve(
        used_ah=tuple(np.round(grid, 5).tolist()),
        rest_v=tuple(np.round(rest, 4).tolist()),
        load_a=load_a,
        resistance_ohm=fit.total_ohm,
        resistance_std_ohm=fit.total_std_ohm,
        quick_ohm=fit.quick_ohm,
        quick_std_ohm=fit.quick_std_ohm,
        line_std_v=fit.line_std_v,
        temperature_c=20.0 if warm is None else warm,
        temperature_std_c=8.0 if warm is None else 1.0 if measured else 3.0,
        start_ah=0.0 if start_charge is not None and start_charge >= 1.0 else None,
    )


def voltage_at(curve: DischargeCurve, power_w: float, temperature_c: float) -> Array:
    """Voltage (n,) [V] of the curve at a steady power [W] and pack temperature [°C].

    The resistance at that temperature (Arrhenius) lowers the rest voltage: V = (E + √(E² − 4PR))/2.

    >>> curve = DischargeCurve((0.0, 1.0), (50.0, 48.0), 5.0, 0.1, 0.01, 0.08, 0.01, 0.02, 25.0, 1.0, 0.0)
    >>> voltage_at(curve, 490.0, 25.0).round(2).tolist()
    [49.0, 46.96]
    """
    rest = np.array(curve.rest_v)
    ohms = np.full(len(rest), curve.resistance_ohm * _warmth(curve.temperature_c, temperature_c))
    return constant_power_voltage(rest, ohms, np.full(len(rest), power_w))


def voltage_std_at(curve: DischargeCurve, power_w: float, temperature_c: float) -> float:
    """Standard uncertainty [V] of `voltage_at` that shifts the whole curve alike.

    It adds in quadrature (JCGM 100:2008, 5.1.2) that of the line, of the resistance away from the mow's load,
    and of the temperature.

    >>> curve = DischargeCurve((0.0, 1.0), (50.0, 48.0), 5.0, 0.1, 0.01, 0.08, 0.01, 0.02, 25.0, 0.0, 0.0)
    >>> round(voltage_std_at(curve, 490.0, 25.0), 3)
    0.056
    """
    ohms = curve.resistance_ohm * _warmth(curve.temperature_c, temperature_c)
    middle_v = np.array(np.mean(curve.rest_v))
    at_power = power_w / float(constant_power_voltage(middle_v, np.array(ohms), np.array(power_w)))
    beyond = at_power * ohms / curve.resistance_ohm - curve.load_a
    cold = 1000.0 / (temperature_c + ZERO_C_K) - 1000.0 / (curve.temperature_c + ZERO_C_K)
    activation = at_power * ohms * abs(cold) * ACTIVATION_STD_KK
    guessed = 1000.0 * curve.temperature_std_c / (curve.temperature_c + ZERO_C_K) ** 2
    own = (
        curve.line_std_v,
        beyond * curve.resistance_std_ohm,
        activation,
        at_power * ohms * ACTIVATION_KK * guessed,
    )
    return math.hypot(*own)


def _warmth(from_c: float, to_c: float) -> float:
    return math.exp(ACTIVATION_KK * 1000.0 * (1.0 / (to_c + ZERO_C_K) - 1.0 / (from_c + ZERO_C_K)))
