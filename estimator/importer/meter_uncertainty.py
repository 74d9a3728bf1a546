"""Uncertainty of charge and energy from the uncertainty of the meter, by JCGM 100:2008 (GUM).

The measurement model of one log with readings i_k, v_k and trapezoid weights w_k [h] is

    Q = Σ w_k (1 + g_i) (i_k + z_i + e_k)
    E = Σ w_k (1 + g_i)(1 + g_v) (i_k + z_i + e_k)(v_k + z_v + f_k)

with gains g and zeros z that all readings share (systematic) and noises e, f of each reading (random). The
law of propagation (JCGM 100, 5.1.2, equation 10) with the sensitivity coefficients at zero error gives

    u²(Q) = (Σ w)² u²(z_i) + Q² u²(g_i) + Σ w² u²(e)
    u²(E) = (Σ w v)² u²(z_i) + (Σ w i)² u²(z_v) + E² (u²(g_i) + u²(g_v)) + Σ w² (v² u²(e) + i² u²(f))

Volts drawn straight across a hole share one error over all of it, a further source for the energy. Another
is what a restless load did between readings: `between_readings`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from estimator.importer.arrays import Bools, Floats
    from estimator.importer.log import Log, MeterError


DRAWN_STD = 0.03
"""Standard uncertainty (fraction) of volts drawn straight across a hole, where load and charge moved them
(common practice)."""


AT_WORK = 0.1
"""Readings above this share of the usual highest are of a motor at work (common practice)."""
LEAST_ALIKE, MOST_ALIKE = 0.001, 0.999
"""How much of what moves a load is still there at the next reading, at the least and at the most."""


@dataclass(frozen=True)
class Budget:
    """An uncertainty budget: charge [Ah] or energy [Wh], and the standard uncertainty from each source.

    zero : from the zero of the current; voltage_zero : from that of the voltage (0 for charge); gain : from
        the gains of both; noise : random; drawn : from volts drawn across holes (0 for charge)
    between : from what the load did between readings
    """

    value: float
    zero: float
    voltage_zero: float
    gain: float
    noise: float
    drawn: float = 0.0
    between: float = 0.0

    @property
    def std(self) -> float:
        """Combined standard uncertainty, in the unit of the value."""
        parts = (self.zero, self.voltage_zero, self.gain, self.noise, self.drawn, self.between)
        return float(np.sqrt(sum(part**2 for part in parts)))


def weights_h(time_s: Floats, longest_step_s: float) -> Floats:
    """Trapezoid weight [h] of each reading (n,); steps longer than `longest_step_s` do not count.

    >>> weights_h(np.array([0.0, 3600.0, 7200.0]), 3600.0).tolist()
    [0.5, 1.0, 0.5]
    """
    step = np.diff(time_s)
    step = np.where(step > longest_step_s, 0.0, step)
    weights = np.zeros(len(time_s))
    weights[:-1] += step
    weights[1:] += step
    return weights / 7200


def charge_budget(log: Log, longest_step_s: float | None = None) -> Budget:
    """Charge of a log [Ah] with its uncertainty budget.

    longest_step_s : longer steps do not count; None takes the log's own

    >>> import pandas as pd
    >>> from estimator.importer.log import Log, MeterError
    >>> hour = pd.DataFrame({"time_s": [0.0, 1800.0, 3600.0], "current_a": 10.0, "voltage_v": 50.0})
    >>> error = MeterError(current_zero_a=0.3, current_gain=0.04, current_noise_a=0.0)
    >>> budget = charge_budget(Log(hour, error=error, longest_step_s=1800.0))
    >>> round(budget.value, 6), round(budget.zero, 6), round(budget.gain, 6), round(budget.std, 6)
    (10.0, 0.3, 0.4, 0.5)
    """
    volts = np.ones(len(log.arrays["time_s"]))
    error = replace(log.error, voltage_zero_v=0, voltage_gain=0, voltage_noise_v=0)
    return _budget(log, longest_step_s, volts, error, None)


def energy_budget(log: Log, longest_step_s: float | None = None) -> Budget:
    """Energy of a log [Wh] with its uncertainty budget; `longest_step_s` as for the charge.

    >>> import pandas as pd
    >>> from estimator.importer.log import Log, MeterError
    >>> hour = pd.DataFrame({"time_s": [0.0, 1800.0, 3600.0], "current_a": 10.0, "voltage_v": 50.0})
    >>> error = MeterError(0.3, 0.0, 0.4, 0.0, 0.0, 0.0)
    >>> budget = energy_budget(Log(hour, error=error, longest_step_s=1800.0))
    >>> round(budget.value, 6), round(budget.zero, 6), round(budget.voltage_zero, 6)
    (500.0, 15.0, 4.0)
    """
    return _budget(log, longest_step_s, log.arrays["voltage_v"], log.error, log.arrays.get("volts_drawn"))


def _budget(log: Log, longest_step_s: float | None, v: Floats, e: MeterError, across: Bools | None) -> Budget:
    """Budget of energy at volts v (n,), drawn where `across`; of charge, taken as energy at exactly 1 V."""
    w = weights_h(log.arrays["time_s"], longest_step_s or log.longest_step_s)
    i = log.arrays["current_a"]
    value = float(w @ (i * v))
    drawn_wh = 0.0 if across is None else float((w * i * v)[across.astype(bool)].sum())
    noise = float((w * w) @ (v * v)) * e.current_noise_a**2 + float((w * w) @ (i * i)) * e.voltage_noise_v**2
    return Budget(
        value=value,
        zero=abs(float(w @ v)) * e.current_zero_a,
        voltage_zero=abs(float(w @ i)) * e.voltage_zero_v,
        gain=abs(value) * float(np.hypot(e.current_gain, e.voltage_gain)),
        noise=float(np.sqrt(noise)),
        drawn=DRAWN_STD * abs(drawn_wh),
        between=between_readings(i * v, w),
    )


def between_readings(rate: Floats, weights: Floats) -> float:
    """Standard uncertainty of Σ w r as readings r (n,) with weights w (n,) are samples of a restless load.

    For a load whose variations about its mean, of variance s², are forgotten as exp(-t/tau), the sum over
    many even steps d misses the integral by the variance s² Σ w² (coth(h/2) - 2/h), h = d/tau: all of s²
    where a reading knows nothing of the next, and almost none of it where they follow each other closely.
    Variance and h are those of the readings at work. A meter that shows means over its steps is doubted too
    much by it.

    Source: the spectrum of that load (Uhlenbeck and Ornstein 1930, Phys. Rev. 36, 823), sampled and summed.

    >>> restless = np.tile([5.0, 15.0, 15.0, 5.0], 90)  # no reading tells of the next
    >>> round(between_readings(restless, np.full(360, 10 / 3600)), 3)
    0.222
    """
    at_work = rate > AT_WORK * float(np.quantile(rate, 0.9))
    pairs = at_work[1:] & at_work[:-1]
    variance = float(rate[at_work].var()) if at_work.any() else 0.0
    if variance <= 0 or not pairs.any():
        return 0.0
    alike = 1 - float(np.square(np.diff(rate)[pairs]).mean()) / (2 * variance)
    h = -math.log(min(max(alike, LEAST_ALIKE), MOST_ALIKE))
    missed = 1 / math.tanh(h / 2) - 2 / h
    return math.sqrt(variance * missed * float(weights[at_work] @ weights[at_work]))
