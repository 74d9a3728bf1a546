"""The pack model along a log: terminal voltage at every reading, and how it changes with the parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.arrays import Array
from estimator.fitting.pack import prior
from estimator.fitting.pack.circuit import (
    QUICK_S,
    SLOW,
    TRANSFER_V_PER_K,
    pair_voltage,
    peukert_lag,
    transfer_voltage,
)
from estimator.fitting.pack.fitted_pack import FittedPack, open_circuit_table
from estimator.fitting.pack.log_grid import Trace
from estimator.fitting.pack.open_circuit import GRID_STEP, at_charge, family_modes_v, places

# places in a log's parameters, after those of the pack
START, ZERO_A, ZERO_V = prior.N_PARAMETERS, prior.N_PARAMETERS + 1, prior.N_PARAMETERS + 2
N_JOINT = prior.N_PARAMETERS + 3  # the pack's parameters, and three of the log
SLOPE, MODEL_ERROR_V = 0.002, 0.006
"""What an equivalent circuit leaves unexplained, per cell: charge, which counts by the curve's slope, and
voltage [V] (common practice: 5 to 20 mV)."""


@dataclass(frozen=True, eq=False)
class OhmicPart:
    """The ohmic part at some readings, split into what stays linear and the charge transfer.

    linear_v, transfer_v : (n,) their voltages [V]
    transfer_slope_v : (n,) how the charge transfer's voltage [V] changes with the logarithm of its resistance
    share : share of the charge transfer in the ohmic part at 25 °C and small currents
    small_ohm : (n,) differential resistance [ohm]
    """

    linear_v: Array
    transfer_v: Array
    transfer_slope_v: Array
    share: float
    small_ohm: Array

    @property
    def sag_v(self) -> Array:
        """(n,) the voltage [V] of both together."""
        return np.asarray(self.linear_v + self.transfer_v)

    @property
    def slope_v(self) -> Array:
        """(n,) how the sag [V] changes with the logarithm of the resistance."""
        return np.asarray(self.linear_v + self.transfer_slope_v)


def ohmic_part(
    parameters: Array, series: int, ohm: Array, temperature_c: Array, current_a: Array
) -> OhmicPart:
    """The ohmic part with (n,) `ohm` [ohm of the pack, 25 °C] under (n,) currents [A]."""
    share = float(1.0 / (1.0 + np.exp(-parameters[prior.TRANSFER])))
    linear = (1.0 - share) * ohm * prior.arrhenius(temperature_c, parameters[prior.ACTIVATION_OHM])
    transfer = share * ohm * prior.arrhenius(temperature_c, parameters[prior.ACTIVATION_TRANSFER])
    scale_v = series * TRANSFER_V_PER_K * (temperature_c + 273.15)
    x = transfer * current_a / scale_v
    steep = 1.0 / np.sqrt(1.0 + x * x)
    return OhmicPart(
        linear_v=linear * current_a,
        transfer_v=transfer_voltage(transfer * current_a, scale_v),
        transfer_slope_v=scale_v * x * steep,
        share=share,
        small_ohm=linear + transfer * steep,
    )


@dataclass(frozen=True, eq=False)
class Modelled:
    """The model along a log.

    voltage, emf_v : (n,) terminal and open-circuit voltage [V]
    charge, surface : (n,) mean and surface charge
    part : the ohmic part
    rates_c, lag_parts : (4, n) low-passed rates [1/h], and what each adds to the lag
    quick_parts : (7, m) voltage [V] of the quick pair on the trace's grid, by the node of its resistance
    slow_v : (n,) voltage [V] of the slow pair
    state : (5,) the quick pair [V] and four low-passed rates [1/h] at the end
    """

    voltage: Array
    emf_v: Array
    charge: Array
    surface: Array
    part: OhmicPart
    rates_c: Array
    lag_parts: Array
    quick_parts: Array
    slow_v: Array
    state: Array


def charge_along(joint: Array, fitted: FittedPack, drawn_ah: Array, drawn_h: Array) -> Array:
    """The model's own charge after `drawn_ah` [Ah], as the clamp read it, in `drawn_h` [h]."""
    capacity = fitted.own_ah_at(joint)
    return np.asarray(joint[START] - (drawn_ah - joint[ZERO_A] * drawn_h) / capacity)


def lead_acid_lag(parameters: Array, temperature_c: Array, rates_c: Array) -> Array:
    """(n,) how far the surface charge of a lead-acid cell lies below its mean charge, by Peukert's law."""
    parts = np.exp(parameters[prior.LAG])
    rate = parts @ rates_c / parts.sum() * prior.arrhenius(temperature_c, parameters[prior.ACTIVATION_LAG])
    return peukert_lag(rate, 1.0 + np.exp(parameters[prior.PEUKERT]))


def lag_parts(
    parameters: Array, lead_acid: bool, charge: Array, temperature_c: Array, rates_c: Array
) -> Array:
    """(4, n) how far the surface charge lies below the mean charge, by (4, n) low-passed rates [1/h]."""
    if lead_acid:
        return lead_acid_lag(parameters, temperature_c, rates_c)[None, :]
    factor = prior.arrhenius(temperature_c, parameters[prior.ACTIVATION_LAG])
    shape = at_charge(np.exp(prior.lag_basis() @ parameters[prior.LAG_SHAPE]), charge)
    return np.asarray(np.exp(parameters[prior.LAG])[:, None] * rates_c * (shape * factor / 3600.0))


def model(joint: Array, fitted: FittedPack, trace: Trace) -> Modelled:
    """The model along a trace for one joint parameter vector."""
    capacity = fitted.own_ah_at(joint)
    grid_true_a = trace.grid_current_a - joint[ZERO_A]
    rates = (trace.rates_a - joint[ZERO_A] * trace.rates_of_one) / capacity
    charge = charge_along(joint, fitted, trace.drawn_ah, trace.drawn_h)
    lead_acid = fitted.chemistry == "lead_acid"
    lags = lag_parts(joint, lead_acid, charge, trace.temperature_c, rates)
    surface = charge - lags.sum(axis=0)
    ohmic, quick = prior.resistance_table(joint)
    true_a = trace.current_a - joint[ZERO_A]
    part = ohmic_part(joint, fitted.series, at_charge(ohmic, surface), trace.temperature_c, true_a)
    grid_surface = np.interp(trace.grid_s, trace.time_s, surface)
    grid_factor = prior.arrhenius(trace.grid_temperature_c, joint[prior.ACTIVATION_OHM])
    drive = at_charge(quick, grid_surface) * grid_factor * grid_true_a
    parts = pair_voltage(at_charge(prior.resistance_basis(), grid_surface).T * drive, trace.step_s, QUICK_S)
    quick_v = np.interp(trace.time_s, trace.grid_s, parts.sum(axis=0))
    factor = prior.arrhenius(trace.temperature_c, joint[prior.ACTIVATION_OHM])
    slow_v = np.exp(joint[prior.SLOW]) * at_charge(quick, surface) * factor * rates[SLOW] * capacity
    emf = fitted.series * at_charge(open_circuit_table(fitted, joint), surface)
    return Modelled(
        voltage=emf - part.sag_v - quick_v - slow_v + joint[ZERO_V],
        emf_v=emf,
        charge=charge,
        surface=surface,
        part=part,
        rates_c=rates,
        lag_parts=lags,
        quick_parts=parts,
        slow_v=slow_v,
        state=np.concatenate([[parts[:, -1].sum()], rates[:, -1]]),
    )


def jacobians(joint: Array, fitted: FittedPack, trace: Trace, at: Modelled) -> tuple[Array, Array]:
    """Jacobians (n, joint) of the voltage and (5, joint) of the end state.

    The effect of a moving surface charge on the pairs is left out: it is small, and the search for the
    optimum judges each step by the full model.
    """
    out = np.zeros((len(at.voltage), N_JOINT))
    state = np.zeros((len(at.state), N_JOINT))
    capacity = fitted.own_ah_at(joint)
    factor = prior.arrhenius(trace.temperature_c, joint[prior.ACTIVATION_OHM])
    warmth = 1000.0 / (trace.temperature_c + 273.15) - 1000.0 / prior.STANDARD_K
    ohmic, quick = prior.resistance_table(joint)
    part = at.part
    steps_v = fitted.series * np.diff(open_circuit_table(fitted, joint))
    surface = steps_v[places(at.surface)[0]] / GRID_STEP  # dV/d surface charge
    surface = surface - at_charge(np.gradient(np.log(ohmic), GRID_STEP), at.surface) * part.slope_v
    quick_v = np.interp(trace.time_s, trace.grid_s, at.quick_parts.sum(axis=0))

    out[:, prior.CURVE] = fitted.series * at_charge(prior.curve_basis(), at.surface)
    out[:, prior.FAMILY] = fitted.series * at_charge(family_modes_v(fitted.chemistry), at.surface)
    nodes = at_charge(prior.resistance_basis(), at.surface)
    out[:, prior.OHMIC] = -nodes * part.slope_v[:, None]
    for node, volts in enumerate(at.quick_parts):
        out[:, prior.QUICK.start + node] = -np.interp(trace.time_s, trace.grid_s, volts)
    out[:, prior.QUICK] -= nodes * at.slow_v[:, None]
    out[:, prior.SLOW] = -at.slow_v
    out[:, prior.ACTIVATION_OHM] = -(part.linear_v + quick_v + at.slow_v) * warmth
    out[:, prior.ACTIVATION_TRANSFER] = -part.transfer_slope_v * warmth
    out[:, prior.TRANSFER] = part.share * part.linear_v - (1.0 - part.share) * part.transfer_slope_v
    lags = at.lag_parts
    whole = lags.sum(axis=0)
    if fitted.chemistry == "lead_acid":
        grown = joint.copy()
        grown[prior.PEUKERT] += 1e-3
        factor_lag = lead_acid_lag(grown, trace.temperature_c, at.rates_c) - whole
        out[:, prior.PEUKERT] = -surface * factor_lag / 1e-3
    else:
        out[:, prior.LAG] = -(surface * lags).T
        out[:, prior.LAG_SHAPE] = -at_charge(prior.lag_basis(), at.charge) * (surface * whole)[:, None]
        out[:, prior.ACTIVATION_LAG] = -surface * whole * warmth
    out[:, prior.CAPACITY] = surface * (joint[START] - at.charge + whole)
    out[:, START] = surface
    quick_ohm = at_charge(quick, at.surface) * (1.0 - np.exp(-(trace.time_s - trace.time_s[0]) / QUICK_S))
    unlagged = trace.drawn_h / capacity
    if fitted.chemistry != "lead_acid":
        of_one = trace.rates_of_one / capacity
        unlagged = unlagged + lag_parts(joint, False, at.charge, trace.temperature_c, of_one).sum(axis=0)
    quick_ohm += np.exp(joint[prior.SLOW]) * at_charge(quick, at.surface) * trace.rates_of_one[SLOW]
    out[:, ZERO_A] = surface * unlagged + part.small_ohm + quick_ohm * factor
    out[:, ZERO_V] = 1.0

    state[0, prior.QUICK] = at.quick_parts[:, -1]
    state[0, prior.ACTIVATION_OHM] = at.state[0] * warmth[-1]
    state[1:, prior.CAPACITY] = -at.state[1:]
    state[1:, ZERO_A] = -trace.rates_of_one[:, -1] / capacity
    return out, state


def voltage_under(
    joint: Array, fitted: FittedPack, surface: Array, temperature_c: Array, amps: float
) -> Array:
    """(n,) voltage [V] at surface charges (n,) under a lasting current [A]."""
    ohmic, quick = prior.resistance_table(joint)
    current = np.full(len(surface), amps)
    part = ohmic_part(joint, fitted.series, at_charge(ohmic, surface), temperature_c, current)
    quick_ohm = at_charge(quick, surface) * prior.arrhenius(temperature_c, joint[prior.ACTIVATION_OHM])
    pairs_ohm = quick_ohm * (1.0 + np.exp(joint[prior.SLOW]))
    emf = fitted.series * at_charge(open_circuit_table(fitted, joint), surface)
    return np.asarray(emf - part.sag_v - pairs_ohm * amps)


def reading_variance(joint: Array, fitted: FittedPack, trace: Trace, at: Modelled) -> Array:
    """(n,) variance [V²] of one reading about the model, before allowing for readings that err alike.

    Model error, 3 % of the sag, `SLOPE` of charge on the slope of the open-circuit curve, meter noise.
    """
    slope = np.gradient(open_circuit_table(fitted, joint), GRID_STEP)
    sag = np.abs(at.part.sag_v) + np.abs(at.quick_parts).sum(axis=0).mean()
    return np.asarray(
        (fitted.series * MODEL_ERROR_V) ** 2
        + (0.03 * sag) ** 2
        + (fitted.series * SLOPE * at_charge(slope, at.surface)) ** 2
        + trace.error.voltage_noise_v**2
    )
