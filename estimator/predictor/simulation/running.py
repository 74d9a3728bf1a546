"""Draws of a pack while they run: one step of the circuit for all of them at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estimator.arrays import Array, Flags, Single
from estimator.fitting.pack.circuit import LAG_S, PEUKERT_BASE_C, QUICK_S, SLOW
from estimator.fitting.pack.open_circuit import GRID, GRID_LOW, GRID_STEP
from estimator.fitting.pack.pack_draws import PackDraws
from estimator.fitting.pack.prior import arrhenius

WARM_EVERY_S = 20.0
"""Resistances follow the pack's temperature in steps of this many seconds."""


@dataclass(frozen=True, eq=False)
class Follow:
    """A load whose power goes as (voltage under `current_a` / `from_v`)^exponent.

    exponent : (n,), 0 for constant power and 1 for constant current; current_a [A] : usual current under load
    from_v [V] : voltage under that current to which the power refers; least_v [V] : the cut-off, below which
    the load falls no further: one that fell with a dying pack's voltage would never bring it to the cut-off
    """

    exponent: Array
    current_a: float
    from_v: float
    least_v: float


class Running:
    """The draws still running, in single precision; a class because its arrays shrink together."""

    _ALONG = (
        *("who", "base", "charge", "temperature", "heat_j", "quick_v", "per_amp_c", "lag_factor"),
        *("ohm_factor", "linear", "linear_share", "transfer", "transfer_share", "scale_v", "exponent"),
        *("exponent_v", "slow_ah", "last_v", "below", "above"),
        *("around_c", "per_joule", "tau_s"),
    )

    def __init__(self, draws: PackDraws, turns: tuple[float, ...], follow: Follow | None) -> None:
        n = draws.n
        single = np.float32
        self.steps_h = [single(step_s / 3600.0) for step_s in turns]
        self.who = np.arange(n)
        self.ohm_factor = arrhenius(draws.temperature_c, draws.activation_kk[0]).astype(single)
        self.lag_factor = arrhenius(draws.temperature_c, draws.activation_kk[1]).astype(single)
        share = draws.transfer_share
        self.linear_share, self.transfer_share = (1 - share).astype(single), share.astype(single)
        self.v_per_k = single(draws.transfer_v_per_k)
        self.activation = draws.activation_kk.astype(single)
        self.warms = draws.warmth is not None
        around_c, per_joule, tau_s = (
            (draws.warmth.around_c, draws.warmth.kelvin_per_joule, draws.warmth.tau_s)
            if draws.warmth is not None
            else (0.0, 0.0, 1.0)
        )
        self.around_c = np.broadcast_to(np.asarray(around_c, single), (n,))
        self.per_joule = np.broadcast_to(np.asarray(per_joule, single), (n,))
        self.tau_s = np.broadcast_to(np.asarray(tau_s, single), (n,))
        self.temperature = draws.temperature_c.astype(single)
        self._split()
        self.turns = turns
        self.heat_j = np.zeros(n, single)
        self.since_s = 0.0
        self.tables = draws.tables.reshape(-1, draws.tables.shape[2])
        parts = draws.lag_h.sum(axis=0)
        self.lag_share = (draws.lag_h / (parts if draws.lead_acid else 1.0)).astype(single)
        self.lag_shape = draws.lag_shape.reshape(-1)
        self.lead_acid = draws.lead_acid
        self.exponent = draws.lag_shape[:, 0]
        self.base = self.who * len(GRID)
        self.charge = draws.charge.astype(single)
        self.quick_v = draws.quick_v.astype(single)
        self.rates_c = draws.rates_c.astype(single)
        self.per_amp_c = (1.0 / draws.capacity_ah).astype(single)
        self.slow_ah = (draws.slow_share * draws.capacity_ah).astype(single)
        self.quick_keep = [single(np.exp(-step_s / QUICK_S)) for step_s in turns]
        self.keep = [np.exp(-step_s / LAG_S).astype(single)[:, None] for step_s in turns]
        self.follow = follow
        self.exponent_v = np.zeros(n, single) if follow is None else follow.exponent.astype(single)
        self.below = np.zeros(n, single)
        self.last_v = np.zeros(n, single)
        self.above = np.zeros(n, single)

    def _place(self, charge: Single) -> tuple[NDArray[np.intp], Single]:
        place = (charge - np.float32(GRID_LOW)) * np.float32(1 / GRID_STEP)
        np.clip(place, 0, len(GRID) - 1.001, out=place)
        low = place.astype(np.intp)
        return low, place - low.astype(np.float32)

    def _lag(self) -> Single:
        rate = np.einsum("kn,kn->n", self.lag_share, self.rates_c)
        if self.lead_acid:
            reach = np.maximum(rate * self.lag_factor / np.float32(PEUKERT_BASE_C), 1)
            return np.asarray(1 - reach ** (1 - self.exponent), np.float32)
        low, _ = self._place(self.charge)  # the lag changes little from one grid charge to the next
        return np.asarray(self.lag_shape[low + self.base] * self.lag_factor * rate, np.float32)

    def _split(self) -> None:
        """The factors that turn the ohmic part at 25 °C into its linear part and the charge transfer."""
        self.linear = self.linear_share * self.ohm_factor
        warm = arrhenius(self.temperature, self.activation[2]).astype(np.float32)
        self.scale_v = self.v_per_k * (self.temperature + np.float32(273.15))
        self.transfer = self.transfer_share * warm / self.scale_v

    def _ohm(self, here: Single, amps: Single | np.float32) -> Single:
        """Voltage over current [ohm] of the ohmic part at a current."""
        size = np.maximum(np.abs(amps), np.float32(1e-3))
        return np.asarray(here * self.linear + self.scale_v * np.arcsinh(self.transfer * here * size) / size)

    def step(self, asked_w: Single, turn: int = 0) -> tuple[Single, Single]:
        low, part = self._place(self.charge - self._lag())
        low += self.base
        under, over = self.tables.take(low, axis=0), self.tables.take(low + 1, axis=0)
        # column by column: a broadcast over rows of three takes ten times as long
        open_v, ohm_25, quick = (under[:, i] + part * (over[:, i] - under[:, i]) for i in range(3))
        quick_ohm = quick * self.ohm_factor
        power_w = asked_w
        if self.follow is not None:
            usual_a = np.float32(self.follow.current_a)
            pairs_ohm = quick_ohm * (1 + self.slow_ah * self.per_amp_c)
            loaded = open_v - usual_a * (self._ohm(ohm_25, usual_a) + pairs_ohm)
            loaded = np.maximum(loaded, np.float32(self.follow.least_v))
            share = (loaded / np.float32(self.follow.from_v)) ** self.exponent_v
            power_w = np.asarray(asked_w * share, np.float32)
        emf = open_v - self.quick_v - quick_ohm * self.slow_ah * self.rates_c[SLOW]
        current = power_w / np.maximum(emf, 1)
        for _ in range(2):
            ohm = self._ohm(ohm_25, current)
            voltage = (emf + np.sqrt(np.maximum(emf * emf - 4 * power_w * ohm, 0))) / 2
            current = (emf - voltage) / ohm
        drive = np.asarray(quick_ohm * current, np.float32)
        self.quick_v = drive + self.quick_keep[turn] * (self.quick_v - drive)
        rate = current * self.per_amp_c
        self.rates_c = rate + self.keep[turn] * (self.rates_c - rate)
        self.charge = self.charge - self.steps_h[turn] * rate
        if self.warms:
            self.heat_j += np.float32(self.turns[turn]) * current * (open_v - voltage)
            self.since_s += self.turns[turn]
            if self.since_s >= WARM_EVERY_S:
                self._warm()
        return voltage, current

    def _warm(self) -> None:
        above = (self.temperature - self.around_c) * np.exp(-np.float32(self.since_s) / self.tau_s)
        self.temperature = self.around_c + above + self.heat_j * self.per_joule
        self.ohm_factor = arrhenius(self.temperature, self.activation[0]).astype(np.float32)
        self.lag_factor = arrhenius(self.temperature, self.activation[1]).astype(np.float32)
        self._split()
        self.heat_j = np.zeros_like(self.heat_j)
        self.since_s = 0.0

    def leave(self, stop: Flags, charge_end: Array) -> None:
        charge_end[self.who[stop]] = self.charge[stop]
        stay = ~stop
        for name in self._ALONG:
            setattr(self, name, getattr(self, name)[stay])
        for name in ("activation", "rates_c", "lag_share"):  # compress keeps rows together in memory
            setattr(self, name, np.compress(stay, getattr(self, name), axis=1))
