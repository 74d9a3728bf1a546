"""Seasons compared: discharge curves, capacity, resistance and energy, and whether a change is more than noise."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.answers.why import Why


@dataclass(frozen=True)
class BandFigure:
    """A figure with its 90 % band."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class SeasonCurve:
    """Discharge curve of a season: voltage [V] with its band against charge drawn [Ah]."""

    ah: tuple[float, ...]
    voltage_v: tuple[float, ...]
    low_v: tuple[float, ...]
    high_v: tuple[float, ...]


@dataclass(frozen=True)
class SeasonFigures:
    """One season: number of mows and the figures that they allow."""

    season: str
    mows: int
    capacity_ah: BandFigure | None
    resistance_ohm: BandFigure | None
    energy_wh_m2: BandFigure | None
    idle_w: BandFigure | None
    curve: SeasonCurve | None


@dataclass(frozen=True)
class Change:
    """A change between two seasons: difference with band, and a plain sentence about it."""

    what: str
    unit: str
    difference: BandFigure
    real: bool
    sentence: str


@dataclass(frozen=True)
class SeasonsAnswer:
    """Seasons side by side."""

    pack: str
    seasons: tuple[SeasonFigures, ...]
    changes: tuple[Change, ...]
    common_power_w: float
    common_temperature_c: float
    why: Why
