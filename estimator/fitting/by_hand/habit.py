"""How a person's typical current compares with the mean, learnt from all their mows, by machine and lawn.

A linear model of the logarithm of mean over expected current, with effects of the person, of each machine and
of each lawn (Searle, Casella and McCulloch 1992, Variance Components, 7.4). Mows with hand readings show all
three, if a charger's Wh, an AVG reading or rest volts give the mean; logged mows show machine and lawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from estimator.arrays import Array
from estimator.importer.by_hand.amps import (
    IDLE_TO_TYPICAL,
    MOW_STD,
    PERSON_STD,
    STILL_SHARE,
    Habit,
    usual_ratio,
)

if TYPE_CHECKING:
    from estimator.fitting.load.features import MowFeatures


OF_MACHINE, OF_LAWN = 0.09, 0.05
OF_PERSON = math.sqrt(PERSON_STD**2 - OF_MACHINE**2 - OF_LAWN**2)
"""Parts of `PERSON_STD`: in the invented families the share of turns depends on machine and lawn, and differs
between families by as much again."""
METER_STD = 0.02
"""Error that all readings of one meter share and no other reading shows (common practice)."""
ALIKE = 0.8
"""Share of the variance of what rest volts, a gauge and a charger say that is the same in all mows: the
pack's curve and capacity, the voltmeter, the charger's losses (common practice). Five mows that agree say
hardly more than one. The shared error has one size, that of a usual mow: if it grew with each mow's own
uncertainty, a few short mows among long ones would seem to separate it from the person's habit."""


@dataclass(frozen=True)
class Habits:
    """Effects on the logarithm of mean over expected current: first the person, then the error that all
    evidence shares [in units of `alike_std`], then machines and lawns by name."""

    names: tuple[tuple[str, str | None], ...]
    mean: Array
    covariance: Array
    alike_std: float

    def of(self, machine: str | None, lawn: str | None) -> Habit:
        """The habit with one machine on one lawn; a machine or lawn never seen has its usual spread."""
        row = self.row(machine, lawn)
        unseen = sum(
            std**2
            for kind, name, std in (("machine", machine, OF_MACHINE), ("lawn", lawn, OF_LAWN))
            if (kind, name) not in self.names
        )
        return Habit(float(row @ self.mean), math.sqrt(float(row @ self.covariance @ row) + unseen), MOW_STD)

    def row(self, machine: str | None, lawn: str | None) -> Array:
        """(effects,) 1 for each effect that acts, else 0."""
        acting = {("person", None), ("machine", machine), ("lawn", lawn)}
        return np.array([float(name in acting) for name in self.names])


def learn_habits(mows: Sequence[MowFeatures]) -> Habits:
    """What all mows say about how typical and mean current relate.

    >>> learn_habits([]).of("mower", "orchard").std == PERSON_STD
    True
    """
    machines = [("machine", name) for name in dict.fromkeys(m.machine for m in mows)]
    lawns = [("lawn", name) for name in dict.fromkeys(m.lawn for m in mows)]
    names = (("person", None), ("evidence", None), *machines, *lawns)
    told = [(one, seen) for one in mows if (seen := _seen(one)) is not None]
    certain_by_hand = [seen.std**-2 for one, seen in told if one.spot]
    alike_std = math.sqrt(ALIKE / np.mean(certain_by_hand)) if certain_by_hand else 0.0
    habits = Habits(names, np.zeros(0), np.zeros((0, 0)), alike_std)
    spread = np.array([OF_PERSON, 1.0, *(OF_MACHINE for _ in machines), *(OF_LAWN for _ in lawns)])
    certain, wanted = np.diag(spread**-2), np.zeros(len(spread))
    for one, seen in told:
        row = habits.row(one.machine, one.lawn)
        row[0], row[1] = one.spot, one.spot * alike_std
        weight = 1.0 / (seen.own_variance(alike_std) + MOW_STD**2)
        certain += weight * np.outer(row, row)
        wanted += weight * seen.log_ratio * row
    covariance = np.linalg.inv(certain)
    return Habits(names, covariance @ wanted, covariance, alike_std)


@dataclass(frozen=True)
class _Seen:
    """What one mow alone says about the ratio, without the belief before it."""

    log_ratio: float
    std: float

    def own_variance(self, alike_std: float) -> float:
        """The part of the variance that is this mow's own; the rest is the same in all mows."""
        return max(self.std**2 - alike_std**2, (1 - ALIKE) * self.std**2)


def _seen(mow: MowFeatures) -> _Seen | None:
    if not mow.spot:
        if mow.phases is None or not mow.phases.cutting_w > 0 or not mow.mean_w > 0:
            return None
        idle = mow.phases.idle_w
        share = IDLE_TO_TYPICAL if idle is None else idle / mow.phases.cutting_w
        usual = usual_ratio(share) / (1 - STILL_SHARE)  # mean_w is over the minutes that the motor ran
        return _Seen(math.log(mow.mean_w / mow.phases.cutting_w / usual), 0.0)
    if mow.hand_ratio is None or mow.hand_ratio_std is None:
        return None
    before = PERSON_STD**2 + MOW_STD**2
    told = mow.hand_ratio_std**-2 - 1.0 / before
    if told < 0.05 / before:
        return None
    return _Seen(mow.hand_ratio * mow.hand_ratio_std**-2 / told, told**-0.5)


def reweighed(mows: Sequence[MowFeatures]) -> tuple[MowFeatures, ...]:
    """The mows, with the energy of each one noted by hand corrected by what all of them say together.

    `energy_log_std` holds the uncertainty of the single mow, `gain_std` what all mows share.
    """
    if not any(one.spot for one in mows):
        return tuple(mows)
    habits = learn_habits(mows)
    return tuple(_reweighed(one, habits) for one in mows)


def _reweighed(mow: MowFeatures, habits: Habits) -> MowFeatures:
    if mow.spot and mow.hand_ratio is None and mow.energy_log_std > PERSON_STD:  # only volts at rest tell
        alike = ALIKE * mow.energy_log_std**2
        own_std = math.sqrt(1 - ALIKE) * mow.energy_log_std
        return replace(mow, energy_log_std=own_std, gain_std=math.sqrt(METER_STD**2 + alike))
    if not mow.spot or mow.hand_ratio is None or mow.hand_ratio_std is None:
        return mow
    seen = _seen(mow)
    told = 0.0 if seen is None else 1.0 / seen.own_variance(habits.alike_std)
    own = 1.0 / (MOW_STD**-2 + told)
    row = own / MOW_STD**2 * habits.row(mow.machine, mow.lawn)
    row[1] = -own * told * habits.alike_std
    log_ratio = float(row @ habits.mean) + (0.0 if seen is None else own * told * seen.log_ratio)
    rest = max(mow.energy_log_std**2 - mow.hand_ratio_std**2, 0.02**2)
    factor = math.exp(log_ratio - mow.hand_ratio)
    return replace(
        mow,
        energy_wh=mow.energy_wh * factor,
        mean_w=mow.mean_w * factor,
        energy_log_std=min(1.0, math.sqrt(rest + own)),
        gain_std=math.hypot(METER_STD, math.sqrt(float(row @ habits.covariance @ row))),
    )
