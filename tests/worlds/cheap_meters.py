"""What a clamp, a voltmeter and a sensor show of what happened: gain, a drifting zero, steps, sampling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from half_cells import Array


@dataclass(frozen=True)
class Meters:
    """One person's meters; all errors but the zero of the clamp stay the same from mow to mow."""

    every_s: int
    gain: float
    zero_a: float
    drift_a: float
    noise_a: float
    step_a: float
    volt_gain: float
    step_v: float
    sensor_off_c: float | None


def draw_meters(rng: np.random.Generator, usual_a: float) -> Meters:
    """Meters as people have them, with a range that suits `usual_a`."""
    coarse = rng.random() < 0.5
    return Meters(
        every_s=int(rng.choice([1, 2, 5])),
        gain=float(np.clip(rng.normal(0, 0.010), -0.025, 0.025)),
        zero_a=float(max(0.02, 0.008 * usual_a) * rng.uniform(0.3, 1.5)),
        drift_a=float(max(0.01, 0.004 * usual_a) * rng.uniform(0.3, 1.5)),
        noise_a=float(0.01 + 0.005 * usual_a),
        step_a=0.1 if coarse else 0.01,
        volt_gain=float(rng.normal(0, 0.002)),
        step_v=0.1 if rng.random() < 0.4 else 0.01,
        sensor_off_c=float(rng.normal(0, 0.7)) if rng.random() < 0.35 else None,
    )


def read_off(
    rng: np.random.Generator,
    meters: Meters,
    current_a: Array,
    voltage_v: Array,
    temp_c: Array,
    step_s: int = 1,
) -> dict[str, Array]:
    """The log of one mow: columns time_s, current_a, voltage_v and perhaps temperature_c."""
    each = max(meters.every_s // step_s, 1)
    amps, volts, warm = (np.asarray(values, dtype=float)[::each] for values in (current_a, voltage_v, temp_c))
    n = len(amps)
    time = np.arange(n, dtype=float) * each * step_s
    hours = time / 3600
    zero = rng.normal(0, meters.zero_a) + rng.normal(0, meters.drift_a) * hours
    zero = zero + meters.drift_a * np.cumsum(rng.normal(size=n)) * np.sqrt(each * step_s / 3600)
    amps = amps * (1 + meters.gain) + zero + rng.normal(0, meters.noise_a, n)
    volts = volts * (1 + meters.volt_gain) + rng.normal(0, 0.3 * meters.step_v, n)
    columns = {
        "time_s": time,
        "current_a": np.round(np.round(amps / meters.step_a) * meters.step_a, 4),
        "voltage_v": np.round(np.round(volts / meters.step_v) * meters.step_v, 4),
    }
    if meters.sensor_off_c is not None:
        columns["temperature_c"] = np.round(warm + meters.sensor_off_c + rng.normal(0, 0.1, n), 1)
    return columns
