"""The cells at work: diffusion, charge transfer, ohms, hysteresis and heat, all packs at once.

Each electrode is one sphere. How far its surface falls behind its mean is linear in the current (Crank 1975,
The Mathematics of Diffusion, eq. 6.45): with u the current over the electrode's capacity [1/s] and tau =
radius²/diffusivity, a step gives u tau/3 (1/5 − Σ 2/λ² exp(−λ² t/tau)), tan λ = λ. The first modes follow
exactly, the rest of the sum at once. Charge transfer is 2RT/F asinh(I/2i0).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from balanced_cells import Cells
from half_cells import GRID, Array
from scipy.optimize import brentq

MODES = 10
EIGEN = np.array(
    [brentq(lambda x: np.sin(x) - x * np.cos(x), k * np.pi, (k + 0.5) * np.pi) for k in range(1, MODES + 1)]
)
"""Roots of tan λ = λ."""
GAIN = 2 / EIGEN**2
AT_ONCE = 0.2 - GAIN.sum()
GAS_V = 8.314462618 / 96485.33212
COLD_K = 273.15
_RATES_EVERY = 20  # steps after which rates are worked out again: temperature changes slowly
_GRID_STEP = GRID[1] - GRID[0]


@dataclass
class State:
    """What a pack carries from one second to the next.

    drawn_ah : from full; short : (n, 2, modes) lag of the surfaces; lag_v : of the electrolyte; branch : −1
    on the branch of discharging, +1 on that of charging; temp_c : temperature [°C]
    """

    drawn_ah: Array
    short: Array
    lag_v: Array
    branch: Array
    temp_c: Array

    def copy(self) -> State:
        return State(**{name: value.copy() for name, value in vars(self).items()})


def at_rest(cells: Cells, temp_c: Array | float, drawn_ah: Array | float = 0.0) -> State:
    """Packs that rested after charging, `drawn_ah` [Ah] short of full."""
    n = len(cells)
    full = lambda value: np.full(n, value, dtype=float)  # noqa: E731
    return State(full(drawn_ah), np.zeros((n, 2, MODES)), np.zeros(n), np.ones(n), full(temp_c))


@dataclass
class Run:
    """Current [A], pack volts, temperature [°C] and charge drawn from full [Ah] after each step (n, steps).

    end : the number of steps before the motor stopped, or of all; cut : whether the cut-off stopped it
    """

    current_a: Array
    voltage_v: Array
    temp_c: Array
    drawn_ah: Array
    end: Array
    cut: Array
    state: State


class _Rates:
    """Diffusion, exchange current and ohms at the present temperature."""

    def __init__(self, cells: Cells, state: State, step_s: float) -> None:
        inverse = 1 / (COLD_K + 25) - 1 / (COLD_K + state.temp_c)
        factor = np.exp(cells.activation_k * inverse[:, None])
        y = cells.y_full + state.drawn_ah / cells.q_pos_ah
        slower = 1 + cells.crowding * np.clip((y - 0.8) / 0.2, 0, 1) ** 2
        self.tau = cells.tau_s / factor[:, :1] * np.stack([slower, np.ones_like(slower)], 1)
        self.keep = np.exp(-step_s * EIGEN**2 / self.tau[:, :, None])
        self.i0 = cells.i0_a * factor[:, 1:2]
        self.ohm = cells.ohm / factor[:, 2]
        self.slow_ohm = cells.slow_ohm / factor[:, 2]
        self.slow_keep = np.exp(-step_s / cells.slow_s)
        self.twice_v = 2 * GAS_V * (COLD_K + state.temp_c)


def _looked_up(table: Array, row: Array, sto: Array) -> Array:
    place = np.clip((sto - GRID[0]) / _GRID_STEP, 0, len(GRID) - 1.001)
    left = place.astype(np.intp)
    part = place - left
    return table[row, left] * (1 - part) + table[row, left + 1] * part


def discharge(
    cells: Cells,
    state: State,
    power_w: Array,
    air_c: Array,
    *,
    step_s: float = 1.0,
    cut_off_v: Array | None = None,
    hold_s: Array | float = 1.0,
    wind: Array | float = 1.0,
    limit_a: Array | float = np.inf,
    droop: Array | float = 0.0,
    as_current: bool = False,
    stop_at: Array | None = None,
) -> Run:
    """Run packs on `power_w` (n, steps) [W] (amps with `as_current`) from `state`, which is changed.

    The motor stops where volts stay under `cut_off_v` for `hold_s`, or at step `stop_at`, and draws nothing
    from then on. Power falls with the volts to the power of `droop`; the controller gives at most `limit_a`.
    """
    n, steps = power_w.shape
    row = np.arange(n)
    out = {
        name: np.empty((steps, n), dtype=np.float32)
        for name in ("current_a", "voltage_v", "temp_c", "drawn_ah")
    }
    end, cut = np.full(n, steps), np.zeros(n, bool)
    under_s, running = np.zeros(n), np.ones(n, bool)
    hours = step_s / 3600
    series, power = cells.series, np.ascontiguousarray(power_w.T)
    rated_v = cells.equilibrium_v(0.5 * cells.q_neg_ah[:, None] * cells.x_full[:, None])[:, 0]
    cell_v = cells.equilibrium_v(state.drawn_ah[:, None])[:, 0]
    cooled = -np.expm1(-step_s * cells.loss_w_k * wind / cells.heat_j_k)
    crossing = 1 / (3600 * np.stack([cells.q_pos_ah, cells.q_neg_ah], 1))
    limit = np.minimum(limit_a, 1e9)
    current = np.zeros(n)
    for k in range(steps):
        if k % _RATES_EVERY == 0:
            rates = _Rates(cells, state, step_s)
        short = state.short.sum(2) + AT_ONCE * current[:, None] * crossing * rates.tau / 3
        mean_y = cells.y_full + state.drawn_ah / cells.q_pos_ah
        mean_x = cells.x_full - state.drawn_ah / cells.q_neg_ah
        y, x = mean_y + short[:, 0], mean_x - short[:, 1]
        settled = (
            _looked_up(cells.up, row, y) - _looked_up(cells.un, row, x) + state.branch * cells.hysteresis_v
        )
        inner = settled - state.lag_v
        y, x = np.clip(y, 0.01, 0.99), np.clip(x, 0.01, 0.99)
        exchange = 4 * rates.i0 * np.sqrt(np.stack([y * (1 - y), x * (1 - x)], 1))  # 2 i0 at half filling
        if stop_at is not None:
            stopped = running & (k >= stop_at)
            end[stopped], running = k, running & ~stopped
        if as_current:
            current = np.where(running, power[k], 0.0)
            loss = np.arcsinh(current[:, None] / exchange).sum(1) * rates.twice_v + current * rates.ohm
            cell_v = inner - loss
        else:
            asked = np.where(running, power[k], 0.0) / series
            asked = asked * (np.clip(cell_v / rated_v, 0.5, 1.3)) ** droop
            for _ in range(3):
                current = np.minimum(asked / np.maximum(cell_v, 0.5), limit)
                loss = np.arcsinh(current[:, None] / exchange).sum(1) * rates.twice_v + current * rates.ohm
                cell_v = np.maximum(inner - loss, 0.3)
        state.drawn_ah += current * hours
        driven = GAIN * (crossing * rates.tau / 3 * current[:, None])[:, :, None]
        state.short = rates.keep * state.short + (1 - rates.keep) * driven
        state.lag_v = rates.slow_keep * state.lag_v + (1 - rates.slow_keep) * current * rates.slow_ohm
        state.branch = -1 + (state.branch + 1) * np.exp(-current * hours / cells.hysteresis_ah)
        mean_v = _looked_up(cells.up, row, mean_y) - _looked_up(cells.un, row, mean_x)
        made_w = current * (mean_v - cell_v) * series  # heat: stored energy lost, less what the motor gets
        state.temp_c += (1 - cooled / 2) * step_s * made_w / cells.heat_j_k - cooled * (state.temp_c - air_c)
        out["current_a"][k], out["voltage_v"][k] = current, cell_v * series
        out["temp_c"][k], out["drawn_ah"][k] = state.temp_c, state.drawn_ah
        if cut_off_v is not None:
            under_s = np.where(cell_v * series < cut_off_v, under_s + step_s, 0.0)
            tripped = running & (under_s > hold_s)
            if tripped.any():
                end[tripped], cut[tripped] = k + 1, True
                running &= ~tripped
        if stop_at is None and not running.any():
            out = {name: values[: k + 1] for name, values in out.items()}
            break
    return Run(
        **{name: np.ascontiguousarray(values.T) for name, values in out.items()},
        end=end,
        cut=cut,
        state=state,
    )


def slow_capacity_ah(cells: Cells, cut_off_v: Array, hours: float = 20.0) -> Array:
    """What packs give in about 20 h at 25 °C from full down to the cut-off [Ah]: their true capacity."""
    trial = cells.q_neg_ah * cells.x_full
    amps = np.repeat(trial[:, None] / hours, 2 * 1400, 1)
    run = discharge(
        cells,
        at_rest(cells, 25.0),
        amps,
        np.full(len(cells), 25.0),
        step_s=hours / 20 * 36.0,
        cut_off_v=cut_off_v,
        hold_s=0.0,
        as_current=True,
        wind=50.0,
    )
    return run.drawn_ah[np.arange(len(cells)), np.minimum(run.end, run.drawn_ah.shape[1]) - 1].astype(float)
