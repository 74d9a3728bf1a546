"""Lead-acid packs of this world: acid that diffuses into the plates, a line of open-circuit volts, ohms.

The plates are one plane sheet of acid. How far its face falls below the mean is linear in the current (Crank
1975, The Mathematics of Diffusion, section 4.3.5): a step to a use of u [1/s], as a share of all acid, lowers
the face by u tau (1/3 - sum of 2/(k pi)² exp(-(k pi)² t/tau)) below the mean. That alone makes fast
discharges give less; there is no exponent. Stratified acid and gassing are left out.

Figures: open-circuit volts of a cell are specific gravity + 0.845 (common practice), with 1.27..1.31 when
full and 1.08..1.11 when all is used; labels count down to 1.75 V a cell; controllers stop at 1.60..1.75 V,
lower in faster discharges; 60 to 65 % of the 20 h charge in one hour, 30 Wh and 0.9 kJ/K a kilogram (all
common practice); 35 mohm Ah a cell and the activations are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from discharging import COLD_K, GAS_V, Run, discharge, slow_capacity_ah
from half_cells import Array
from owners import CELL_V, Owner, draw_owner, stream

MODES = 8
EIGEN = np.pi * np.arange(1, MODES + 1)
GAIN = 2 / EIGEN**2
AT_ONCE = 1 / 3 - GAIN.sum()
LABEL_V, CUT_VS = 1.75, (1.60, 1.67, 1.75)
"""Volts of a cell down to which the label counts, and at which controllers stop."""
ACID_V = 1.95
"""Volts of a cell under the load of a mow, roughly."""
BEND_V = 0.03  # how much the line bends down when the acid at the plates is nearly gone
LEAST, STEEP_V = 1e-3, 20.0  # least share of acid for which the line holds, and its fall below that


@dataclass(frozen=True)
class AcidCells:
    """Packs side by side (n,): charge of all acid [Ah], open-circuit volts of a cell full and without acid.

    tau_s : thickness² over diffusivity; i0_a : exchange current; ohm : of a full cell at 25 °C; activation_k
    : (n, 2) of diffusion and ohms; all else as in the other cells of this world
    """

    acid_ah: Array
    full_v: Array
    empty_v: Array
    tau_s: Array
    i0_a: Array
    ohm: Array
    activation_k: Array
    heat_j_k: Array
    loss_w_k: Array
    series: Array

    def __len__(self) -> int:
        return len(self.ohm)

    def rows(self, which: object) -> AcidCells:
        """Some of the packs, or one of them many times."""
        return AcidCells(**{f.name: np.atleast_1d(getattr(self, f.name)[which]) for f in fields(self)})

    def scaled(self, factor: Array) -> AcidCells:
        """The same cells, `factor` times as large."""
        return replace(
            self,
            acid_ah=self.acid_ah * factor,
            i0_a=self.i0_a * factor,
            ohm=self.ohm / factor,
            heat_j_k=self.heat_j_k * factor,
            loss_w_k=self.loss_w_k * factor ** (2 / 3),
        )

    def volts_of(self, acid: Array) -> Array:
        """Open-circuit volts of a cell by the acid at the plates (n,), 0..1."""
        left = np.maximum(acid, LEAST)
        line = self.empty_v + (self.full_v - self.empty_v) * acid
        return line + BEND_V * np.log(left) - STEEP_V * (left - acid)


@dataclass
class AcidState:
    """Charge drawn from full [Ah], the lag of the face by mode (n, modes), temperature [°C]."""

    drawn_ah: Array
    short: Array
    temp_c: Array

    def copy(self) -> AcidState:
        return AcidState(**{name: value.copy() for name, value in vars(self).items()})


def acid_at_rest(cells: AcidCells, temp_c: Array | float, drawn_ah: Array | float = 0.0) -> AcidState:
    """Rested packs, `drawn_ah` [Ah] short of full."""
    n = len(cells)
    return AcidState(np.zeros(n) + drawn_ah, np.zeros((n, MODES)), np.zeros(n) + temp_c)


def discharge_acid(
    cells: AcidCells,
    state: AcidState,
    power_w: Array,
    air_c: Array,
    *,
    step_s: float = 1.0,
    cut_off_v: Array | None = None,
    hold_s: Array | float = 1.0,
    wind: Array | float = 1.0,
    droop: Array | float = 0.0,
    as_current: bool = False,
    stop_at: Array | None = None,
) -> Run:
    """Run lead-acid packs in the way `discharging.discharge` runs the others; `state` is changed."""
    n, steps = power_w.shape
    names = ("current_a", "voltage_v", "temp_c", "drawn_ah")
    out = {name: np.empty((steps, n), dtype=np.float32) for name in names}
    end, cut = np.full(n, steps), np.zeros(n, bool)
    under_s, running, current = np.zeros(n), np.ones(n, bool), np.zeros(n)
    power = np.ascontiguousarray(power_w.T)
    rated_v = cells.volts_of(np.full(n, 0.5))
    cell_v = cells.volts_of(1 - state.drawn_ah / cells.acid_ah)
    cooled = -np.expm1(-step_s * cells.loss_w_k * wind / cells.heat_j_k)
    for k in range(steps):
        if k % 20 == 0:
            inverse = 1 / (COLD_K + 25) - 1 / (COLD_K + state.temp_c)
            factor = np.exp(cells.activation_k * inverse[:, None])
            tau = cells.tau_s / factor[:, 0]
            keep = np.exp(-step_s * EIGEN**2 / tau[:, None])
            fall = tau / (3600 * cells.acid_ah)  # of the acid at the face, per ampere
            thermal_v = 2 * GAS_V * (COLD_K + state.temp_c)
        mean = 1 - state.drawn_ah / cells.acid_ah
        lasting = mean - state.short.sum(1)
        inner = cells.volts_of(lasting - AT_ONCE * fall * current)
        ohm = cells.ohm / factor[:, 1] * (1 + (1 - np.clip(lasting, 0, 1)) ** 2)
        if stop_at is not None:
            stopped = running & (k >= stop_at)
            end[stopped], running = k, running & ~stopped
        asked = np.where(running, power[k], 0.0)
        if as_current:
            current = asked
            cell_v = inner - thermal_v * np.arcsinh(current / cells.i0_a / 2) - current * ohm
        else:
            asked = asked / cells.series * np.clip(cell_v / rated_v, 0.5, 1.3) ** droop
            for _ in range(3):
                current = asked / np.maximum(cell_v, 0.5)
                lost = thermal_v * np.arcsinh(current / cells.i0_a / 2) + current * ohm
                cell_v = np.maximum(inner - lost, 0.3)
        state.drawn_ah = state.drawn_ah + current * step_s / 3600
        state.short = keep * state.short + (1 - keep) * GAIN * (fall * current)[:, None]
        made_w = current * (cells.volts_of(mean) - cell_v) * cells.series
        state.temp_c = (
            state.temp_c
            + (1 - cooled / 2) * step_s * made_w / cells.heat_j_k
            - cooled * (state.temp_c - air_c)
        )
        out["current_a"][k], out["voltage_v"][k] = current, cell_v * cells.series
        out["temp_c"][k], out["drawn_ah"][k] = state.temp_c, state.drawn_ah
        if cut_off_v is not None:
            under_s = np.where(cell_v * cells.series < cut_off_v, under_s + step_s, 0.0)
            tripped = running & (under_s > hold_s)
            end[tripped], cut[tripped] = k + 1, True
            running = running & ~tripped
        if stop_at is None and not running.any():
            out = {name: values[: k + 1] for name, values in out.items()}
            break
    whole = {name: np.ascontiguousarray(values.T) for name, values in out.items()}
    return Run(**whole, end=end, cut=cut, state=state)  # type: ignore[arg-type]  # acid has a state of its own


def drain(cells, *given, **settings) -> Run:  # type: ignore[no-untyped-def]
    """Discharge cells of any kind by the function for their kind."""
    return (discharge_acid if isinstance(cells, AcidCells) else discharge)(cells, *given, **settings)


def slow_charge_ah(cells, cut_off_v: Array) -> Array:  # type: ignore[no-untyped-def]
    """What packs of any kind give in about 20 h at 25 °C from full down to the cut-off [Ah]."""
    if not isinstance(cells, AcidCells):
        return slow_capacity_ah(cells, cut_off_v)
    amps = np.repeat(cells.acid_ah[:, None] / 20, 1500, 1)
    run = discharge_acid(
        cells,
        acid_at_rest(cells, 25.0),
        amps,
        np.full(len(cells), 25.0),
        step_s=60.0,
        cut_off_v=cut_off_v,
        hold_s=0.0,
        as_current=True,
        wind=50.0,
    )
    return run.drawn_ah[np.arange(len(cells)), run.end - 1].astype(float)


def draw_acid(rng: np.random.Generator, new_ah: float, series: int, health: float) -> AcidCells:
    """One lead-acid pack that held `new_ah` in 20 h when new, aged to `health` of it."""
    one = np.ones(1)
    wh = new_ah * series * 2.0
    kg = wh / rng.uniform(26, 36)
    older = 1 + 3 * (1 - health) * rng.uniform(0.5, 1.5)
    cells = AcidCells(
        acid_ah=new_ah * one,
        full_v=(0.845 + rng.uniform(1.27, 1.31)) * one,
        empty_v=(0.845 + rng.uniform(1.08, 1.11)) * one,
        tau_s=np.exp(rng.uniform(np.log(2000), np.log(4200))) * one,
        i0_a=new_ah * rng.uniform(0.3, 1.0) * one,
        ohm=rng.lognormal(np.log(0.035), 0.25) * older / new_ah * one,
        activation_k=np.array([[rng.uniform(1200, 2200), rng.uniform(1000, 2000)]]),
        heat_j_k=kg * rng.uniform(800, 1000) * one,
        loss_w_k=kg ** (2 / 3) * rng.uniform(0.2, 0.6) * one,
        series=np.full(1, float(series)),
    )
    held = slow_charge_ah(cells, np.full(1, LABEL_V * series))
    less = new_ah * health / held
    return replace(cells, acid_ah=cells.acid_ah * less)


@dataclass(frozen=True)
class AcidOwner(Owner):
    """An owner of lead-acid blocks."""

    def joules(self, charge_ah: float) -> float:
        return charge_ah * self.series * ACID_V * 3600

    def aged(self, health: float) -> AcidCells:  # type: ignore[override]
        return draw_acid(stream(self.seed, 2), self.new_ah, self.series, health)


def draw_acid_owner(seed: int) -> AcidOwner:
    """A machine, lawns and meters of this world, with as many 12 V blocks as come closest to its volts."""
    like = draw_owner(seed, "lfp")
    series = 6 * max(round(like.series * CELL_V["lfp"] / 12), 2)
    given = {f.name: getattr(like, f.name) for f in fields(like)}
    given |= {"chemistry": "lead-acid", "series": series}
    given["cut_off_v"] = round(float(stream(seed, 41, 9).choice(CUT_VS)) * series, 1)
    given["cells"] = draw_acid(stream(seed, 2), like.new_ah, series, like.health)
    given["crew"] = replace(like.crew, droop=min(like.crew.droop, 0.3))
    return AcidOwner(**given)
