"""Whether the clamp sat the wrong way round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.importer.series import Series


@dataclass(frozen=True)
class Sense:
    """Whether the clamp sits the wrong way round: the verdict and a sentence, empty where there is nothing
    to say."""

    reverse: bool
    said: str


def sense_of_clamp(s: Series, voltage_step_v: float) -> Sense:
    """Decide by sag whether the current has the wrong sign; amps above zero on the whole are never turned."""
    i, v = s.current_a, s.voltage_v
    if len(i) < 3:
        return Sense(False, "")
    di, dv, step = np.diff(i), np.diff(v), np.diff(s.time_s)
    use = step <= s.longest_step_s
    di, dv = di[use], dv[use]
    noise = max(voltage_step_v, 1e-6)
    norm = float(np.sqrt(np.dot(di, di) * np.dot(dv, dv)))
    agree = float(np.dot(di, dv)) / norm if norm > 0 and float(np.abs(dv).max(initial=0)) > 2 * noise else 0.0
    net = float(np.mean(i))
    if net >= 0:
        said = "Volts rise as amps rise, as when charging: signs are left as they are." if agree > 0.5 else ""
        return Sense(False, said)
    if agree > 0.3:
        return Sense(True, "The clamp sat the wrong way round (volts rise as amps rise): signs turned.")
    if agree > -0.3:
        tenth = max(1, len(v) // 10)
        fall = float(v[:tenth].mean() - v[-tenth:].mean())
        if fall > 3 * noise and float(i.max()) <= 0.05 * float(-i.min()):
            return Sense(
                True, "All amps are below zero while the volts fall: signs turned, discharge counts positive."
            )
    return Sense(False, "More charge goes in than out: signs are left as they are.")
