"""An invented mow with sagging volts, for tests of two meters: strips, turns, thick patches, slow sags."""

from __future__ import annotations

import numpy as np


def fine_mow(
    seed: int, minutes: float = 30.0, step_s: float = 0.1
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time [s], current [A] and voltage [V] in fine steps."""
    rng = np.random.default_rng(seed)
    n = int(minutes * 60 / step_s)
    t = np.arange(n) * step_s
    current = np.zeros(n)
    at = 20.0
    while at < minutes * 60 - 25:
        strip, turn = rng.uniform(12, 35), rng.uniform(3, 7)
        level = rng.uniform(7, 13)
        current[(t >= at) & (t < at + strip)] = level
        for _ in range(rng.poisson(1.2)):
            begin, last = at + rng.uniform(0, strip), rng.uniform(1, 4)
            current[(t >= begin) & (t < begin + last)] += rng.uniform(4, 15)
        current[(t >= at + strip) & (t < at + strip + turn)] = 3.0
        at += strip + turn
    wander = np.cumsum(rng.normal(0, 0.05, n)) * np.sqrt(step_s)
    current = np.where(
        current > 0, np.clip(current + wander - wander.mean() + rng.normal(0, 0.3, n), 0.5, None), 0.0
    )
    current = np.convolve(current, np.ones(5) / 5, mode="same")
    slow = [np.zeros(n), np.zeros(n)]
    for k, tau in enumerate((8.0, 50.0)):
        a = step_s / tau
        x = 0.0
        out = slow[k]
        for j in range(n):
            x += a * (current[j] - x)
            out[j] = x
    charge = np.cumsum(current) * step_s / 3600
    voltage = 54.0 - 0.7 * charge - 0.08 * current - 0.03 * slow[0] - 0.04 * slow[1]
    return t, current, voltage


def read_off(
    t: np.ndarray, x: np.ndarray, every_s: float, first_s: float, step: float, noise: float, seed: int
):
    """What a meter shows, with instants, noise and rounding of its own; returns true instants and values."""
    rng = np.random.default_rng(seed)
    at = np.arange(first_s, t[-1] - 1.0, every_s)
    shown = np.interp(at, t, x) + rng.normal(0, noise, len(at))
    return at, np.round(shown / step) * step
