"""What the user describes once: lawns, grass, packs and machines.

Discharge current is positive everywhere. Volts, amps and ohms are of the whole pack, never of one cell,
unless the name says `cell`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from estimator.errors import InputError

CHEMISTRIES = ("nmc", "nca", "lco", "lfp", "lead_acid")
MOISTURES = ("dry", "damp", "wet")
MOISTURE_SIGNS = {
    "dry": "leaves no mark on a shoe",
    "damp": "leaves a mark on a shoe",
    "wet": "drips",
}
"""How to tell how wet the grass is (common practice)."""
STOPPED_SHORT = "stopped short"
"""Tag of a mow that ended before its lawn was done: its energy per area would be too low."""
LAWN_DONE = "lawn done"
"""Tag of a mow whose lawn was done although the pack was at its cut-off just then."""
TAGS_THAT_COUNT = (
    "'stopped short' where the lawn was not finished, "
    "'lawn done' where it was although the pack was at its cut-off"
)
"""The tags that decide whether a mow tells the energy of a whole lawn, for labels and help."""
FULL_CELL_V = {"nmc": 4.2, "nca": 4.2, "lco": 4.2, "lfp": 3.65, "lead_acid": 2.45}
"""Voltage [V] of a cell at the end of charging (common practice)."""


_LEAST = 1e-6
"""A positive figure under this, like one over its most, is a slip of the keyboard and drowns every answer."""


def _positive(what: str, value: float | None, *, optional: bool = False, most: float = 1e6) -> None:
    if value is None and optional:
        return
    if value is None or not math.isfinite(value) or value <= 0:
        raise InputError(f"{what} is {value}", mend="give a number above zero")
    if not _LEAST <= value <= most:
        raise InputError(f"{what} is {value:g}", mend=f"give a number from {_LEAST:g} to {most:g}")


@dataclass(frozen=True)
class Pack:
    """A battery pack by its rated values.

    chemistry : nmc, nca, lco, lfp or lead_acid
    series : cells in series (for lead_acid: 2 V cells, so a 12 V block counts 6)
    capacity_ah : rated capacity [Ah] of the whole pack
    cut_off_v : voltage [V] at which the controller or battery management stops the motor
    current_limit_a : highest current [A] that controller or battery management allows, if known
    resistance_ohm : resistance [ohm] of the whole pack at 25 °C, if known
    hold_s : time [s] that the voltage must stay under the cut-off before the motor stops
    string_ah : capacity [Ah] of one parallel string, for packs that can be built in whole strings

    >>> Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0).cut_off_v
    39.0
    """

    chemistry: str
    series: int
    capacity_ah: float
    cut_off_v: float
    current_limit_a: float | None = None
    resistance_ohm: float | None = None
    hold_s: float = 1.0
    string_ah: float | None = None
    name: str = "pack"

    def __post_init__(self) -> None:
        if self.chemistry not in CHEMISTRIES:
            raise InputError(
                f"pack {self.name}: chemistry {self.chemistry!r} is not known",
                mend=f"choose one of {', '.join(CHEMISTRIES)}",
            )
        if not 1 <= self.series <= 1000 or int(self.series) != self.series:
            raise InputError(
                f"pack {self.name}: series count is {self.series}", mend="give a whole number from 1 to 1000"
            )
        _positive(f"pack {self.name}: capacity_ah", self.capacity_ah, most=1e5)
        _positive(f"pack {self.name}: cut_off_v", self.cut_off_v, most=1e4)
        full_v = FULL_CELL_V[self.chemistry] * self.series
        if not 0.1 * full_v < self.cut_off_v < 1.04 * full_v:
            raise InputError(
                f"pack {self.name}: cut_off_v is {self.cut_off_v:g}, but {self.series} cells in series of "
                f"{self.chemistry} are full at {full_v:.1f} V",
                mend="give the volts of the whole pack, or count its cells in series again",
            )
        for what in ("current_limit_a", "resistance_ohm", "string_ah"):
            _positive(f"pack {self.name}: {what}", getattr(self, what), optional=True)
        if not 0 <= self.hold_s <= 60:
            raise InputError(f"pack {self.name}: hold_s is {self.hold_s}", mend="give seconds from 0 to 60")


@dataclass(frozen=True)
class Lawn:
    """A named area [m²] mown as one job.

    >>> Lawn("orchard", area_m2=420).name
    'orchard'
    """

    name: str
    area_m2: float

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InputError("a lawn has no name", mend="give it one")
        _positive(f"lawn {self.name}: area_m2", self.area_m2, most=1e7)


@dataclass(frozen=True)
class Grass:
    """What a person can judge by eye; whatever is unknown may be left out.

    moisture : dry, damp or wet
    growth_mm : height [mm] that the cut takes off
    days_since_cut : days since the last cut, where the height was not judged

    >>> Grass(moisture="damp", growth_mm=25).moisture
    'damp'
    """

    moisture: str | None = None
    growth_mm: float | None = None
    days_since_cut: float | None = None

    def __post_init__(self) -> None:
        if self.moisture is not None and self.moisture not in MOISTURES:
            raise InputError(
                f"grass moisture {self.moisture!r} is not known", mend=f"choose one of {', '.join(MOISTURES)}"
            )
        for what in ("growth_mm", "days_since_cut"):
            value = getattr(self, what)
            if value is not None and not (math.isfinite(value) and value >= 0):
                raise InputError(f"grass {what} is {value}", mend="give a number from zero up")
            if value is not None and value > 5000:
                raise InputError(f"grass {what} is {value:g}", mend="give a number up to 5000")


KINDS = ("cylinder", "rotary", "flail")
"""How a mower cuts: blades past a fixed one, a blade that hits the grass, or hammers."""


@dataclass(frozen=True)
class Machine:
    """A converted mower: cutting width [m], walking pace [m/s], rated motor power [W], days of blade care.

    kind : how it cuts, one of `KINDS`, where it is told; says what it takes before it was ever logged
    """

    name: str = "mower"
    cutting_width_m: float | None = None
    pace_m_s: float | None = None
    motor_rated_w: float | None = None
    blade_care: tuple[date, ...] = ()
    kind: str | None = None

    def __post_init__(self) -> None:
        if self.kind is not None and self.kind not in KINDS:
            raise InputError(
                f"machine {self.name}: kind {self.kind!r} is not known",
                mend=f"choose one of {', '.join(KINDS)}",
            )
        for what in ("cutting_width_m", "pace_m_s", "motor_rated_w"):
            _positive(f"machine {self.name}: {what}", getattr(self, what), optional=True)
