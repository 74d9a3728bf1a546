"""How each chemistry charges: chargers, habits with their spread, and many possible courses of one charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.amounts import check_amount
from estimator.arrays import Array
from estimator.conversion.charge_course import ChargeCourse, gained_ah
from estimator.descriptions import Pack
from estimator.errors import InputError

_MOST_KNEE = 0.6  # a charger of about 1 C is at constant voltage for half the charge (common practice)
CHARGER_EFFICIENCY = (0.82, 0.93)
"""Share of the energy from the socket that a charger passes on (common practice)."""


@dataclass(frozen=True)
class _Habit:
    """How a chemistry charges, with the range (low, high) between packs and chargers: common practice.

    charge_cell_v, mowing_cell_v : mean cell voltage [V] while charging and while mowing
    knee : share of the charge missing where the constant current ends, per 1/h of charge rate
    end_rate : rate [1/h] at which the charger stops
    kept : share of the charge put in that is kept
    high_rate : charge rate [1/h] above which the maker should be asked
    """

    charge_cell_v: tuple[float, float]
    mowing_cell_v: float
    knee: tuple[float, float]
    end_rate: tuple[float, float]
    kept: tuple[float, float]
    high_rate: float


# common practice, as said above; tests compare charging times with two cell models
_LITHIUM_ION = _Habit((3.78, 3.92), 3.6, (0.12, 0.40), (0.02, 0.08), (0.99, 1.0), 1.0)
HABITS = {
    "nmc": _LITHIUM_ION,
    "nca": _LITHIUM_ION,
    "lco": _LITHIUM_ION,
    "lfp": _Habit((3.33, 3.45), 3.2, (0.01, 0.15), (0.02, 0.08), (0.99, 1.0), 1.0),
    "lithium": _LITHIUM_ION,
    "lead_acid": _Habit((2.20, 2.35), 1.95, (1.0, 2.5), (0.01, 0.03), (0.80, 0.92), 0.25),
}


@dataclass(frozen=True)
class Charger:
    """A charger, by what it gives to the pack: watts [W] or amps [A].

    >>> Charger(watts=240.0).watts
    240.0
    """

    watts: float | None = None
    amps: float | None = None

    def __post_init__(self) -> None:
        if (self.watts is None) == (self.amps is None):
            raise InputError("the charger needs watts or amps", mend="give one of the two")
        check_amount("charger_w", self.watts)
        check_amount("charger_a", self.amps)


@dataclass(frozen=True)
class ChargeDraws:
    """Many possible packs and chargers for the same charge; arrays (n,)."""

    course: ChargeCourse
    amps: Array
    charge_v: Array
    kept: Array
    efficiency: Array


def courses(
    pack: Pack, charger: Charger, missing_ah: Array, capacity_ah: Array, rng: np.random.Generator
) -> ChargeDraws:
    """Many possible courses of one charge, from the missing charge and the capacity of each (n,) [Ah]."""
    habit, n = HABITS[pack.chemistry], len(missing_ah)
    charge_v = rng.uniform(*habit.charge_cell_v, n) * pack.series
    kept = rng.uniform(*habit.kept, n)
    amps = charger.watts / charge_v if charger.watts is not None else np.full(n, charger.amps, dtype=float)
    rate = amps / capacity_ah
    course = ChargeCourse(
        missing_ah=missing_ah,
        knee_ah=capacity_ah * np.minimum(rate * rng.uniform(*habit.knee, n), _MOST_KNEE),
        fill_a=amps * kept,
        last=np.minimum(rng.uniform(*habit.end_rate, n) / rate, 0.99),
    )
    return ChargeDraws(course, amps, charge_v, kept, rng.uniform(*CHARGER_EFFICIENCY, n))


def charge_after(
    pack: Pack, charger: Charger, minutes: float, charge: Array, capacity_ah: Array, rng: np.random.Generator
) -> Array:
    """Charge (n,) after some minutes on the charger, for many possible packs at once.

    charge, capacity_ah (n,) : charge 0..1 before, and capacity [Ah], of each

    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> before, capacity = np.array([0.2, 1.0]), np.array([10.0, 10.0])
    >>> after = charge_after(pack, Charger(amps=2.0), 60.0, before, capacity, np.random.default_rng(1))
    >>> after.round(1).tolist()
    [0.4, 1.0]
    """
    course = courses(pack, charger, capacity_ah * (1 - np.clip(charge, 0.0, 1.0)), capacity_ah, rng).course
    return np.asarray(1 - (course.missing_ah - gained_ah(course, minutes / 60)) / capacity_ah)
