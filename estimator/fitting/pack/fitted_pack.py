"""A pack as its logs show it: rated values, fitted parameters and their covariance."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np

from estimator.arrays import Array
from estimator.descriptions import Pack
from estimator.errors import check_kind
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import peukert_lag
from estimator.fitting.pack.log_grid import Pace
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP, family_modes_v, grid_open_circuit_v
from estimator.fitting.warmth import USUAL, Warming
from estimator.results import shown

CURVE_AND_FAMILY = np.r_[prior.CURVE, prior.FAMILY]
"""The parameters that make the open-circuit curve."""

LEAST_SLOPE_V = 0.5
"""Least slope [V per unit charge, one cell] at the cut-off in the linear rule for the charge left there,
which would run away on a flatter curve."""

PACES_APART, MOST_LEFT = 0.05, 0.3
"""The charge that a pack gives at two paces of mowing differs by at most the first share, as a shelf in the
curve near empty would make it jump; a cut-off leaves at most the second (common practice: data sheets)."""


@shown
@dataclass(frozen=True, eq=False)
class FittedPack(Pack):
    """A pack with fitted parameters, which can be given wherever a Pack is taken.

    rated : the pack as the user described it; `capacity_ah` and `resistance_ohm` (at half charge) are fitted,
        `chemistry` is the family that the volts fit
    mean, covariance : (parameters,), (parameters, parameters) of the parameters in `prior`
    usable : capacity down to rest volts at the cut-off, or to `stops_at`, over the model's own capacity
    pace : that of the logs, the latest counting most; a usual one before any log
    logs : how many logs were fitted
    last_day : day of the last log, None where it was not dated
    warming : how the pack warms, by the logs that measured its temperature
    stops_at : surface charge at which the battery itself last stopped the motor, 0 where it never did
    """

    rated: Pack = field(kw_only=True)
    mean: Array = field(kw_only=True)
    covariance: Array = field(kw_only=True)
    usable: float = field(default=1.0, kw_only=True)
    pace: Pace = field(default=Pace(), kw_only=True)
    logs: int = field(default=0, kw_only=True)
    last_day: date | None = field(default=None, kw_only=True)
    warming: Warming = field(default=USUAL, kw_only=True)
    stops_at: float = field(default=0.0, kw_only=True)

    def __post_init__(self) -> None:
        """Show what is fitted in the plain fields; nonsense was already refused in the rated pack."""
        object.__setattr__(self, "capacity_ah", self.own_ah * self.usable)
        object.__setattr__(self, "resistance_ohm", prior.half_full_ohm(self.mean))

    @property
    def own_ah(self) -> float:
        """The model's own capacity [Ah], down to its charge of zero."""
        return float(self.own_ah_at(self.mean))

    def own_ah_at(self, parameters: Array) -> Array:
        """The model's own capacity [Ah] with other parameters (parameters,), or (n,) with (n, parameters)."""
        return np.asarray(self.rated.capacity_ah * np.exp(parameters[..., prior.CAPACITY]))

    @property
    def capacity_std_ah(self) -> float:
        """Standard uncertainty [Ah] of the capacity."""
        along = usable_slopes(self, self.mean)
        return float(self.capacity_ah * np.sqrt(along @ self.covariance @ along))

    @property
    def by_its_label(self) -> bool:
        """Whether the logs say no more about the capacity than label and age do."""
        by_label, std = prior.capacity_by_label(self.rated, self.last_day)
        moved = abs(float(np.log(self.capacity_ah / self.rated.capacity_ah)) - by_label) / std
        return moved < 0.25 and self.capacity_std_ah > 0.9 * std * self.capacity_ah

    @property
    def usable_ah(self) -> float:
        """The charge [Ah] that the pack gives when mowing, from full until the motor stops."""
        return self.capacity_ah * given_at_pace(self, self.pace)

    @property
    def usable_std_ah(self) -> float:
        """Standard uncertainty [Ah] of that, from the capacity and from what the pace leaves behind."""
        values, vectors = np.linalg.eigh(self.covariance)
        steps = (vectors * np.sqrt(np.maximum(values, 0.0))).T  # one sigma each way
        means = np.array([self.mean + steps, self.mean - steps])
        given = [[given_at_pace(replace(self, mean=each), self.pace) for each in side] for side in means]
        more, less = means[:, :, prior.CAPACITY] + np.log(np.maximum(given, 1e-3))
        return float(self.usable_ah * np.linalg.norm(more - less) / 2)

    def as_plain(self) -> dict[str, Any]:
        """The pack as numbers, words and lists, for JSON."""
        return {
            "rated": asdict(self.rated),
            "chemistry": self.chemistry,
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "usable": self.usable,
            "pace": asdict(self.pace),
            "logs": self.logs,
            "last_day": self.last_day.isoformat() if self.last_day else None,
            "warming": [*self.warming.mean, *self.warming.covariance],
            "stops_at": self.stops_at,
        }

    @staticmethod
    def from_plain(plain: dict[str, Any]) -> FittedPack:
        """The inverse of `as_plain`."""
        return assemble(
            Pack(**plain["rated"]),
            np.array(plain["mean"], float),
            np.array(plain["covariance"], float),
            usable=float(plain["usable"]),
            pace=Pace(**plain["pace"]),
            logs=int(plain["logs"]),
            last_day=date.fromisoformat(plain["last_day"]) if plain["last_day"] else None,
            warming=Warming(tuple(plain["warming"][:2]), tuple(plain["warming"][2:])),
            chemistry=plain["chemistry"],
            stops_at=plain["stops_at"],
        )


def assemble(
    rated: Pack, mean: Array, covariance: Array, *, chemistry: str | None = None, **known: Any
) -> FittedPack:
    """A pack as described, with fitted parameters.

    chemistry : the family that its volts fit, where it is not the one in `rated`; known : its other fields
    """
    values = {**vars(rated), "chemistry": chemistry or rated.chemistry}
    return FittedPack(**values, rated=rated, mean=mean, covariance=covariance, **known)


def as_fitted(pack: Pack) -> FittedPack:
    """The pack itself if it is fitted, else the prior of its chemistry and rated values.

    >>> as_fitted(Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)).capacity_std_ah > 0.5
    True
    """
    if isinstance(pack, FittedPack):
        return pack
    check_kind("pack", pack, Pack)
    mean = prior.prior_mean(pack)
    left = charge_at_cut_off(pack, mean)
    mean[prior.CAPACITY] = -np.log(1.0 - left)  # the rated capacity is that down to the cut-off
    independent = prior.prior_covariance(pack)
    back = np.eye(len(mean))
    back[prior.CAPACITY] = -usable_slopes(pack, mean)
    back[prior.CAPACITY, prior.CAPACITY] = 1.0
    covariance = back @ independent @ back.T
    return assemble(pack, mean, covariance, usable=1.0 - left)


def aged(fitted: FittedPack, day: date | None) -> FittedPack:
    """The pack on the day of its first log, faded by age unless hand readings showed its capacity."""
    fade, std = prior.capacity_by_label(fitted.rated, day)
    if fitted.logs or fitted.last_day is not None or fade == 0.0:
        return fitted
    share = min((fitted.capacity_std_ah / fitted.capacity_ah / prior.label_std(fitted)) ** 2, 1.0)
    mean, covariance = fitted.mean.copy(), fitted.covariance.copy()
    mean[prior.CAPACITY] += share * fade
    covariance[prior.CAPACITY, prior.CAPACITY] += share**2 * (std**2 - prior.label_std(fitted) ** 2)
    return replace(fitted, mean=mean, covariance=covariance, last_day=day)


def charge_at_cut_off(pack: Pack, mean: Array) -> float:
    """The model's own charge at which a cell at rest shows the cut-off: no slow discharge gives it."""
    curve = np.maximum.accumulate(open_circuit_table(pack, mean))
    return float(np.clip(np.interp(pack.cut_off_v / pack.series, curve, GRID), 0.0, MOST_LEFT))


def usable_slopes(pack: Pack, mean: Array) -> Array:
    """(parameters,) how the logarithm of the capacity down to the cut-off changes with each parameter."""
    left = charge_at_cut_off(pack, mean)
    slope = float(np.interp(left, GRID, np.gradient(open_circuit_table(pack, mean), GRID_STEP)))
    gradient: Array = np.eye(len(mean))[prior.CAPACITY]
    here = [np.interp(left, GRID, column) for column in curve_slopes(pack).T]
    gradient[CURVE_AND_FAMILY] = np.array(here) / max(slope, LEAST_SLOPE_V) / (1.0 - left)
    return gradient


def open_circuit_table(pack: Pack, mean: Array) -> Array:
    """(grid,) open-circuit voltage [V] of one cell over the model's charge grid."""
    return np.asarray(grid_open_circuit_v(pack.chemistry) + curve_slopes(pack) @ mean[CURVE_AND_FAMILY])


def curve_apart(before: FittedPack, mean: Array) -> float:
    """Squared Mahalanobis distance of the open-circuit curve at `mean` from the belief before."""
    moved = (mean - before.mean)[CURVE_AND_FAMILY]
    believed = before.covariance[np.ix_(CURVE_AND_FAMILY, CURVE_AND_FAMILY)]
    return float(moved @ np.linalg.solve(believed, moved))


def curve_slopes(pack: Pack) -> Array:
    """(grid, 23) how one cell's open-circuit voltage [V] changes with `CURVE_AND_FAMILY`."""
    return np.concatenate([prior.curve_basis(), family_modes_v(pack.chemistry)], axis=1)


def given_at_pace(fitted: FittedPack, pace: Pace) -> float:
    """Share of a slow discharge that a load gets out: what a mow gave, converted to this pace."""
    # lead-acid gives different shares at different paces, and never nearly all
    most, apart = (1.0, np.inf) if fitted.chemistry == "lead_acid" else (MOST_LEFT, PACES_APART)
    given = 1.0 - min(left_at_pace(fitted, pace), most)
    if pace.gave is None:
        return given
    moved = float(np.clip(given / (1.0 - min(pace.left, most)), 1 - apart, 1 + apart))
    return min(pace.gave * moved, 1.0)


def left_at_pace(fitted: FittedPack, pace: Pace) -> float:
    """Share of a slow discharge that a load's peaks leave behind, 0..0.9.

    It is the first charge, coming from full, at which the voltage under the peak rate meets the cut-off, with
    the surface charge lagging as the mean rate makes it.
    """
    ohmic, quick = prior.resistance_table(fitted.mean)
    warm = prior.arrhenius(pace.temperature_c, fitted.mean[prior.ACTIVATION_OHM])
    slow = quick * float(np.exp(fitted.mean[prior.SLOW]))
    sag_v = warm * fitted.own_ah * ((ohmic + quick) * pace.peak_c + slow * pace.mean_c)
    short = fitted.series * open_circuit_table(fitted, fitted.mean) - sag_v <= fitted.cut_off_v
    surface = max(float(GRID[short].max()), fitted.stops_at or -1.0)  # far below empty every curve is short
    colder = prior.arrhenius(pace.temperature_c, fitted.mean[prior.ACTIVATION_LAG])
    if fitted.chemistry == "lead_acid":
        behind = float(peukert_lag(pace.mean_c * colder, 1.0 + np.exp(fitted.mean[prior.PEUKERT])))
    else:
        shape = np.exp(prior.lag_basis() @ fitted.mean[prior.LAG_SHAPE])
        behind = float(np.exp(fitted.mean[prior.LAG]).sum() * np.interp(surface, GRID, shape) * colder)
        behind *= pace.mean_c / 3600.0
    left = (surface + behind - (1.0 - fitted.usable)) / fitted.usable
    return float(np.clip(left, 0.0, 0.9))
