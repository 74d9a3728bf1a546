"""Uncertainty of charge and energy from the uncertainty of the meter, by JCGM 100:2008 (GUM).

The measurement model of one log with readings i_k, v_k and trapezoid weights w_k [h] is

    Q = Σ w_k (1 + g_i) (i_k + z_i + e_k)
    E = Σ w_k (1 + g_i)(1 + g_v) (i_k + z_i + e_k)(v_k + z_v + f_k)

with gains g and zeros z that all readings share (systematic) and noises e, f of each reading (random). The
law of propagation (JCGM 100, 5.1.2, equation 10) with the sensitivity coefficients at zero error gives

    u²(Q) = (Σ w)² u²(z_i) + Q² u²(g_i) + Σ w² u²(e)
    u²(E) = (Σ w v)² u²(z_i) + (Σ w i)² u²(z_v) + E² (u²(g_i) + u²(g_v)) + Σ w² (v² u²(e) + i² u²(f))

Volts drawn straight across a hole share one error over all of it, a further source for the energy.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from estimator.importer.arrays import Bools, Floats
    from estimator.importer.log import Log, MeterError


DRAWN_STD = 0.03
"""Standard uncertainty (fraction) of volts drawn straight across a hole, where load and charge moved them
(common practice)."""


@dataclass(frozen=True)
class Budget:
    """An uncertainty budget: charge [Ah] or energy [Wh], and the standard uncertainty from each source.

    zero : from the zero of the current; voltage_zero : from that of the voltage (0 for charge); gain : from
        the gains of both; noise : random; drawn : from volts drawn across holes (0 for charge)
    """

    value: float
    zero: float
    voltage_zero: float
    gain: float
    noise: float
    drawn: float = 0.0

    @property
    def std(self) -> float:
        """Combined standard uncertainty, in the unit of the value."""
        parts = (self.zero, self.voltage_zero, self.gain, self.noise, self.drawn)
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
    )
