"""How long a lawn takes from width, pace, overlap and turns (effective field capacity, ASABE EP496)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from estimator.descriptions import Lawn, Machine
from estimator.errors import InputError

USUAL_WIDTH_M = 0.43
"""Width of a walked mower, 0.35 to 0.53 m (common practice)."""
USUAL_PACE_M_S = 1.0
"""Walking pace behind a mower, 3 to 4 km/h (common practice)."""
OVERLAP = 0.10
"""Share of the width mown twice (common practice); ASABE EP496 takes a field efficiency in its place."""
TURN_S = 4.0
"""To turn at the end of a row (common practice)."""
LENGTH_TO_WIDTH = 1.5
"""Of a lawn whose shape was not given (common practice)."""


@dataclass(frozen=True)
class MowingTime:
    """Time to mow a lawn [s], its parts, and the field efficiency (0..1) that EP496 multiplies by."""

    seconds: float
    rows: int
    mowing_s: float
    turning_s: float
    efficiency: float
    area_rate_m2_min: float


def field_capacity_ha_h(pace_km_h: float, width_m: float, efficiency: float) -> float:
    """Effective field capacity [ha/h] = pace [km/h] × width [m] × field efficiency / 10 (ASABE EP496).

    >>> field_capacity_ha_h(3.6, 0.43, 0.8)
    0.12384...
    """
    return pace_km_h * width_m * efficiency / 10


def mowing_time(
    lawn: Lawn,
    cutting_width_m: float,
    pace_m_s: float,
    overlap: float = OVERLAP,
    turn_s: float = TURN_S,
    length_to_width: float = LENGTH_TO_WIDTH,
) -> MowingTime:
    """Time to mow a rectangular lawn in parallel rows, with a turn between rows.

    overlap is the share of the cutting width mown twice, turn_s the time of one turn [s], length_to_width the
    rectangle's proportion. The defaults are common practice for walking behind a mower.

    A lawn of 10 m × 6 m cut 0.5 m wide without overlap at 1 m/s takes 12 rows of 10 s and 11 turns:

    >>> mowing_time(Lawn("square", 60), 0.5, 1.0, overlap=0.0, turn_s=4.0, length_to_width=10 / 6).seconds
    164.0
    """
    for what, value in (
        ("cutting width", cutting_width_m),
        ("pace", pace_m_s),
        ("length to width", length_to_width),
    ):
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{what} is {value}", mend="give a number above zero")
    if not 0 <= overlap < 1:
        raise InputError(f"overlap is {overlap}", mend="give a share of the cutting width from 0 up to 1")
    if not turn_s >= 0:
        raise InputError(f"turn_s is {turn_s}", mend="give seconds from zero up")
    row_m = math.sqrt(lawn.area_m2 * length_to_width)
    rows = max(1, math.ceil(round(lawn.area_m2 / row_m / (cutting_width_m * (1 - overlap)), 9)))
    mowing, turning = rows * row_m / pace_m_s, (rows - 1) * turn_s
    seconds = mowing + turning
    efficiency = lawn.area_m2 / (seconds * cutting_width_m * pace_m_s)
    return MowingTime(
        seconds=seconds,
        rows=rows,
        mowing_s=mowing,
        turning_s=turning,
        efficiency=efficiency,
        area_rate_m2_min=field_capacity_ha_h(3.6 * pace_m_s, cutting_width_m, efficiency) * 10_000 / 60,
    )


def usual_area_rate(lawn: Lawn, machine: Machine) -> float:
    """Area rate [m²/min] by `mowing_time`, with usual width and pace where the machine's are not known.

    >>> round(usual_area_rate(Lawn("a", 300.0), Machine(cutting_width_m=0.5, pace_m_s=0.5)), 1)
    12.1
    """
    width = machine.cutting_width_m or USUAL_WIDTH_M
    return mowing_time(lawn, width, machine.pace_m_s or USUAL_PACE_M_S).area_rate_m2_min
