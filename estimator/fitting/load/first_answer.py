"""The energy a machine needs per area before any log of it: power by cutting width, divided by area rate."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from estimator.descriptions import Lawn, Machine
from estimator.fitting.load.grass_effects import AREA_SCALE_M2, ENERGY_PRIOR
from estimator.fitting.load.mixed_model import MixedPrior
from estimator.fitting.load.mowing_time import USUAL_WIDTH_M, usual_area_rate


@dataclass(frozen=True)
class KindOfMower:
    """Power [W] drawn from the battery per metre of cutting width, the standard deviation of its logarithm,
    and where it comes from."""

    w_per_m: float
    log_std: float
    source: str


_TWO_TURFS = "1.15 and 1.22 kW measured on two turfs (Fluck and Busey 1988, Trans. ASAE 31, 1304-1308)"
KINDS_OF_MOWER = {
    "cylinder": KindOfMower(620.0, 0.44, "cylinder mower: power by width from common practice"),
    "rotary": KindOfMower(1900.0, 0.44, f"rotary mower: {_TWO_TURFS}, less for small light ones"),
    "flail": KindOfMower(3300.0, 0.44, "flail mower: power by width from common practice"),
}
"""A rotary mower also throws grass and moves air, a cylinder mower only cuts: cutting alone took 14 to 196 W
by measured torque at 4 to 2 cm (J. Keteknikan Pertanian 2008), a rotary mower 1.15 to 1.22 kW in all. The
source does not give the width of the latter; half a metre is assumed."""


def energy_prior(machine: Machine) -> MixedPrior:
    """The prior of the energy per area before any mow of this machine.

    It is power divided by area rate, from kind, width and pace; where the kind is not given, it is the wide
    prior of all machines.

    >>> known = energy_prior(Machine(kind="rotary", cutting_width_m=0.5, pace_m_s=0.5))
    >>> round(math.exp(known.mean[0]), 1), bool(known.std[0] < energy_prior(Machine()).std[0])
    (1.3, True)
    """
    if machine.kind is None:
        return ENERGY_PRIOR
    kind = KINDS_OF_MOWER[machine.kind]
    rate_m2_h = 60.0 * usual_area_rate(Lawn("usual", AREA_SCALE_M2), machine)
    mean, std = ENERGY_PRIOR.mean.copy(), ENERGY_PRIOR.std.copy()
    mean[0] = math.log(kind.w_per_m * (machine.cutting_width_m or USUAL_WIDTH_M) / rate_m2_h)
    std[0] = kind.log_std
    return replace(ENERGY_PRIOR, mean=mean, std=std)
