"""Draws of a pack's parameters: its curves and its present state, one row for each draw."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from estimator.amounts import check_amount
from estimator.arrays import Array, Single
from estimator.descriptions import Pack
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import LAG_S, TRANSFER_V_PER_K
from estimator.fitting.pack.fitted_pack import CURVE_AND_FAMILY, FittedPack, as_fitted, curve_slopes
from estimator.fitting.pack.log_grid import ASSUMED_C
from estimator.fitting.pack.log_model import START, ZERO_A
from estimator.fitting.pack.log_share import unfitted_gain
from estimator.fitting.pack.open_circuit import GRID, grid_open_circuit_v
from estimator.fitting.warmth import Warmth, fit_warmth

if TYPE_CHECKING:
    from estimator.fitting.pack.joint_fit import LogFit

END_ERROR_V, END_ERROR_OHM, END_ERROR_LAG, END_ERROR_LAW, END_CHARGE = 0.018, 0.07, 0.30, 0.10, 0.12
"""Errors of the circuit near empty, which no log shows before it is too late: open-circuit voltage [V per
cell], shares of the resistance, of the lag and of Peukert's law; and the charge over which they die away
(common practice: equivalent circuits err most there)."""

LIKELY_GROWTH = 0.85
"""Two standard deviations of the prior of how much the lag grows towards empty [logarithm]. A fit that goes
beyond takes something else for lag, such as salt that runs short at high rates only, so that a gentler load
leaves less: the lag near empty is doubted by as much more."""
MOST_LAG = 2.0
"""No cell's surface lags by more than so much beyond what is usual for its label (logarithm: seven times;
common practice). Where a log may have begun in several ways the doubt of the lag is wide, and the far end of
its logarithm would be hours: one of 35 days would stop early for nothing else."""


@dataclass(frozen=True, eq=False)
class PackDraws:
    """n draws of one pack, ready to be simulated.

    capacity_ah : (n,) usable capacity [Ah]
    tables : (n, grid, 3) open-circuit voltage [V, pack], ohmic and quick resistance [ohm, 25 °C], at the
        usable charges of `open_circuit.GRID`
    lag_h : (4, n) lag [h] of the surface charge at half charge and 25 °C, by time constant
    lag_shape : (n, grid) lag over that at half charge; for lead-acid (n, 1) Peukert's exponent
    activation_kk : (3, n) activation temperatures [1000 K] of resistances, lag and charge transfer
    slow_share : (n,) resistance of the slow pair over that of the quick pair
    transfer_share : (n,) share of the charge transfer in the ohmic part at 25 °C and small currents
    transfer_v_per_k : voltage [V/K, pack] above which the charge transfer resists less and less
    charge : (n,) present usable charge
    quick_v : (n,) present voltage [V] over the quick pair
    rates_c : (4, n) present low-passed rates [1/h]
    temperature_c : (n,) temperature [°C] at which resistances and lag act
    warmth : how the pack warms under load; None keeps its temperature
    clamp_zero_a : (n,) how much [A] too high the meter of the log so far reads
    """

    capacity_ah: Array
    tables: Single
    lag_h: Array
    lag_shape: Single
    activation_kk: Array
    slow_share: Array
    transfer_share: Array
    transfer_v_per_k: float
    charge: Array
    quick_v: Array
    rates_c: Array
    temperature_c: Array
    clamp_zero_a: Array
    lead_acid: bool = False
    warmth: Warmth | None = None

    @property
    def n(self) -> int:
        """Number of draws."""
        return len(self.capacity_ah)

    def first(self, count: int) -> PackDraws:
        """The first `count` draws."""
        return self.taken(np.arange(min(count, self.n)))

    def taken(self, kept: NDArray[np.integer]) -> PackDraws:
        """The draws at these places, each as often as it is named."""
        arrays = {name: each for name, each in vars(self).items() if isinstance(each, np.ndarray)}
        last = ("lag_h", "activation_kk", "rates_c")  # whose draws lie along the last axis
        rows: dict[str, Any] = {
            name: each[:, kept] if name in last else each[kept] for name, each in arrays.items()
        }
        warmth = self.warmth
        if warmth is not None and np.ndim(warmth.kelvin_per_joule):
            warmth = Warmth(
                *(np.asarray(each)[kept] for each in (warmth.around_c, warmth.kelvin_per_joule, warmth.tau_s))
            )
        return replace(self, **rows, warmth=warmth)

    def scaled(self, parallel: float | Array) -> PackDraws:
        """The pack `parallel` times side by side: capacity times that number, resistance divided by it.

        An array (n,) scales each draw by its own number.
        """
        k = np.broadcast_to(np.asarray(parallel, float), (self.n,))
        tables = self.tables.copy()
        tables[:, :, 1:] /= k.astype(np.float32)[:, None, None]
        warmth = self.warmth
        if warmth is not None:
            warmth = replace(warmth, kelvin_per_joule=np.asarray(warmth.kelvin_per_joule / k))
        return replace(
            self, capacity_ah=self.capacity_ah * k, tables=tables, rates_c=self.rates_c / k, warmth=warmth
        )

    def aged(
        self, capacity_fraction: float | Array = 1.0, resistance_factor: float | Array = 1.0
    ) -> PackDraws:
        """The pack with this fraction of its capacity left and its resistances multiplied by this factor."""
        factor = np.broadcast_to(np.asarray(resistance_factor, float), (self.n,))
        tables = self.tables.copy()
        tables[:, :, 1:] *= factor.astype(np.float32)[:, None, None]
        return replace(self, capacity_ah=self.capacity_ah * capacity_fraction, tables=tables)

    def at_temperature(self, temperature_c: float | Array) -> PackDraws:
        """The pack and its surroundings at another temperature [°C]; its resistances follow Arrhenius."""
        there = np.broadcast_to(np.asarray(temperature_c, float), (self.n,)).copy()
        warmth = None if self.warmth is None else replace(self.warmth, around_c=there)
        return replace(self, temperature_c=there, warmth=warmth)

    def starting_at(self, charge: float | Array) -> PackDraws:
        """The pack at rest with this usable charge."""
        start = np.broadcast_to(np.asarray(charge, float), (self.n,)).copy()
        return replace(
            self, charge=start, quick_v=np.zeros_like(self.quick_v), rates_c=np.zeros_like(self.rates_c)
        )


def draw_pack(pack: Pack, n: int, rng: np.random.Generator, start_charge: float | None = None) -> PackDraws:
    """`n` draws of a pack at rest at 25 °C; without logs it is drawn from the wide prior of its chemistry.

    start_charge : usable charge 0..1, None for full

    >>> pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    >>> bool(draw_pack(pack, 100, np.random.default_rng(1)).scaled(2).capacity_ah.mean() > 15)
    True
    """
    check_amount("start_charge", start_charge)
    fitted = as_fitted(pack)
    parameters = draw_parameters(fitted, n, rng)
    start = np.full(n, 1.0 if start_charge is None else float(start_charge))
    around_c = np.full(n, ASSUMED_C)
    drawn = draws_of(fitted, parameters, start, np.zeros((1 + len(LAG_S), n)), around_c, np.zeros(n), rng)
    warmth = fitted.warming.draw(n, around_c, fitted.series, fitted.rated.capacity_ah, rng)
    return replace(drawn, warmth=warmth)


def draw_now(found: LogFit, fitted: FittedPack, n: int, rng: np.random.Generator) -> PackDraws:
    """`n` draws of the pack as it is at the end of a fitted log; `fitted` is the pack after that log."""
    joint = _normal(found.mean, found.covariance, n, rng)
    trace = found.trace
    parameters = joint[:, : prior.N_PARAMETERS]
    used = (trace.drawn_ah[-1] - joint[:, ZERO_A] * trace.drawn_h[-1]) / fitted.own_ah_at(parameters)
    if gain := unfitted_gain(trace):
        used = used * (1.0 + gain * rng.standard_normal(n))
    charge = joint[:, START] - used
    usable_charge = 1.0 - (1.0 - charge) / fitted.usable
    state = found.state[:, None] + found.state_jacobian @ (joint - found.mean).T
    state[1:] /= fitted.usable
    now_c = np.full(n, trace.temperature_c[-1])
    draws = draws_of(fitted, parameters, usable_charge, state, now_c, joint[:, ZERO_A], rng)
    return replace(draws, warmth=fit_warmth(trace, found.heat_w, fitted.series, fitted.capacity_ah))


def draw_parameters(fitted: FittedPack, n: int, rng: np.random.Generator) -> Array:
    """Draws (n, parameters) from the belief about a pack."""
    return _normal(fitted.mean, fitted.covariance, n, rng)


def _normal(mean: Array, covariance: Array, n: int, rng: np.random.Generator) -> Array:
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(mean + rng.standard_normal((n, len(mean))) @ root.T)


def draws_of(
    fitted: FittedPack,
    parameters: Array,
    charge: Array,
    state: Array,
    temperature_c: Array,
    clamp_zero_a: Array,
    rng: np.random.Generator,
) -> PackDraws:
    """The draws of a pack with parameters (n, parameters), at usable charge (n,) and in state (5, n)."""
    n = len(parameters)
    own = 1.0 - fitted.usable * (1.0 - GRID)  # the model's own charge at each usable charge of the grid

    def over(basis: Array) -> Array:
        return np.stack([np.interp(own, GRID, column) for column in basis.T])

    tables = np.empty((n, len(GRID), 3), np.float32)
    curves = over(np.column_stack([grid_open_circuit_v(fitted.chemistry), curve_slopes(fitted)]))
    tables[:, :, 0] = fitted.series * (curves[0] + parameters[:, CURVE_AND_FAMILY] @ curves[1:])
    hats = over(prior.resistance_basis())
    tables[:, :, 1] = np.exp(parameters[:, prior.OHMIC] @ hats)
    tables[:, :, 2] = np.exp(parameters[:, prior.QUICK] @ hats)
    near_empty = np.exp(-np.maximum(GRID, 0.0) / END_CHARGE)
    tables[:, :, 0] += fitted.series * END_ERROR_V * rng.standard_normal((n, 1)) * near_empty
    tables[:, :, 1:] *= np.exp(END_ERROR_OHM * rng.standard_normal((n, 1)) * near_empty)[:, :, None]
    tables[:, 0, 0] = 0.0  # beyond the grid the pack is dead
    if fitted.stops_at:
        tables[:, GRID < 0.0, 0] = 0.0
    lead_acid = fitted.chemistry == "lead_acid"
    if lead_acid:
        shape = 1.0 + np.exp(parameters[:, [prior.PEUKERT]] + END_ERROR_LAW * rng.standard_normal((n, 1)))
    else:
        shape = np.exp(parameters[:, prior.LAG_SHAPE] @ over(prior.lag_basis()))
        beyond = max(float(fitted.mean[prior.LAG_SHAPE.start]) - LIKELY_GROWTH, 0.0)
        shape *= np.exp((END_ERROR_LAG + beyond) * rng.standard_normal((n, 1)) * near_empty)
    most = prior.prior_mean(fitted.rated)[prior.LAG] + MOST_LAG
    return PackDraws(
        capacity_ah=fitted.own_ah_at(parameters) * fitted.usable,
        tables=tables,
        lag_h=np.exp(np.minimum(parameters[:, prior.LAG], most).T) / 3600.0,
        lag_shape=shape.astype(np.float32),
        activation_kk=np.maximum(parameters[:, prior.ACTIVATIONS].T, 0.0),
        slow_share=np.exp(parameters[:, prior.SLOW]),
        transfer_share=1.0 / (1.0 + np.exp(-parameters[:, prior.TRANSFER])),
        transfer_v_per_k=fitted.series * TRANSFER_V_PER_K,
        charge=charge,
        quick_v=state[0],
        rates_c=state[1:],
        temperature_c=temperature_c,
        clamp_zero_a=clamp_zero_a,
        lead_acid=lead_acid,
    )
