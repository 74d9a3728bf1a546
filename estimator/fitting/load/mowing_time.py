"""How long a lawn takes, by width, pace, overlap and turns (effective field capacity, ASABE EP496)."""

from __future__ import annotations

import math

from estimator.descriptions import Lawn, Machine

USUAL_WIDTH_M = 0.43
"""Width of a walk-behind mower, 0.35 to 0.53 m (common practice)."""
USUAL_PACE_M_S = 1.0
"""Walking pace behind a mower, 3 to 4 km/h (common practice)."""
OVERLAP = 0.10
"""Share of the width mown twice (common practice); ASABE EP496 has a field efficiency instead."""
TURN_S = 4.0
"""Time of a turn at the end of a row (common practice)."""
LENGTH_TO_WIDTH = 1.5
"""Length over width of a lawn whose shape was not given (common practice)."""


def mowing_s(
    area_m2: float,
    cutting_width_m: float,
    pace_m_s: float,
    overlap: float = OVERLAP,
    turn_s: float = TURN_S,
    length_to_width: float = LENGTH_TO_WIDTH,
) -> float:
    """Time [s] to mow a rectangular lawn in parallel rows, with a turn between rows.

    overlap is the share of the cutting width mown twice, turn_s the time of one turn [s], length_to_width the
    proportion of the rectangle. The defaults are common practice for walk-behind mowers.

    A lawn of 10 m × 6 m cut 0.5 m wide without overlap at 1 m/s takes 12 rows of 10 s and 11 turns:

    >>> mowing_s(60.0, 0.5, 1.0, overlap=0.0, turn_s=4.0, length_to_width=10 / 6)
    164.0
    """
    row_m = math.sqrt(area_m2 * length_to_width)
    rows = max(1, math.ceil(round(area_m2 / row_m / (cutting_width_m * (1 - overlap)), 9)))
    return rows * row_m / pace_m_s + (rows - 1) * turn_s


def usual_area_rate(lawn: Lawn, machine: Machine) -> float:
    """Area rate [m²/min] by `mowing_s` (the effective field capacity of EP496), with the usual width and
    walking pace where the machine's are not known.

    >>> round(usual_area_rate(Lawn("a", 300.0), Machine(cutting_width_m=0.5, pace_m_s=0.5)), 1)
    12.1
    """
    width = machine.cutting_width_m or USUAL_WIDTH_M
    return 60 * lawn.area_m2 / mowing_s(lawn.area_m2, width, machine.pace_m_s or USUAL_PACE_M_S)
