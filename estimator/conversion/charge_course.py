"""The course of a charge in closed form: constant current, then a current that falls with the missing charge.

Near full, the open-circuit voltage rises evenly behind a resistance. So at the charger's constant voltage the
current falls in proportion to the missing charge, and the taper is an exponential in time. It ends at full,
where the current has fallen to a known share of the constant current.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array


@dataclass(frozen=True)
class ChargeCourse:
    """One charge, or n possible ones with arrays (n,).

    missing_ah : charge missing from full [Ah] at the start
    knee_ah : charge missing from full [Ah] where the constant current ends
    fill_a : charge that the constant current adds [Ah per hour]
    last : the current at full as a share of the constant current, between 0 and 1

    >>> course = ChargeCourse(np.array([6.0]), np.array([1.0]), np.array([2.0]), np.array([0.1]))
    >>> bulk_hours(course).tolist(), hours_to(course, 0.0).round(3).tolist()
    ([2.5], [3.779])
    """

    missing_ah: Array
    knee_ah: Array
    fill_a: Array
    last: Array

    @property
    def past_ah(self) -> Array:
        """How far past full [Ah] the falling current would reach zero, since at full it is still `last`."""
        return self.knee_ah * self.last / (1 - self.last)

    @property
    def time_constant_h(self) -> Array:
        """Hours in which the falling current falls to 1/e."""
        return (self.knee_ah + self.past_ah) / self.fill_a


def bulk_hours(course: ChargeCourse) -> Array:
    """Hours at constant current."""
    return np.maximum(course.missing_ah - course.knee_ah, 0.0) / course.fill_a


def hours_to(course: ChargeCourse, left_ah: float) -> Array:
    """Hours until only `left_ah` [Ah] are missing, 0 for full; 0 where no more are missing at the start."""
    bulk = np.maximum(course.missing_ah - np.maximum(course.knee_ah, left_ah), 0.0) / course.fill_a
    start = np.minimum(course.missing_ah, course.knee_ah)
    fall = np.log((start + course.past_ah) / (np.minimum(left_ah, start) + course.past_ah))
    return np.asarray(bulk + course.time_constant_h * fall, dtype=np.float64)


def gained_ah(course: ChargeCourse, hours: float) -> Array:
    """Charge [Ah] put back in some hours, at most what was missing.

    >>> course = ChargeCourse(np.array([6.0]), np.array([1.0]), np.array([2.0]), np.array([0.1]))
    >>> gained_ah(course, 1.0).tolist(), gained_ah(course, 24.0).tolist()
    ([2.0], [6.0])
    """
    bulk = bulk_hours(course)
    start = np.minimum(course.missing_ah, course.knee_ah)
    falling = np.exp(-np.maximum(hours - bulk, 0.0) / course.time_constant_h)
    left = np.maximum((start + course.past_ah) * falling - course.past_ah, 0.0)
    return np.asarray(
        np.where(hours <= bulk, course.fill_a * hours, course.missing_ah - left), dtype=np.float64
    )
