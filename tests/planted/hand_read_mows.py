"""Mows of a planted world, as a person with a clamp, a voltmeter and a watch writes them down.

All of it is invented. The pack is drawn from plain ranges, not from the estimator's prior, and its volts come
from a plain step-by-step circuit. The person reads at a few moments, by eye, on meters with errors.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from planted_mows import Truth, plant_power

from estimator.descriptions import Grass, Lawn, Pack
from estimator.fitting.pack.circuit import LAG_S, QUICK_S
from estimator.fitting.pack.fitted_pack import as_fitted
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.importer.log import SpotNotes


def planted_pack(pack: Pack, rng: np.random.Generator) -> PackDraws:
    """One pack with that label: capacity 92 to 102 % of it, sag at the one-hour rate 0.06 to 0.14 V a cell, a
    total lag of 120 to 450 s, resistances that rise in the cold by an activation of 2400 to 3600 K."""
    known = as_fitted(pack)
    one = draw_pack(replace(known, covariance=1e-8 * known.covariance), 1, rng)
    tables = one.tables.copy()
    tables[:, :, 1:] *= rng.uniform(0.06, 0.14) / 0.10
    return replace(
        one,
        capacity_ah=np.array([pack.capacity_ah * rng.uniform(0.92, 1.02)]),
        tables=tables,
        lag_h=one.lag_h * rng.uniform(120, 450) / (3600 * one.lag_h.sum()),
        activation_kk=rng.uniform(2.4, 3.6, one.activation_kk.shape),
    )


def many(pack: PackDraws, n: int) -> PackDraws:
    """The same pack n times, to be simulated on n days."""
    kept = {}
    for field in fields(pack):
        value = getattr(pack, field.name)
        if isinstance(value, np.ndarray):
            kept[field.name] = np.repeat(value, n, axis=0 if value.shape[0] == 1 else -1)
    return replace(pack, **kept)


@dataclass(frozen=True)
class Run:
    """Amps and volts (k,) of a pack under a power, second by second; its charge and its lag at the end."""

    amps: np.ndarray
    volts: np.ndarray
    charge_end: float
    rates_c: np.ndarray


def run(pack: PackDraws, power_w: np.ndarray, charge: float) -> Run:
    """Run a pack step by step at 25 °C: V² - E V + P R = 0 in each second."""
    table, capacity = pack.tables[0], float(pack.capacity_ah[0])
    lag_h, rates, quick_v = pack.lag_h[:, 0], np.zeros(len(LAG_S)), 0.0
    amps, volts = np.empty(len(power_w)), np.empty(len(power_w))
    for k, watts in enumerate(power_w):
        surface = charge - float(lag_h @ rates) * float(np.interp(charge, GRID, pack.lag_shape[0]))
        emf, ohmic, quick = (float(np.interp(surface, GRID, column)) for column in table.T)
        emf -= quick_v
        volts[k] = (emf + np.sqrt(emf**2 - 4 * watts * ohmic)) / 2
        amps[k] = watts / volts[k]
        quick_v += (quick * amps[k] - quick_v) * (1 - np.exp(-1 / QUICK_S))
        rates += (amps[k] / capacity - rates) * (1 - np.exp(-1 / LAG_S))
        charge -= amps[k] / 3600 / capacity
    return Run(amps, volts, charge, rates)


@dataclass(frozen=True)
class NotedMow:
    """What was noted of a mow, and the charge [Ah] that it really used."""

    notes: SpotNotes
    used_ah: float


def noted(
    truth: Truth, lawn: Lawn, grass: Grass, pack: PackDraws, rng: np.random.Generator, load_volts: bool = True
) -> SpotNotes:
    """The notes of one mow."""
    return noted_mow(truth, lawn, grass, pack, rng, load_volts).notes


def noted_mow(
    truth: Truth, lawn: Lawn, grass: Grass, pack: PackDraws, rng: np.random.Generator, load_volts: bool = True
) -> NotedMow:
    """One mow from a nearly full pack, noted by hand; volts under load are read at any moment of cutting."""
    mood = rng.normal(0, np.hypot(truth.day_spread, truth.mow_spread))
    energy = truth.mean_wh(lawn, grass) * float(np.exp(mood))
    pace = truth.pace_m2_min * truth.lawn_pace[lawn.name] * float(np.exp(rng.normal(0, truth.pace_spread)))
    seconds = max(60, round(60 * lawn.area_m2 / pace))
    start = float(rng.uniform(0.96, 1.0))
    seen = run(pack, plant_power(truth, seconds, energy, rng), start)
    clamp_gain, clamp_zero, meter_zero = 1 + rng.normal(0, 0.02), rng.normal(0, 0.05), rng.uniform(-0.2, 0.2)
    cutting = np.flatnonzero(seen.amps > 1.3 * np.quantile(seen.amps, 0.05))
    looks = rng.choice(cutting, 5)
    waited_s = rng.uniform(180, 900)
    behind = float(pack.lag_h[:, 0] @ (seen.rates_c * np.exp(-waited_s / LAG_S)))

    def at_rest(charge: float) -> float:
        return round(float(np.interp(charge, GRID, pack.tables[0, :, 0])) + meter_zero, 1)

    def by_clamp(amps: float) -> float:
        return round(max(amps * clamp_gain + clamp_zero, 0.1), 1)

    notes = SpotNotes(
        idle_a=by_clamp(float(np.quantile(seen.amps, 0.03))),
        typical_a=by_clamp(float(np.median(seen.amps[looks]))),
        highest_a=by_clamp(float(seen.amps.max())),
        load_v=round(float(seen.volts[rng.choice(cutting)]) + meter_zero, 1) if load_volts else None,
        rest_before_v=at_rest(start),
        rest_after_v=at_rest(seen.charge_end - behind),
        minutes=float(max(1, round(seconds / 60 + rng.normal(0, 0.3)))),
    )
    return NotedMow(notes, float(seen.amps.sum() / 3600))
