"""A pack as the logs know it: the rated values, the fitted parameters and their covariance."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estimator.amounts import check_kind
from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.open_circuit import GRID, grid_open_circuit_v
from estimator.fitting.pack.warmth import USUAL, Warming
from estimator.results import shown

Array = NDArray[np.float64]

MOST_LEFT = 0.3
"""A cut-off that would leave more than this share of the charge is taken for one that leaves this much."""


@shown
@dataclass(frozen=True, eq=False)
class FittedPack(Pack):
    """A pack with fitted parameters; wherever a Pack is taken, this may be given.

    rated : the pack as the user described it; `capacity_ah` and `resistance_ohm` are the fitted values at
    half charge
    mean : (parameters,) of `pack_prior`
    covariance : (parameters, parameters)
    usable : usable capacity (of the slowest full discharge seen; before that, down to an open-circuit
        voltage at the cut-off) over the model's own capacity
    slowest_c : mean rate [1/h] of that discharge; infinite where none was seen
    logs : how many logs went in
    last_day : of the last log, None where it was not dated
    warming : what the logs that measured the pack's temperature showed of how it warms
    """

    rated: Pack = field(kw_only=True)
    mean: Array = field(kw_only=True)
    covariance: Array = field(kw_only=True)
    usable: float = field(default=1.0, kw_only=True)
    slowest_c: float = field(default=float("inf"), kw_only=True)
    logs: int = field(default=0, kw_only=True)
    last_day: date | None = field(default=None, kw_only=True)
    warming: Warming = field(default=USUAL, kw_only=True)

    def __post_init__(self) -> None:
        """Fitted values are taken as they are: what can be nonsense was refused in the rated pack."""

    @property
    def capacity_std_ah(self) -> float:
        """Standard uncertainty [Ah] of the capacity."""
        return float(self.capacity_ah * np.sqrt(self.covariance[prior.CAPACITY, prior.CAPACITY]))

    def as_plain(self) -> dict[str, Any]:
        """Numbers, words and lists only, for JSON."""
        return {
            "rated": asdict(self.rated),
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "usable": self.usable,
            "slowest_c": self.slowest_c if np.isfinite(self.slowest_c) else None,
            "logs": self.logs,
            "last_day": self.last_day.isoformat() if self.last_day else None,
            "warming": [*self.warming.mean, *self.warming.covariance],
        }

    @staticmethod
    def from_plain(plain: dict[str, Any]) -> FittedPack:
        """The inverse of `as_plain`."""
        slowest = plain["slowest_c"]
        return assemble(
            Pack(**plain["rated"]),
            np.array(plain["mean"], float),
            np.array(plain["covariance"], float),
            usable=float(plain["usable"]),
            slowest_c=float("inf") if slowest is None else float(slowest),
            logs=int(plain["logs"]),
            last_day=date.fromisoformat(plain["last_day"]) if plain["last_day"] else None,
            warming=Warming(tuple(plain["warming"][:2]), tuple(plain["warming"][2:])),
        )


def assemble(
    rated: Pack,
    mean: Array,
    covariance: Array,
    *,
    usable: float,
    slowest_c: float,
    logs: int,
    last_day: date | None = None,
    warming: Warming = USUAL,
) -> FittedPack:
    """A FittedPack whose plain fields show the fitted capacity and resistance."""
    values = {f.name: getattr(rated, f.name) for f in fields(Pack)}
    values["capacity_ah"] = float(rated.capacity_ah * np.exp(mean[prior.CAPACITY]) * usable)
    half = [np.interp(0.5, prior.RESISTANCE_AT, mean[part]) for part in (prior.OHMIC, prior.QUICK)]
    values["resistance_ohm"] = float(np.exp(half).sum())
    return FittedPack(
        **values,
        rated=rated,
        mean=mean,
        covariance=covariance,
        usable=usable,
        slowest_c=slowest_c,
        logs=logs,
        last_day=last_day,
        warming=warming,
    )


def as_fitted(pack: Pack) -> FittedPack:
    """The pack itself if it is fitted, else the prior of its chemistry and rated values.

    >>> as_fitted(Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)).capacity_std_ah > 0.5
    True
    """
    if isinstance(pack, FittedPack):
        return pack
    check_kind("pack", pack, Pack)
    mean = prior.prior_mean(pack)
    cell_v = grid_open_circuit_v(pack.chemistry) + prior.curve_basis() @ mean[prior.CURVE]
    left = float(np.clip(np.interp(pack.cut_off_v / pack.series, cell_v, GRID), 0.0, MOST_LEFT))
    mean[prior.CAPACITY] = -np.log(1.0 - left)  # what is rated is what can be used
    return assemble(
        pack, mean, prior.prior_covariance(pack), usable=1.0 - left, slowest_c=float("inf"), logs=0
    )


def open_circuit_table(fitted: FittedPack, mean: Array | None = None) -> Array:
    """(grid,) open-circuit voltage [V] of one cell over the model's charge grid."""
    p = fitted.mean if mean is None else mean
    return np.asarray(grid_open_circuit_v(fitted.chemistry) + prior.curve_basis() @ p[prior.CURVE])


def resistance_table(fitted: FittedPack, mean: Array | None = None) -> tuple[Array, Array]:
    """(grid,) twice: ohmic and quick resistance [ohm, pack, 25 °C] over the model's charge grid."""
    p = fitted.mean if mean is None else mean
    basis = prior.resistance_basis()
    return np.exp(basis @ p[prior.OHMIC]), np.exp(basis @ p[prior.QUICK])
