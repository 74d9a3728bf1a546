"""Invented mows of the orchard volunteers' converted cylinder mower, and what a careful reader finds in them.

Nothing here was measured: the load is a random walk that returns to its mean, with clumps of tall grass; the
pack is a curve of volts at rest and one resistance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Figures:
    """What was drawn [Ah, Wh], the highest current [A], and the median volts while current flows [V]."""

    discharge_ah: float
    energy_wh: float
    highest_a: float
    median_v: float


@dataclass(frozen=True)
class TrueMow:
    """One invented recording: arrays of equal length, discharge positive."""

    time_s: np.ndarray
    current_a: np.ndarray
    voltage_v: np.ndarray
    charge_left: np.ndarray  # share of a full pack
    cells: int

    @property
    def used_ah(self) -> np.ndarray:
        steps = (self.current_a[1:] + self.current_a[:-1]) / 2 * np.diff(self.time_s) / 3600
        return np.concatenate([[0.0], np.cumsum(steps)])

    @property
    def used_wh(self) -> np.ndarray:
        power = self.current_a * self.voltage_v
        return np.concatenate([[0.0], np.cumsum((power[1:] + power[:-1]) / 2 * np.diff(self.time_s)) / 3600])

    @property
    def figures(self) -> Figures:
        return figures(self.time_s, self.current_a, self.voltage_v)

    def part(self, keep: np.ndarray | slice) -> TrueMow:
        """The same mow with only some of its readings."""
        return replace(
            self,
            time_s=self.time_s[keep],
            current_a=self.current_a[keep],
            voltage_v=self.voltage_v[keep],
            charge_left=self.charge_left[keep],
        )


@dataclass(frozen=True)
class HobbyFile:
    """A file, what a careful person reads in it, and the choices without which nobody could read it."""

    name: str
    path: Path
    truth: Figures | None  # None where the file holds no discharge that can be read
    why: str
    options: dict[str, Any] = field(default_factory=dict)


Writer = Callable[[Path], HobbyFile]


def figures(
    time_s: np.ndarray, current_a: np.ndarray, voltage_v: np.ndarray, longest_step_s: float = np.inf
) -> Figures:
    """Trapezoids over every step that is not a gap; current back into the pack is not counted."""
    step_s = np.diff(time_s)
    step_s = np.where(step_s <= longest_step_s, step_s, 0.0)
    highest_a = float(current_a.max())

    def drawn(x: np.ndarray) -> float:
        return float((np.clip((x[1:] + x[:-1]) / 2, 0, None) * step_s).sum() / 3600)

    loaded = voltage_v[current_a > 0.02 * highest_a] if highest_a > 0 else np.array([np.nan])
    return Figures(drawn(current_a), drawn(current_a * voltage_v), highest_a, float(np.median(loaded)))


def resting_volts(charge_left: np.ndarray) -> np.ndarray:
    """Volts of one invented NMC cell at rest."""
    return 3.35 + 0.8 * charge_left - 0.11 * np.sin(np.pi * charge_left)


def true_mow(
    seed: int,
    *,
    minutes: float = 20,
    step_s: float = 1.0,
    mean_a: float = 4.6,
    cells: int = 13,
    capacity_ah: float = 10.0,
    start: float = 0.98,
    rest_s: float = 75.0,
    current_a: np.ndarray | None = None,
) -> TrueMow:
    """A mow with a rest before and after; `current_a` is given where the current is decided elsewhere."""
    chance = np.random.default_rng(seed)
    time_s = np.arange(0, minutes * 60 + 2 * rest_s + step_s / 2, step_s)
    if current_a is None:
        keep = np.exp(-step_s / 4.0)
        walk = np.zeros(time_s.size)
        for k, push in enumerate(chance.normal(size=time_s.size)):
            walk[k] = keep * walk[k - 1] + np.sqrt(1 - keep**2) * push if k else push
        clump = 3.5 * np.exp(-((((time_s % 211.0) - 90.0) / 9.0) ** 2))
        current_a = mean_a * np.clip(0.94 + 0.28 * walk + 0.16 * clump, 0.3, None)
        current_a = np.where((time_s < rest_s) | (time_s > rest_s + minutes * 60), 0.0, current_a)
    used = np.concatenate([[0.0], np.cumsum((current_a[1:] + current_a[:-1]) / 2 * np.diff(time_s)) / 3600])
    left = start - used / capacity_ah
    noise = chance.normal(scale=0.0006, size=time_s.size)
    volts = cells * (resting_volts(left) - 0.008 * current_a * 10 / capacity_ah + noise)
    return TrueMow(time_s, current_a, volts, left, cells)


def cell_volts(mow: TrueMow) -> np.ndarray:
    """The cells of the pack [V], one column each: they differ by a few mV and add up to the pack's volts."""
    apart = np.linspace(-0.004, 0.004, mow.cells)
    return mow.voltage_v[:, None] / mow.cells + apart[None, :]


def put(path: Path, lines: Iterable[str], encoding: str = "utf-8", newline: str = "\r\n") -> Path:
    """Write lines as a logger would: the last one has a line end too."""
    path.write_bytes((newline.join(lines) + newline).encode(encoding))
    return path


def clock(seconds: float, places: int = 0) -> str:
    """The time of day as h:mm:ss, from 0 again after midnight."""
    seconds = round(seconds, places)
    minutes, rest = divmod(seconds % 86400, 60)
    width = 3 + places if places else 2
    return f"{int(minutes // 60):02d}:{int(minutes % 60):02d}:{rest:0{width}.{places}f}"


def comma(value: float, places: int) -> str:
    """A number with a decimal comma."""
    return f"{value:.{places}f}".replace(".", ",")
