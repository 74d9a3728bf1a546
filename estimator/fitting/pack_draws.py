"""Draws of a pack's parameters: the curves and the present state, one row per draw."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from estimator.descriptions import Pack
from estimator.fitting import pack_prior as prior
from estimator.fitting.fitted_pack import FittedPack, as_fitted
from estimator.fitting.log_fit import START, ZERO_A, LogFit
from estimator.fitting.ocv import GRID, grid_open_circuit_v

Array = NDArray[np.float64]
Single = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class PackDraws:
    """n draws of one pack, ready to be simulated.

    capacity_ah : (n,) usable capacity [Ah]
    tables : (n, grid, 4) at the charges of `ocv.GRID` (usable charge): open-circuit voltage [V, pack] and ohmic,
        quick and slow resistance [ohm, 25 °C]
    activation_kk : (n,) activation temperature [1000 K] of the resistances
    charge : (n,) present usable charge
    pairs_v : (2, n) present voltage [V] over the two pairs
    temperature_c : (n,) temperature [°C] at which the resistances act
    """

    capacity_ah: Array
    tables: Single
    activation_kk: Array
    charge: Array
    pairs_v: Array
    temperature_c: Array

    @property
    def n(self) -> int:
        """How many draws."""
        return len(self.capacity_ah)

    def scaled(self, parallel: float | Array) -> PackDraws:
        """The same pack `parallel` times side by side: capacity times that, resistance divided by it.

        Numbers of (n,) scale each draw by its own.
        """
        k = np.broadcast_to(np.asarray(parallel, float), (self.n,))
        tables = self.tables.copy()
        tables[:, :, 1:] /= k.astype(np.float32)[:, None, None]
        return replace(self, capacity_ah=self.capacity_ah * k, tables=tables)

    def aged(
        self, capacity_fraction: float | Array = 1.0, resistance_factor: float | Array = 1.0
    ) -> PackDraws:
        """The same pack with that fraction of its capacity left and its resistances that many times higher."""
        factor = np.broadcast_to(np.asarray(resistance_factor, float), (self.n,))
        tables = self.tables.copy()
        tables[:, :, 1:] *= factor.astype(np.float32)[:, None, None]
        return replace(self, capacity_ah=self.capacity_ah * capacity_fraction, tables=tables)

    def at_temperature(self, temperature_c: float | Array) -> PackDraws:
        """The same pack at another temperature [°C]: its resistances follow Arrhenius."""
        return replace(
            self, temperature_c=np.broadcast_to(np.asarray(temperature_c, float), (self.n,)).copy()
        )

    def starting_at(self, charge: float | Array) -> PackDraws:
        """The same pack at rest with that usable charge."""
        start = np.broadcast_to(np.asarray(charge, float), (self.n,)).copy()
        return replace(self, charge=start, pairs_v=np.zeros_like(self.pairs_v))


def draw_pack(
    pack: Pack,
    n: int,
    rng: np.random.Generator,
    start_charge: float | None = None,
    temperature_c: float | None = None,
) -> PackDraws:
    """`n` draws of a pack at rest; a Pack without logs is drawn from the wide prior of its chemistry.

    start_charge : usable charge 0..1, None for full
    temperature_c : pack temperature [°C], None for 25 °C

    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> draw_pack(pack, 100, np.random.default_rng(1)).scaled(2).capacity_ah.mean() > 15
    True
    """
    fitted = as_fitted(pack)
    parameters = _normal(fitted.mean, fitted.covariance, n, rng)
    start = np.full(n, 1.0 if start_charge is None else float(start_charge))
    warmth = np.full(n, 25.0 if temperature_c is None else float(temperature_c))
    return _from_parameters(fitted, parameters, start, np.zeros((len(prior.PAIR_S), n)), warmth)


def draw_now(found: LogFit, fitted: FittedPack, n: int, rng: np.random.Generator) -> PackDraws:
    """`n` draws of the pack as it stands at the end of a fitted log; `fitted` is that log's posterior."""
    joint = _normal(found.mean, found.covariance, n, rng)
    trace = found.trace
    parameters = joint[:, : prior.N_PARAMETERS]
    own = fitted.rated.capacity_ah * np.exp(parameters[:, prior.CAPACITY])
    charge = joint[:, START] - (trace.drawn_ah[-1] - joint[:, ZERO_A] * trace.drawn_h[-1]) / own
    usable_charge = 1.0 - (1.0 - charge) / fitted.usable
    ohms = np.exp(parameters[:, prior.RESISTANCE].reshape(n, -1, prior.N_AT))[:, 1:]
    pairs = np.einsum("nkj,kj->kn", ohms, found.pairs_per_ohm)
    return _from_parameters(fitted, parameters, usable_charge, pairs, np.full(n, trace.temperature_c[-1]))


def _normal(mean: Array, covariance: Array, n: int, rng: np.random.Generator) -> Array:
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(mean + rng.standard_normal((n, len(mean))) @ root.T)


def _from_parameters(
    fitted: FittedPack, parameters: Array, charge: Array, pairs_v: Array, temperature_c: Array
) -> PackDraws:
    n = len(parameters)
    own = 1.0 - fitted.usable * (1.0 - GRID)  # the model's own charge at each usable charge of the grid

    def over(table: Array) -> Array:
        return np.stack([np.interp(own, GRID, column) for column in np.atleast_2d(table.T)], axis=1)

    tables = np.empty((n, len(GRID), 4), np.float32)
    curve = np.interp(own, GRID, grid_open_circuit_v(fitted.chemistry))
    tables[:, :, 0] = fitted.series * (curve + parameters[:, prior.CURVE] @ over(prior.curve_basis()).T)
    logs = parameters[:, prior.RESISTANCE].reshape(n, 3, prior.N_AT)
    hats = over(prior.resistance_basis())
    for k in range(3):
        tables[:, :, 1 + k] = np.exp(logs[:, k] @ hats.T)
    return PackDraws(
        capacity_ah=fitted.rated.capacity_ah * np.exp(parameters[:, prior.CAPACITY]) * fitted.usable,
        tables=tables,
        activation_kk=np.maximum(parameters[:, prior.ACTIVATION], 0.0),
        charge=charge,
        pairs_v=pairs_v,
        temperature_c=temperature_c,
    )
