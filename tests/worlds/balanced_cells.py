"""How two electrodes make one cell: balance, ageing, and the cells of many packs as arrays.

Charge is of the whole pack [Ah], volts are of one of its cells in series, ohms are of one group of cells in
parallel, so that nothing needs to know how many cells a group has.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from half_cells import GRID, Array, draw_curves

FULL_V = {"nmc": (4.15, 4.20), "lfp": (3.45, 3.60)}
"""Range of open-circuit volts of a cell that a charger left full."""


@dataclass(frozen=True)
class Cells:
    """Packs side by side: every array is (n, …), with one row for each pack.

    up, un : (n, grid) half-cell potentials [V] of positive and negative
    q_pos_ah, q_neg_ah, y_full, x_full : electrode capacities [Ah] and stoichiometries of a full pack
    tau_s : (n, 2) radius² over diffusivity [s] of positive and negative at 25 °C
    crowding : how much slower the positive electrode gets as it fills
    i0_a : (n, 2) exchange current [A] at half filling and 25 °C
    ohm, slow_ohm, slow_s : ohmic resistance and that of the electrolyte's lag [ohm, s] at 25 °C
    activation_k : (n, 3) activation over gas constant [K] of diffusion, exchange current and ohms
    hysteresis_v, hysteresis_ah : half the gap between the branches [V], and the charge to cross it [Ah]
    heat_j_k, loss_w_k : heat capacity [J/K] of the pack and its loss to still air [W/K]
    series : cells in series
    """

    up: Array
    un: Array
    q_pos_ah: Array
    q_neg_ah: Array
    y_full: Array
    x_full: Array
    tau_s: Array
    crowding: Array
    i0_a: Array
    ohm: Array
    slow_ohm: Array
    slow_s: Array
    activation_k: Array
    hysteresis_v: Array
    hysteresis_ah: Array
    heat_j_k: Array
    loss_w_k: Array
    series: Array

    def __len__(self) -> int:
        return len(self.ohm)

    def rows(self, which: object) -> Cells:
        """Some of the packs, or one of them many times."""
        return Cells(**{f.name: np.atleast_1d(getattr(self, f.name)[which]) for f in fields(self)})

    def scaled(self, factor: Array) -> Cells:
        """The same cells, `factor` times as many in parallel."""
        wide = factor[:, None]
        return replace(
            self,
            q_pos_ah=self.q_pos_ah * factor,
            q_neg_ah=self.q_neg_ah * factor,
            i0_a=self.i0_a * wide,
            ohm=self.ohm / factor,
            slow_ohm=self.slow_ohm / factor,
            hysteresis_ah=self.hysteresis_ah * factor,
            heat_j_k=self.heat_j_k * factor,
            loss_w_k=self.loss_w_k * factor ** (2 / 3),
        )

    def equilibrium_v(self, drawn_ah: Array) -> Array:
        """Open-circuit volts of a cell (n, m) without hysteresis after `drawn_ah` (n, m) from full."""
        y = self.y_full[:, None] + drawn_ah / self.q_pos_ah[:, None]
        x = self.x_full[:, None] - drawn_ah / self.q_neg_ah[:, None]
        return np.stack(
            [
                np.interp(a, GRID, u) - np.interp(b, GRID, v)
                for a, u, b, v in zip(y, self.up, x, self.un, strict=True)
            ]
        )


def joined(packs: list[Cells]) -> Cells:
    """Packs of several seasons side by side."""
    return Cells(**{f.name: np.concatenate([getattr(p, f.name) for p in packs]) for f in fields(Cells)})


def balance(
    up: Array, un: Array, full_v: float, cut_v: float, x_full: float, x_empty: float
) -> tuple[float, float]:
    """Stoichiometries of the positive, full and empty, for a negative with `x_full` and `x_empty`."""
    y_full, y_empty = (
        float(np.interp(-(volts + np.interp(x, GRID, un)), -up, GRID))
        for volts, x in ((full_v, x_full), (cut_v, x_empty))
    )
    return y_full, y_empty


def aged(
    up: Array, un: Array, volts: tuple[float, float], amounts: tuple[float, float, float]
) -> tuple[float, float, float]:
    """How much electrodes with `amounts` of positive, negative and lithium [Ah] hold between two `volts`.

    Returns capacity [Ah] and the stoichiometries of positive and negative when full.
    """
    q_pos, q_neg, lithium = amounts
    x = GRID[np.abs((lithium - GRID * q_neg) / q_pos - 0.5) <= 0.52]
    y = (lithium - x * q_neg) / q_pos
    cell_v = np.interp(y, GRID, up) - np.interp(x, GRID, un)  # rises with x
    full, empty = (float(np.interp(v, cell_v, x)) for v in volts)
    return (full - empty) * q_neg, (lithium - full * q_neg) / q_pos, full


@dataclass(frozen=True)
class Make:
    """A new cell of one make: tables, balance, and the volts between which it is used."""

    up: Array
    un: Array
    name: str
    chemistry: str
    full_v: float
    cut_v: float
    y_full: float
    y_empty: float
    x_full: float
    x_empty: float


def draw_make(rng: np.random.Generator, chemistry: str) -> Make:
    """A make of cell that is in nobody's data sheet."""
    while True:
        up, un, name = draw_curves(rng, chemistry)
        full_v = rng.uniform(*FULL_V[chemistry])
        cut_v = float(rng.choice([2.5, 2.6, 2.8] if chemistry == "lfp" else [2.8, 3.0, 3.0, 3.1, 3.2]))
        x_full, x_empty = rng.uniform(0.78, 0.93), rng.uniform(0.008, 0.05)
        y_full, y_empty = balance(up, un, full_v, cut_v, x_full, x_empty)
        if y_empty - y_full > 0.3:
            return Make(up, un, name, chemistry, full_v, cut_v, y_full, y_empty, x_full, x_empty)


def draw_cells(rng: np.random.Generator, make: Make, capacity_ah: float, series: int, health: float) -> Cells:
    """One pack of `make` that held `capacity_ah` from full to cut-off when new, aged to `health` of it."""
    q_neg = 1 / (make.x_full - make.x_empty)
    q_pos = 1 / (make.y_empty - make.y_full)
    lithium = make.x_full * q_neg + make.y_full * q_pos
    of_lithium, of_positive = rng.uniform(0.6, 0.95), rng.uniform(0.0, 0.6)
    less, more = 0.0, 0.6
    for _ in range(30):
        loss = (less + more) / 2
        lost = (
            1 - of_positive * (1 - of_lithium) * 2 * loss,
            1 - (1 - of_positive) * (1 - of_lithium) * 2 * loss,
        )
        kept = (q_pos * lost[0], q_neg * lost[1], lithium - of_lithium * loss - 0.5 * (1 - of_lithium) * loss)
        held, y_full, x_full = aged(make.up, make.un, (make.full_v, make.cut_v), kept)
        less, more = (loss, more) if held > health else (less, loss)
    lfp = make.chemistry == "lfp"
    per_ah = rng.lognormal(np.log(0.035), 0.35) * (1 + 2.0 * (1 - health) * rng.uniform(0.5, 1.5))
    wh = capacity_ah * series * (3.25 if lfp else 3.65)
    kg = wh / (rng.uniform(85, 120) if lfp else rng.uniform(130, 200))
    one = np.ones(1)
    return Cells(
        up=make.up[None],
        un=make.un[None],
        q_pos_ah=capacity_ah * kept[0] * one,
        q_neg_ah=capacity_ah * kept[1] * one,
        y_full=y_full * one,
        x_full=x_full * one,
        tau_s=np.exp(rng.uniform(np.log([800, 600]), np.log([4000, 2500])))[None],
        crowding=rng.uniform(0, 1.5) * one,
        i0_a=(capacity_ah * np.exp(rng.uniform(np.log(0.4), np.log(2.0), 2)) / (1 + (1 - health)))[None],
        ohm=per_ah / capacity_ah * one,
        slow_ohm=per_ah * rng.uniform(0.2, 0.7) / capacity_ah * one,
        slow_s=rng.uniform(15, 60) * one,
        activation_k=np.array([[rng.uniform(2500, 4500), rng.uniform(4500, 7500), rng.uniform(1200, 2500)]]),
        hysteresis_v=(rng.uniform(0.006, 0.018) if lfp else rng.uniform(0, 0.004)) * one,
        hysteresis_ah=capacity_ah * rng.uniform(0.02, 0.08) * one,
        heat_j_k=kg * rng.uniform(900, 1200) * one,
        loss_w_k=kg ** (2 / 3) * rng.uniform(0.2, 0.6) * one,
        series=np.full(1, float(series)),
    )
